//! One layer: a table of features and its spatial index.

use super::super::ExportError;
use super::blob::blob;
use super::schema;
use crate::collection::{Collection, Column, Member};
use crate::feature::{Cell, Kind};
use geo::BoundingRect;
use rusqlite::types::Value;
use rusqlite::{Connection, Statement, params_from_iter};

/// The box around what was written.
type Bounds = [[f64; 2]; 2];

/// A layer that is being written.
pub(super) struct Layer<'conn> {
    conn: &'conn Connection,
    collection: Collection,
    srs: i32,
    columns: Vec<Column>,
    add: Statement<'conn>,
    index: Statement<'conn>,
    count: u64,
    bounds: Option<Bounds>,
}

impl<'conn> Layer<'conn> {
    /// Makes the table and its registration.
    pub(super) fn begin(
        conn: &'conn Connection,
        collection: Collection,
        code: u32,
    ) -> Result<Self, ExportError> {
        let columns = collection.columns();
        let table = collection.id();
        let defined: Vec<String> = columns
            .iter()
            .map(|column| format!("\"{}\" {}", column.name, sql_type(column.kind)))
            .collect();
        let geometry = collection.geometry().to_ascii_uppercase();
        conn.execute_batch(&format!(
            "CREATE TABLE {table} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom {geometry}, id TEXT NOT NULL UNIQUE, {})",
            defined.join(", ")
        ))?;
        let srs = i32::try_from(code).unwrap_or(0);
        schema::register(
            conn,
            table,
            collection.title(),
            collection.about(),
            &geometry,
            srs,
        )?;
        let places = vec!["?"; columns.len() + 3].join(", ");
        Ok(Self {
            add: conn.prepare(&format!("INSERT INTO {table} VALUES ({places})"))?,
            index: conn.prepare(&format!("INSERT INTO rtree_{table}_geom VALUES (?, ?, ?, ?, ?)"))?,
            conn,
            collection,
            srs,
            columns,
            count: 0,
            bounds: None,
        })
    }

    /// Adds a feature.
    pub(super) fn put(&mut self, member: &Member) -> Result<(), ExportError> {
        self.count += 1;
        let fid = self.count as i64;
        let geometry = member.geometry();
        let blob = geometry.as_ref().and_then(|geometry| blob(geometry, self.srs));
        let mut row = vec![
            Value::Integer(fid),
            blob.map_or(Value::Null, Value::Blob),
            Value::Text(member.id()),
        ];
        row.extend((0..self.columns.len()).map(|column| value(member.cell(column))));
        self.add.execute(params_from_iter(row))?;
        if let Some(bounds) = geometry.and_then(|geometry| geometry.bounding_rect()) {
            let (low, high) = (bounds.min(), bounds.max());
            self.index.execute((fid, low.x, high.x, low.y, high.y))?;
            let [lower, upper] = self.bounds.get_or_insert([[low.x, low.y], [high.x, high.y]]);
            *lower = [lower[0].min(low.x), lower[1].min(low.y)];
            *upper = [upper[0].max(high.x), upper[1].max(high.y)];
        }
        Ok(())
    }

    /// How many features there are, and the box around them.
    pub(super) fn end(self) -> Result<(u64, Option<Bounds>), ExportError> {
        // Only now: nothing that this program writes goes through them.
        schema::keep_index(self.conn, self.collection.id())?;
        Ok((self.count, self.bounds))
    }
}

/// The type of a column (OGC 12-128r18, table 1).
fn sql_type(kind: Kind) -> &'static str {
    match kind {
        Kind::Text | Kind::Json => "TEXT",
        Kind::Number => "DOUBLE",
        Kind::Whole => "INTEGER",
        Kind::Day => "DATE",
    }
}

fn value(cell: Cell<'_>) -> Value {
    match cell {
        Cell::Unknown => Value::Null,
        Cell::Text(text) => Value::Text(text.into_owned()),
        Cell::Number(number) => Value::Real(number),
        Cell::Whole(number) => Value::Integer(number),
        Cell::Day(day) => Value::Text(day.to_string()),
        Cell::Json(value) => Value::Text(value.to_string()),
    }
}
