//! Extents and trackways: read a surface at a time, written as a set.

use super::failure::Given;
use super::past;
use super::rows::Rows;
use super::surface_row::Key;
use crate::store::kept::Record;
use postgres::{Client, GenericClient, Row};
use spatial::model::Label;
use std::collections::HashMap;
use std::collections::hash_map::Entry;

/// A record that stands on a surface in a table of its own.
pub(super) trait Member: Record {
    /// The table.
    const TABLE: &'static str;
    /// All columns, in the order that `write` writes them.
    const COLUMNS: &'static str;
    /// What `read` reads.
    const READ: &'static str;
    /// The columns that a new revision may change.
    const CHANGED: &'static str;

    /// Adds a row with all columns.
    fn write(&self, rows: &mut Rows, key: Key, revision: u32, change: i64) -> Given<()>;
    /// The record and the change that made its revision.
    fn read(row: &Row) -> Given<(Self, i64)>;
}

/// The record with this label.
pub(super) fn find<M: Member>(
    conn: &mut impl GenericClient,
    key: Key,
    label: &Label,
) -> Given<Option<(M, i64)>> {
    let (columns, table) = (M::READ, M::TABLE);
    let query = format!("SELECT {columns} FROM {table} WHERE site = $1 AND surface = $2 AND label = $3");
    let row = conn.query_opt(&query, &[&key.site, &key.surface, &label.as_str()])?;
    row.map(|row| M::read(&row)).transpose()
}

/// All records of a surface in the order of labels.
pub(super) fn of_surface<M: Member>(conn: &mut impl GenericClient, key: Key) -> Given<Vec<(M, i64)>> {
    let (columns, table) = (M::READ, M::TABLE);
    let query = format!("SELECT {columns} FROM {table} WHERE site = $1 AND surface = $2 ORDER BY label");
    let rows = conn.query(&query, &[&key.site, &key.surface])?;
    rows.iter().map(M::read).collect()
}

/// What one change writes of one kind of record; sent as a whole.
pub(super) struct Writes<'w, M> {
    conn: &'w mut Client,
    change: i64,
    added: Rows,
    replaced: Rows,
    past: Rows,
    /// Of surfaces that something is added to, what was removed from them before.
    removed: HashMap<i32, HashMap<Label, u32>>,
    kind: std::marker::PhantomData<M>,
}

impl<'w, M: Member> Writes<'w, M> {
    pub(super) fn new(conn: &'w mut Client, change: i64) -> Self {
        Self {
            conn,
            change,
            added: Rows::default(),
            replaced: Rows::default(),
            past: Rows::default(),
            removed: HashMap::new(),
            kind: std::marker::PhantomData,
        }
    }

    /// Adds a record at its first revision: 1, or the next after the removal of one that had its label.
    pub(super) fn add(&mut self, key: Key, record: &M) -> Given<()> {
        let removed = match self.removed.entry(key.surface) {
            Entry::Occupied(known) => known.into_mut(),
            Entry::Vacant(unknown) => unknown.insert(past::removed(self.conn, M::KIND, key)?),
        };
        let label: Option<Label> = record.label().parse().ok();
        let last = label.and_then(|label| removed.get(&label).copied());
        record.write(&mut self.added, key, last.map_or(1, |last| last + 1), self.change)
    }

    /// Replaces a stored record by its next revision, and keeps the one that stood.
    pub(super) fn replace(&mut self, key: Key, stood: &(M, i64), next: &M) -> Given<()> {
        past::write(&mut self.past, key, &stood.0, stood.1)?;
        next.write(&mut self.replaced, key, stood.0.revision() + 1, self.change)
    }

    /// Sends all of it.
    pub(super) fn send(mut self) -> Given<()> {
        let (table, columns, changed) = (M::TABLE, M::COLUMNS, M::CHANGED);
        self.added.send(self.conn, table, columns)?;
        past::send(&mut self.past, self.conn)?;
        if self.replaced.count() == 0 {
            return Ok(());
        }
        self.conn.batch_execute(&format!(
            "CREATE TEMP TABLE replaced (LIKE {table}) ON COMMIT DROP"
        ))?;
        self.replaced.send(self.conn, "pg_temp.replaced", columns)?;
        let given = of_alias("given", changed);
        self.conn.batch_execute(&format!(
            "UPDATE {table} AS stood SET ({changed}) = ROW ({given}) FROM pg_temp.replaced AS given \
             WHERE stood.site = given.site AND stood.surface = given.surface AND stood.label = given.label; \
             DROP TABLE pg_temp.replaced"
        ))?;
        Ok(())
    }
}

/// A list of columns, each of the table with this alias.
pub(super) fn of_alias(alias: &str, columns: &str) -> String {
    let named: Vec<String> = columns
        .split(", ")
        .map(|column| format!("{alias}.{column}"))
        .collect();
    named.join(", ")
}
