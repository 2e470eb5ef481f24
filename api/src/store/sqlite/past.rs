//! Changes, and the revisions that are no longer current.

use super::failure::unwritable;
use crate::store::Change;
use crate::store::kept::{Kind, Record};
use rusqlite::Connection;

const ADD_CHANGE: &str = "INSERT INTO change (author, at, deed) VALUES (?1, ?2, ?3)";
const KEEP: &str = "INSERT INTO past (kind, surface, label, revision, change, record) \
     VALUES (?1, ?2, ?3, ?4, ?5, ?6)";

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

/// Writes down who changes the record, and gives the change's key.
pub(super) fn begin_change(conn: &Connection, change: &Change) -> rusqlite::Result<i64> {
    conn.prepare_cached(ADD_CHANGE)?
        .insert((&change.author, change.at.to_string(), &change.deed))
}
