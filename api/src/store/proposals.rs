//! What becomes of the grouping's proposals beside those that stand, whichever store they stand in.

use super::Tally;
use super::kept::Record;
use spatial::model::{Basis, Label, Status, Trackway};
use std::collections::{HashMap, HashSet};

/// A stored trackway and the change that made its revision.
pub(super) type Stored = (Trackway, i64);

/// What is to be written.
#[derive(Default)]
pub(super) struct Plan<'stored> {
    /// New trackways.
    pub(super) added: Vec<Trackway>,
    /// Stored ones and what replaces them; the revision is the stored one.
    pub(super) replaced: Vec<(&'stored Stored, Trackway)>,
    /// How many of each.
    pub(super) tally: Tally,
}

/// Lays proposals beside the trackways that are stored; see `Store::propose`.
pub(super) fn plan<'s>(stored: &'s [Stored], proposals: &'s [Trackway]) -> Plan<'s> {
    let mut standing = Standing::new(stored);
    let mut plan = Plan::default();
    for proposal in proposals {
        match standing.take(&proposal.prints) {
            Found::Before(before) => plan.replace(before, proposal),
            Found::Again => {}
            Found::Nowhere => plan.added.push(proposed(standing.next_label(), proposal)),
        }
    }
    standing.left().into_iter().for_each(|old| plan.reject(old));
    plan.tally.added = plan.added.len() as u64;
    plan.tally.changed = plan.replaced.len() as u64;
    plan
}

impl<'s> Plan<'s> {
    fn replace(&mut self, before: &'s Stored, proposal: &Trackway) {
        let stood = &before.0;
        let next = proposed(stood.label.clone(), proposal);
        // What somebody has judged stays as he judged it, however often it is proposed again.
        if stood.judged_by.is_some() || stood.status == Status::Accepted || stood.says(&next) {
            self.tally.unchanged += 1;
        } else {
            self.replaced.push((before, next));
        }
    }

    fn reject(&mut self, old: &'s Stored) {
        if old.0.status == Status::Proposed {
            let rejected = Trackway {
                status: Status::Rejected,
                ..old.0.clone()
            };
            self.replaced.push((old, rejected));
        }
    }
}

/// Where a proposal was found among those stored.
enum Found<'stored> {
    /// It was proposed before.
    Before(&'stored Stored),
    /// It comes a second time.
    Again,
    /// It is new.
    Nowhere,
}

/// The grouping's stored trackways by their prints, and the labels that are taken.
struct Standing<'t> {
    by_prints: HashMap<&'t [Label], &'t Stored>,
    labels: HashSet<&'t str>,
    taken: HashSet<&'t [Label]>,
    last_no: u64,
}

impl<'t> Standing<'t> {
    fn new(stored: &'t [Stored]) -> Self {
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
    fn left(self) -> Vec<&'t Stored> {
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
