//! All revisions of a record.

use super::column::{json, required, unreadable};
use super::past::Kept;
use super::{extent_row, print_row, site_row, surface_row, trackway_row};
use crate::store::kept::Kind;
use crate::store::words::Words;
use crate::store::{RecordId, Revision};
use rusqlite::types::FromSqlError;
use rusqlite::{Connection, Row};
use spatial::model::SurfaceId;

const PAST: &str = "SELECT past.revision, change.author, change.at, change.deed, past.record \
     FROM past JOIN change ON change.id = past.change \
     WHERE past.kind = ?1 AND past.surface = ?2 AND past.label = ?3 ORDER BY past.revision";
const CURRENT: &str = "SELECT ?2, author, at, deed, ?3 FROM change WHERE id = ?1";

/// All revisions, oldest first, the current one last; of a removed record the removal. Empty where there never was such a
/// record.
pub(super) fn of(conn: &Connection, id: &RecordId) -> rusqlite::Result<Vec<Revision>> {
    let current = current(conn, id)?;
    let place = match &current {
        Some(current) => Some((current.kind, current.surface, current.label.clone())),
        None => removed(conn, id)?,
    };
    let Some((kind, surface, label)) = place else {
        return Ok(Vec::new());
    };
    let mut revisions: Vec<Revision> = conn
        .prepare_cached(PAST)?
        .query_map((kind.name(), surface, label), read)?
        .collect::<rusqlite::Result<_>>()?;
    if let Some(current) = current {
        // As text and back, like those of the past: all revisions of a record look alike.
        let newest = (current.change, current.revision, &current.json);
        revisions.push(conn.prepare_cached(CURRENT)?.query_row(newest, read)?);
    }
    Ok(revisions)
}

/// Where the past of a record is that no longer stands.
fn removed(conn: &Connection, id: &RecordId) -> rusqlite::Result<Option<(Kind, i64, String)>> {
    let (Some((kind, label)), Some(surface)) = (id.member(), id.surface()) else {
        return Ok(None);
    };
    let key = surface_row::key(conn, surface)?;
    Ok(key.map(|key| (kind, key, label.to_string())))
}

fn read(row: &Row<'_>) -> rusqlite::Result<Revision> {
    Ok(Revision {
        revision: row.get(0)?,
        author: row.get(1)?,
        at: required(row, 2)?,
        deed: row.get(3)?,
        record: json(row, 4)?.ok_or_else(|| unreadable(4, FromSqlError::InvalidType))?,
    })
}

fn current(conn: &Connection, id: &RecordId) -> rusqlite::Result<Option<Kept>> {
    match id {
        RecordId::Site(slug) => site_row::find(conn, slug)?
            .map(|(site, change)| Kept::of(0, &site, change))
            .transpose(),
        RecordId::Surface(id) => surface_row::find(conn, id)?
            .map(|stored| stored.kept())
            .transpose(),
        RecordId::Extent(id, label) => member(conn, id, |surface| {
            extent_row::find(conn, surface, label)?
                .map(|(extent, change)| Kept::of(surface, &extent, change))
                .transpose()
        }),
        RecordId::Print(id, label) => member(conn, id, |surface| {
            print_row::find(conn, surface, label, &mut Words::default())?
                .map(|(print, change)| Kept::of(surface, &print, change))
                .transpose()
        }),
        RecordId::Trackway(id, label) => member(conn, id, |surface| {
            trackway_row::find(conn, surface, label)?
                .map(|(trackway, change)| Kept::of(surface, &trackway, change))
                .transpose()
        }),
    }
}

/// What `find` finds on the surface with this key; nothing where there is no such surface.
fn member(
    conn: &Connection,
    id: &SurfaceId,
    find: impl FnOnce(i64) -> rusqlite::Result<Option<Kept>>,
) -> rusqlite::Result<Option<Kept>> {
    match surface_row::key(conn, id)? {
        Some(surface) => find(surface),
        None => Ok(None),
    }
}
