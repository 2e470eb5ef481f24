//! Trackways as the field party saw them, rebuilt from their prints.

use super::column::{parsed, required};
use super::trackway_row;
use crate::store::field_trackways::{Fate, Gathering, Member, Seen, emptied};
use crate::store::{RowConflict, Tally};
use rusqlite::{Connection, Row};
use spatial::model::{Label, Trackway};

const FIELD_ORDER: &str = include_str!("field_order.sql");
const STANDING: &str = "SELECT count(*) FROM trackway \
     WHERE surface = ?1 AND basis = 'field' AND status <> 'rejected'";
const EMPTIED: &str = "SELECT label FROM trackway \
     WHERE surface = ?1 AND basis = 'field' AND status <> 'rejected' AND label NOT IN ( \
         SELECT field_trackway FROM print WHERE surface = ?1 AND field_trackway IS NOT NULL)";

/// How many field trackways of a surface stand.
pub(super) fn standing(conn: &Connection, surface: i64) -> rusqlite::Result<u64> {
    let count: i64 = conn
        .prepare_cached(STANDING)?
        .query_row([surface], |row| row.get(0))?;
    Ok(count.unsigned_abs())
}

/// Brings the field trackways of a surface in line with its prints, one trackway in memory at a time.
///
/// One whose prints are as before is left alone; one without prints is rejected and keeps its old list.
pub(super) fn rebuild(
    conn: &Connection,
    change: i64,
    surface: i64,
) -> rusqlite::Result<(Tally, Vec<RowConflict>)> {
    let mut rebuilding = Rebuilding {
        conn,
        change,
        surface,
        tally: Tally::default(),
        conflicts: Vec::new(),
    };
    let mut select = conn.prepare_cached(FIELD_ORDER)?;
    let mut rows = select.query([surface])?;
    let mut gathering = Gathering::default();
    while let Some(row) = rows.next()? {
        if let Some(whole) = gathering.take(required(row, 0)?, member(row, change)?) {
            rebuilding.put(&whole)?;
        }
    }
    if let Some(whole) = gathering.end() {
        rebuilding.put(&whole)?;
    }
    rebuilding.reject_emptied()?;
    Ok((rebuilding.tally, rebuilding.conflicts))
}

fn member(row: &Row<'_>, this_change: i64) -> rusqlite::Result<Member> {
    let (sheet_row, change): (i64, i64) = (row.get(4)?, row.get(5)?);
    Ok(Member {
        label: required(row, 1)?,
        order: row.get(2)?,
        limb: parsed(row, 3)?,
        row: (change == this_change).then_some(sheet_row.unsigned_abs()),
    })
}

struct Rebuilding<'conn> {
    conn: &'conn Connection,
    change: i64,
    surface: i64,
    tally: Tally,
    conflicts: Vec<RowConflict>,
}

impl Rebuilding<'_> {
    fn put(&mut self, seen: &Seen) -> rusqlite::Result<()> {
        self.conflicts.extend(seen.same_order());
        let stored = trackway_row::find(self.conn, self.surface, &seen.label)?;
        match (seen.beside(stored.as_ref().map(|stored| &stored.0)), stored) {
            (Fate::Replaced(next), Some(stored)) => self.replace(&stored, &next)?,
            (Fate::Added(new) | Fate::Replaced(new), _) => {
                self.tally.added += 1;
                trackway_row::add(self.conn, self.surface, self.change, &new)?;
            }
            (Fate::Unchanged, _) => self.tally.unchanged += 1,
            (Fate::NotOfField, _) => {}
            (Fate::Refused(conflict), _) => self.conflicts.push(conflict),
        }
        Ok(())
    }

    fn reject_emptied(&mut self) -> rusqlite::Result<()> {
        let labels: Vec<Label> = self
            .conn
            .prepare_cached(EMPTIED)?
            .query_map([self.surface], |row| required(row, 0))?
            .collect::<rusqlite::Result<_>>()?;
        for label in labels {
            let stored = trackway_row::find(self.conn, self.surface, &label)?
                .ok_or(rusqlite::Error::QueryReturnedNoRows)?;
            self.replace(&stored, &emptied(&stored.0))?;
        }
        Ok(())
    }

    fn replace(&mut self, stored: &(Trackway, i64), next: &Trackway) -> rusqlite::Result<()> {
        self.tally.changed += 1;
        trackway_row::replace(self.conn, self.surface, self.change, stored, next)
    }
}
