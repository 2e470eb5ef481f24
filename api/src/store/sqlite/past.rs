//! Changes, and the revisions that are no longer current.

use super::failure::unwritable;
use crate::store::Change;
use rusqlite::Connection;
use serde::Serialize;

const ADD_CHANGE: &str = "INSERT INTO change (author, at, deed) VALUES (?1, ?2, ?3)";
const KEEP: &str = "INSERT INTO past (kind, surface, label, revision, change, record) \
     VALUES (?1, ?2, ?3, ?4, ?5, ?6)";

/// The kinds of record, named as their tables are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Site,
    Surface,
    Extent,
    Print,
    Trackway,
}

impl Kind {
    /// The name of its table.
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Site => "site",
            Self::Surface => "surface",
            Self::Extent => "extent",
            Self::Print => "print",
            Self::Trackway => "trackway",
        }
    }
}

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
    /// A revision of a record that is stored as `(surface, label)`.
    pub(super) fn of(
        kind: Kind,
        (surface, label): (i64, &str),
        (revision, change): (u32, i64),
        record: &impl Serialize,
    ) -> rusqlite::Result<Self> {
        Ok(Self {
            kind,
            surface,
            label: label.to_owned(),
            revision,
            change,
            json: serde_json::to_string(record).map_err(unwritable)?,
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
