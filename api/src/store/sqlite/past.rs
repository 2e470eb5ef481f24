//! Changes, and the revisions that are no longer current.

use super::failure::unwritable;
use crate::store::Change;
use crate::store::kept::{Kind, Record};
use rusqlite::Connection;

const ADD_CHANGE: &str = "INSERT INTO change (author, at, deed) VALUES (?1, ?2, ?3)";
const KEEP: &str = "INSERT INTO past (kind, surface, label, revision, change, record) \
     VALUES (?1, ?2, ?3, ?4, ?5, ?6)";

const ANY_REMOVED: &str =
    "SELECT EXISTS (SELECT 1 FROM past WHERE kind = ?1 AND surface = ?2 AND record = 'null')";
const FIRST_REVISION: &str = "SELECT coalesce(max(revision), 0) + 1 FROM past \
     WHERE kind = ?1 AND surface = ?2 AND label = ?3 AND record = 'null'";

/// One revision of a record, whatever its kind.
pub(super) struct Kept {
    pub(super) kind: Kind,
    /// The surface's key; 0 for a site.
    pub(super) surface: i64,
    pub(super) label: String,
    pub(super) revision: u32,
    /// The change that made it.
    pub(super) change: i64,
    /// The record as JSON.
    pub(super) json: String,
}

impl Kept {
    /// A record that stands on the surface with this key, and the change that made it.
    pub(super) fn of<R: Record>(surface: i64, record: &R, change: i64) -> rusqlite::Result<Self> {
        Ok(Self {
            kind: R::KIND,
            surface,
            label: record.label().to_owned(),
            revision: record.revision(),
            change,
            json: record.to_json().map_err(unwritable)?,
        })
    }

    /// Puts it and its removal by a change among the past revisions; the record's row may go then.
    pub(super) fn keep_removed(mut self, conn: &Connection, by: i64) -> rusqlite::Result<()> {
        self.keep(conn)?;
        self.revision += 1;
        self.change = by;
        "null".clone_into(&mut self.json);
        self.keep(conn)
    }

    /// Puts it among the past revisions; the record may be replaced then.
    pub(super) fn keep(&self, conn: &Connection) -> rusqlite::Result<()> {
        conn.prepare_cached(KEEP)?.execute((
            self.kind.name(),
            self.surface,
            &self.label,
            self.revision,
            self.change,
            &self.json,
        ))?;
        Ok(())
    }
}

/// Whether any record of a kind was ever removed from a surface.
pub(super) fn any_removed(conn: &Connection, kind: Kind, surface: i64) -> rusqlite::Result<bool> {
    conn.prepare_cached(ANY_REMOVED)?
        .query_row((kind.name(), surface), |row| row.get(0))
}

/// The revision of a record that is made under a label: 1, or the next after the removal of one that had it.
pub(super) fn first_revision(
    conn: &Connection,
    kind: Kind,
    surface: i64,
    label: &str,
) -> rusqlite::Result<u32> {
    conn.prepare_cached(FIRST_REVISION)?
        .query_row((kind.name(), surface, label), |row| row.get(0))
}

/// Writes down who changes the record, and gives the change's key.
pub(super) fn begin_change(conn: &Connection, change: &Change) -> rusqlite::Result<i64> {
    conn.prepare_cached(ADD_CHANGE)?
        .insert((&change.author, change.at.to_string(), &change.deed))
}
