//! Trackways as rows.

use super::column::{json, required};
use super::failure::unwritable;
use super::past::{Kept, first_revision};
use crate::store::kept::Kind;
use rusqlite::{Connection, OptionalExtension, Row, Statement, named_params};
use spatial::model::{Label, Trackway};

macro_rules! columns {
    () => {
        "label, prints, basis, status, probability, morphotype, note, judged_by, revision"
    };
}

const ADD: &str = concat!(
    "INSERT INTO trackway (",
    columns!(),
    ", surface, change) VALUES (:label, :prints, :basis, :status, :probability, :morphotype, :note, :judged_by, \
     :revision, :surface, :change)"
);
const REPLACE: &str = "UPDATE trackway SET prints = :prints, basis = :basis, status = :status, \
     probability = :probability, morphotype = :morphotype, note = :note, judged_by = :judged_by, \
     revision = :revision, change = :change WHERE surface = :surface AND label = :label";
const FIND: &str = concat!(
    "SELECT ",
    columns!(),
    ", change FROM trackway WHERE surface = ?1 AND label = ?2"
);
const OF_SURFACE: &str = concat!(
    "SELECT ",
    columns!(),
    ", change FROM trackway WHERE surface = ?1 ORDER BY label"
);

/// Adds a trackway at its first revision.
pub(super) fn add(conn: &Connection, surface: i64, change: i64, trackway: &Trackway) -> rusqlite::Result<()> {
    let first = first_revision(conn, Kind::Trackway, surface, trackway.label.as_str())?;
    write(&mut *conn.prepare_cached(ADD)?, surface, change, trackway, first)
}

/// Puts a trackway as another store has it.
pub(super) fn put(conn: &Connection, surface: i64, change: i64, trackway: &Trackway) -> rusqlite::Result<()> {
    let revision = trackway.revision;
    write(
        &mut *conn.prepare_cached(ADD)?,
        surface,
        change,
        trackway,
        revision,
    )
}

/// Replaces a stored trackway, made by change `by`, by its next revision, and keeps the one that stood.
pub(super) fn replace(
    conn: &Connection,
    surface: i64,
    change: i64,
    (stood, by): &(Trackway, i64),
    trackway: &Trackway,
) -> rusqlite::Result<()> {
    Kept::of(surface, stood, *by)?.keep(conn)?;
    write(
        &mut *conn.prepare_cached(REPLACE)?,
        surface,
        change,
        trackway,
        stood.revision + 1,
    )
}

fn write(
    to: &mut Statement<'_>,
    surface: i64,
    change: i64,
    trackway: &Trackway,
    revision: u32,
) -> rusqlite::Result<()> {
    to.execute(named_params! {
        ":label": trackway.label.as_str(),
        ":prints": serde_json::to_string(&trackway.prints).map_err(unwritable)?,
        ":basis": trackway.basis.name(),
        ":status": trackway.status.name(),
        ":probability": trackway.probability,
        ":morphotype": trackway.morphotype,
        ":note": trackway.note,
        ":judged_by": trackway.judged_by,
        ":revision": revision,
        ":surface": surface,
        ":change": change,
    })?;
    Ok(())
}

/// The trackway with this label and the change that made its revision.
pub(super) fn find(
    conn: &Connection,
    surface: i64,
    label: &Label,
) -> rusqlite::Result<Option<(Trackway, i64)>> {
    conn.prepare_cached(FIND)?
        .query_row((surface, label.as_str()), |row| {
            Ok((read(row)?, row.get("change")?))
        })
        .optional()
}

/// All trackways of a surface in the order of labels, each with the change that made its revision.
pub(super) fn of_surface(conn: &Connection, surface: i64) -> rusqlite::Result<Vec<(Trackway, i64)>> {
    conn.prepare_cached(OF_SURFACE)?
        .query_map([surface], |row| Ok((read(row)?, row.get("change")?)))?
        .collect()
}

fn read(row: &Row<'_>) -> rusqlite::Result<Trackway> {
    Ok(Trackway {
        label: required(row, 0)?,
        prints: json(row, 1)?.unwrap_or_default(),
        basis: required(row, 2)?,
        status: required(row, 3)?,
        probability: row.get(4)?,
        morphotype: row.get(5)?,
        note: row.get(6)?,
        judged_by: row.get(7)?,
        revision: row.get(8)?,
    })
}
