//! Trackways as the field party saw them, rebuilt from their prints.

use super::column::{integer, parsed, required};
use super::failure::Given;
use super::member::{self, Writes};
use super::surface_row::Key;
use crate::store::field_trackways::{Fate, Gathering, Member, Seen, emptied};
use crate::store::{RowConflict, Tally};
use postgres::{Client, Row};
use spatial::model::{Basis, Label, Status, Trackway};
use std::collections::{BTreeMap, BTreeSet};

const STANDING: &str = "SELECT count(*) FROM trackway \
     WHERE site = $1 AND surface = $2 AND basis = 'field' AND status <> 'rejected'";
/// Members that are in memory at once.
const PAGE: &str = "FETCH 20000 FROM members";

/// How many field trackways of a surface stand.
pub(super) fn standing(conn: &mut Client, key: Key) -> Given<u64> {
    let row = conn.query_one(STANDING, &[&key.site, &key.surface])?;
    super::column::count(&row, 0)
}

/// Brings the field trackways of a surface in line with its prints.
///
/// One whose prints are as before is left alone; one without prints is rejected and keeps its old list.
pub(super) fn rebuild(conn: &mut Client, change: i64, key: Key) -> Given<(Tally, Vec<RowConflict>)> {
    let stored = member::of_surface::<Trackway>(conn, key)?;
    let stored = stored.into_iter().map(|stored| (stored.0.label.clone(), stored));
    let mut rebuilding = Rebuilding {
        stored: stored.collect(),
        seen: BTreeSet::new(),
        next: Vec::new(),
        tally: Tally::default(),
        conflicts: Vec::new(),
    };
    walk(conn, change, key, &mut |seen| rebuilding.put(&seen))?;
    rebuilding.reject_emptied();
    let mut writes = Writes::new(conn, change);
    for (label, next) in &rebuilding.next {
        match rebuilding.stored.get(label) {
            Some(stood) => writes.replace(key, stood, next)?,
            None => writes.add(key, next)?,
        }
    }
    writes.send()?;
    Ok((rebuilding.tally, rebuilding.conflicts))
}

/// Gives each field trackway of a surface as its prints say it.
fn walk(conn: &mut Client, change: i64, key: Key, put: &mut dyn FnMut(Seen)) -> Given<()> {
    // A cursor takes no parameters.
    conn.batch_execute(&format!(
        include_str!("field_order.sql"),
        site = key.site,
        surface = key.surface
    ))?;
    let mut gathering = Gathering::default();
    let page = conn.prepare(PAGE)?;
    loop {
        let rows = conn.query(&page, &[])?;
        if rows.is_empty() {
            break;
        }
        for row in &rows {
            if let Some(whole) = gathering.take(required(row, 0)?, read(row, change)?) {
                put(whole);
            }
        }
    }
    if let Some(whole) = gathering.end() {
        put(whole);
    }
    conn.batch_execute("CLOSE members")?;
    Ok(())
}

fn read(row: &Row, this_change: i64) -> Given<Member> {
    let (sheet_row, change): (i64, i64) = (row.try_get(4)?, row.try_get(5)?);
    Ok(Member {
        label: required(row, 1)?,
        order: integer(row, 2)?,
        limb: parsed(row, 3)?,
        row: (change == this_change).then_some(sheet_row.unsigned_abs()),
    })
}

struct Rebuilding {
    stored: BTreeMap<Label, (Trackway, i64)>,
    /// Those that have prints.
    seen: BTreeSet<Label>,
    /// What is to be added, or to replace what is stored under the label.
    next: Vec<(Label, Trackway)>,
    tally: Tally,
    conflicts: Vec<RowConflict>,
}

impl Rebuilding {
    fn put(&mut self, seen: &Seen) {
        self.conflicts.extend(seen.same_order());
        self.seen.insert(seen.label.clone());
        let stored = self.stored.get(&seen.label).map(|stored| &stored.0);
        match seen.beside(stored) {
            Fate::Added(new) => {
                self.tally.added += 1;
                self.next.push((seen.label.clone(), new));
            }
            Fate::Replaced(next) => {
                self.tally.changed += 1;
                self.next.push((seen.label.clone(), next));
            }
            Fate::Unchanged => self.tally.unchanged += 1,
            Fate::NotOfField => {}
            Fate::Refused(conflict) => self.conflicts.push(conflict),
        }
    }

    fn reject_emptied(&mut self) {
        for (label, (stored, _)) in &self.stored {
            let stands = stored.basis == Basis::Field && stored.status != Status::Rejected;
            if stands && !self.seen.contains(label) {
                self.tally.changed += 1;
                self.next.push((label.clone(), emptied(stored)));
            }
        }
    }
}
