//! Trackways as the field party saw them, rebuilt from their prints.

use super::column::{parsed, required};
use super::trackway_row;
use crate::store::{Conflict, RowConflict, Tally};
use rusqlite::{Connection, Row};
use spatial::model::{Basis, Label, Limb, Status, Trackway};

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
    let mut open: Option<Seen> = None;
    while let Some(row) = rows.next()? {
        let label: Label = required(row, 0)?;
        let member = Member::read(row, change)?;
        match &mut open {
            Some(seen) if seen.label == label => seen.prints.push(member),
            _ => {
                let next = Seen {
                    label,
                    prints: vec![member],
                };
                if let Some(whole) = open.replace(next) {
                    rebuilding.put(&whole)?;
                }
            }
        }
    }
    if let Some(whole) = open {
        rebuilding.put(&whole)?;
    }
    rebuilding.reject_emptied()?;
    Ok((rebuilding.tally, rebuilding.conflicts))
}

/// A print's place in a field trackway.
struct Member {
    label: Label,
    order: Option<u32>,
    limb: Option<Limb>,
    /// The row of the sheet, where this sheet added or changed the print.
    row: Option<u64>,
}

impl Member {
    fn read(row: &Row<'_>, this_change: i64) -> rusqlite::Result<Self> {
        let (sheet_row, change): (i64, i64) = (row.get(4)?, row.get(5)?);
        Ok(Self {
            label: required(row, 1)?,
            order: row.get(2)?,
            limb: parsed(row, 3)?,
            row: (change == this_change).then_some(sheet_row.unsigned_abs()),
        })
    }
}

/// A trackway as its prints say it, in walking order.
struct Seen {
    label: Label,
    prints: Vec<Member>,
}

impl Seen {
    fn labels(&self) -> Vec<Label> {
        self.prints.iter().map(|member| member.label.clone()).collect()
    }

    /// The first row of the sheet that speaks of it; `None` where the sheet only took prints away from it.
    fn row(&self) -> Option<u64> {
        self.prints.iter().filter_map(|member| member.row).min()
    }

    /// Pairs of prints of one limb, or both of an unknown one, in one place.
    fn same_order(&self) -> impl Iterator<Item = RowConflict> {
        self.prints.windows(2).filter_map(|pair| {
            let [first, second] = pair else { return None };
            let same = first.order.is_some() && first.order == second.order && first.limb == second.limb;
            // Of two prints one at least is of this sheet: what was stored before had no such pair.
            let (row, other) = match (first.row, second.row) {
                (Some(a), Some(b)) if a > b => (a, second),
                (_, Some(b)) => (b, first),
                (Some(a), None) => (a, second),
                (None, None) => return None,
            };
            same.then(|| RowConflict {
                row,
                conflict: Conflict::SameOrder(other.label.clone()),
            })
        })
    }
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
        let Some(stored) = trackway_row::find(self.conn, self.surface, &seen.label)? else {
            return self.add(seen);
        };
        let trackway = &stored.0;
        let labels = seen.labels();
        let is_same = trackway.prints == labels;
        if is_anothers(trackway) {
            if let (false, Some(row)) = (is_same, seen.row()) {
                self.conflicts.push(RowConflict {
                    row,
                    conflict: Conflict::NotOfField(seen.label.clone()),
                });
            }
            return Ok(());
        }
        // A rejected one comes back when a sheet speaks of its prints anew, not when a neighbour changes.
        let is_settled = trackway.status != Status::Rejected || seen.row().is_none();
        if trackway.basis == Basis::Field && is_same && is_settled {
            self.tally.unchanged += u64::from(trackway.status != Status::Rejected);
            return Ok(());
        }
        let next = Trackway {
            prints: labels,
            basis: Basis::Field,
            status: Status::Accepted,
            probability: None,
            judged_by: None,
            ..trackway.clone()
        };
        self.replace(&stored, &next)
    }

    fn add(&mut self, seen: &Seen) -> rusqlite::Result<()> {
        let trackway = Trackway {
            label: seen.label.clone(),
            prints: seen.labels(),
            basis: Basis::Field,
            status: Status::Accepted,
            probability: None,
            morphotype: None,
            note: None,
            judged_by: None,
            revision: 1,
        };
        self.tally.added += 1;
        trackway_row::add(self.conn, self.surface, self.change, &trackway)
    }

    fn reject_emptied(&mut self) -> rusqlite::Result<()> {
        let emptied: Vec<Label> = self
            .conn
            .prepare_cached(EMPTIED)?
            .query_map([self.surface], |row| required(row, 0))?
            .collect::<rusqlite::Result<_>>()?;
        for label in emptied {
            let stored = trackway_row::find(self.conn, self.surface, &label)?
                .ok_or(rusqlite::Error::QueryReturnedNoRows)?;
            let rejected = Trackway {
                status: Status::Rejected,
                ..stored.0.clone()
            };
            self.replace(&stored, &rejected)?;
        }
        Ok(())
    }

    fn replace(&mut self, stored: &(Trackway, i64), next: &Trackway) -> rusqlite::Result<()> {
        self.tally.changed += 1;
        trackway_row::replace(self.conn, self.surface, self.change, stored, next)
    }
}

/// Whether somebody other than the field party has put work into it. Mere proposals give way to the
/// field party's word, and the next grouping proposes them again under another label.
fn is_anothers(trackway: &Trackway) -> bool {
    match trackway.basis {
        Basis::Field => false,
        Basis::Grouping => trackway.status == Status::Accepted,
        Basis::Continuation | Basis::Editor => true,
    }
}
