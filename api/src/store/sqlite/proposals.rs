//! What the grouping proposes, beside what it proposed before.

use super::connections::Writing;
use super::failure::Doing;
use super::surface_row::{self, Growth};
use super::{past, trackway_row};
use crate::store::{Change, StoreError, Tally};
use rusqlite::Connection;
use spatial::model::{Basis, Label, Status, SurfaceId, Trackway};
use std::collections::{HashMap, HashSet};

const DOING: &str = "taking proposals";
const HAS_PRINT: &str = "SELECT EXISTS (SELECT 1 FROM print WHERE surface = ?1 AND label = ?2)";

/// Replaces the proposals of the grouping on a surface; see `Store::propose`.
pub(super) fn propose(
    conn: Writing<'_>,
    id: &SurfaceId,
    proposals: &[Trackway],
    change: &Change,
) -> Result<Tally, StoreError> {
    let surface = surface_row::key(&conn, id)
        .doing(DOING)?
        .ok_or_else(|| StoreError::Missing(format!("surface {id}")))?;
    let change = past::begin_change(&conn, change).doing(DOING)?;
    let stored = trackway_row::of_surface(&conn, surface).doing(DOING)?;
    let mut standing = Standing::new(&stored);
    let mut tally = Tally::default();
    for proposal in proposals {
        match standing.take(&proposal.prints) {
            Found::Before(before) => {
                replace(&conn, (surface, change), before, proposal, &mut tally).doing(DOING)?
            }
            Found::Again => {}
            Found::Nowhere => {
                check_prints(&conn, surface, id, proposal)?;
                let label = standing.next_label();
                trackway_row::add(&conn, surface, change, &proposed(label, proposal)).doing(DOING)?;
                tally.added += 1;
            }
        }
    }
    for old in standing.left() {
        reject(&conn, (surface, change), old, &mut tally).doing(DOING)?;
    }
    if tally.added + tally.changed > 0 {
        let growth = Growth {
            trackways: tally.added,
            ..Growth::default()
        };
        surface_row::sum_up(&conn, surface, &growth)
            .and_then(|()| conn.commit())
            .doing(DOING)?;
    }
    Ok(tally)
}

/// Where a proposal was found among those stored.
enum Found<'stored> {
    /// It was proposed before.
    Before(&'stored (Trackway, i64)),
    /// It comes a second time.
    Again,
    /// It is new.
    Nowhere,
}

/// The grouping's stored trackways by their prints, and the labels that are taken.
struct Standing<'t> {
    by_prints: HashMap<&'t [Label], &'t (Trackway, i64)>,
    labels: HashSet<&'t str>,
    taken: HashSet<&'t [Label]>,
    last_no: u64,
}

impl<'t> Standing<'t> {
    fn new(stored: &'t [(Trackway, i64)]) -> Self {
        let of_grouping = stored
            .iter()
            .filter(|(trackway, _)| trackway.basis == Basis::Grouping);
        Self {
            by_prints: of_grouping.map(|stored| (&*stored.0.prints, stored)).collect(),
            labels: stored
                .iter()
                .map(|(trackway, _)| trackway.label.as_str())
                .collect(),
            taken: HashSet::new(),
            last_no: 0,
        }
    }

    fn take(&mut self, prints: &'t [Label]) -> Found<'t> {
        if !self.taken.insert(prints) {
            return Found::Again;
        }
        self.by_prints
            .remove(prints)
            .map_or(Found::Nowhere, Found::Before)
    }

    /// The next of `G1`, `G2`, … that no trackway of the surface has.
    fn next_label(&mut self) -> Label {
        loop {
            self.last_no += 1;
            let label = format!("G{}", self.last_no);
            if !self.labels.contains(label.as_str()) {
                return label.parse().expect("a letter and digits are a label");
            }
        }
    }

    /// Those that were not taken, in the order of labels.
    fn left(self) -> Vec<&'t (Trackway, i64)> {
        let mut left: Vec<_> = self.by_prints.into_values().collect();
        left.sort_by(|a, b| a.0.label.cmp(&b.0.label));
        left
    }
}

fn proposed(label: Label, proposal: &Trackway) -> Trackway {
    Trackway {
        label,
        basis: Basis::Grouping,
        status: Status::Proposed,
        ..proposal.clone()
    }
}

fn replace(
    conn: &Connection,
    (surface, change): (i64, i64),
    before: &(Trackway, i64),
    proposal: &Trackway,
    tally: &mut Tally,
) -> rusqlite::Result<()> {
    let next = Trackway {
        revision: before.0.revision,
        ..proposed(before.0.label.clone(), proposal)
    };
    // What somebody has judged stays as he judged it, however often it is proposed again.
    if before.0.judged_by.is_some() || before.0.status == Status::Accepted || next == before.0 {
        tally.unchanged += 1;
        return Ok(());
    }
    tally.changed += 1;
    trackway_row::replace(conn, surface, change, before, &next)
}

fn reject(
    conn: &Connection,
    (surface, change): (i64, i64),
    old: &(Trackway, i64),
    tally: &mut Tally,
) -> rusqlite::Result<()> {
    if old.0.status != Status::Proposed {
        return Ok(());
    }
    let rejected = Trackway {
        status: Status::Rejected,
        ..old.0.clone()
    };
    tally.changed += 1;
    trackway_row::replace(conn, surface, change, old, &rejected)
}

/// A trackway of prints that the surface does not have would break every query that walks along it.
fn check_prints(
    conn: &Connection,
    surface: i64,
    id: &SurfaceId,
    proposal: &Trackway,
) -> Result<(), StoreError> {
    let mut has_print = conn.prepare_cached(HAS_PRINT).doing(DOING)?;
    for label in &proposal.prints {
        let has: bool = has_print
            .query_row((surface, label.as_str()), |row| row.get(0))
            .doing(DOING)?;
        if !has {
            return Err(StoreError::Missing(format!("print {id}:{label}")));
        }
    }
    Ok(())
}
