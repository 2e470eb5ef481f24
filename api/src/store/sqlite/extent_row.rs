//! Extents as rows.

use super::column::{self, parsed, required, unreadable};
use super::past::{Kept, first_revision};
use crate::store::kept::Kind;
use rusqlite::{Connection, OptionalExtension, Row, Statement, named_params};
use spatial::model::{Extent, Label};

const ADD: &str = "INSERT INTO extent (surface, label, kind, polygon, surveyed_on, revision, change) \
     VALUES (:surface, :label, :kind, :polygon, :surveyed_on, :revision, :change) ON CONFLICT DO NOTHING";
const REPLACE: &str = "UPDATE extent SET kind = :kind, polygon = :polygon, surveyed_on = :surveyed_on, \
     revision = :revision, change = :change WHERE surface = :surface AND label = :label";
const FIND: &str = "SELECT label, kind, polygon, surveyed_on, revision, change FROM extent \
     WHERE surface = ?1 AND label = ?2";
const OF_SURFACE: &str = "SELECT label, kind, polygon, surveyed_on, revision, change FROM extent \
     WHERE surface = ?1 ORDER BY label";

/// Adds an extent at its first revision; false where the surface has its label already.
pub(super) fn add(conn: &Connection, surface: i64, change: i64, extent: &Extent) -> rusqlite::Result<bool> {
    let first = first_revision(conn, Kind::Extent, surface, extent.label.as_str())?;
    Ok(write(&mut *conn.prepare_cached(ADD)?, surface, change, extent, first)? == 1)
}

/// Puts an extent as another store has it.
pub(super) fn put(conn: &Connection, surface: i64, change: i64, extent: &Extent) -> rusqlite::Result<()> {
    let revision = extent.revision;
    write(&mut *conn.prepare_cached(ADD)?, surface, change, extent, revision)?;
    Ok(())
}

/// Replaces a stored extent, made by change `by`, by its next revision, and keeps the one that stood.
pub(super) fn replace(
    conn: &Connection,
    surface: i64,
    change: i64,
    (stood, by): &(Extent, i64),
    extent: &Extent,
) -> rusqlite::Result<()> {
    Kept::of(surface, stood, *by)?.keep(conn)?;
    write(
        &mut *conn.prepare_cached(REPLACE)?,
        surface,
        change,
        extent,
        stood.revision + 1,
    )?;
    Ok(())
}

fn write(
    to: &mut Statement<'_>,
    surface: i64,
    change: i64,
    extent: &Extent,
    revision: u32,
) -> rusqlite::Result<usize> {
    to.execute(named_params! {
        ":surface": surface,
        ":label": extent.label.as_str(),
        ":kind": extent.kind.name(),
        ":polygon": geojson::Geometry::from(&extent.polygon).to_string(),
        ":surveyed_on": extent.surveyed_on.map(|day| day.to_string()),
        ":revision": revision,
        ":change": change,
    })
}

/// The extent with this label and the change that made its revision.
pub(super) fn find(
    conn: &Connection,
    surface: i64,
    label: &Label,
) -> rusqlite::Result<Option<(Extent, i64)>> {
    conn.prepare_cached(FIND)?
        .query_row((surface, label.as_str()), |row| {
            Ok((read(row)?, row.get("change")?))
        })
        .optional()
}

/// All extents of a surface in the order of labels, each with the change that made its revision.
pub(super) fn of_surface(conn: &Connection, surface: i64) -> rusqlite::Result<Vec<(Extent, i64)>> {
    conn.prepare_cached(OF_SURFACE)?
        .query_map([surface], |row| Ok((read(row)?, row.get("change")?)))?
        .collect()
}

fn read(row: &Row<'_>) -> rusqlite::Result<Extent> {
    let geometry: geojson::Geometry = column::json(row, 2)?.ok_or(rusqlite::Error::InvalidQuery)?;
    Ok(Extent {
        label: required(row, 0)?,
        kind: required(row, 1)?,
        polygon: geometry
            .try_into()
            .map_err(|error: geojson::Error| unreadable(2, error))?,
        surveyed_on: parsed(row, 3)?,
        revision: row.get(4)?,
    })
}
