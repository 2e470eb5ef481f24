//! Where rows could be otherwise: the links that the sampling tries.

use super::arriving::AHEAD;
use super::evidence::Member;
use super::gaps::MOST_MISSING;
use super::rows::Rows;
use super::scoring::{Model, Walk};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Alternatives that are worse than the best by more than this are left out: their probability is below a hundredth.
const MARGIN: f64 = 5.0;
/// How many other next prints of one print are tried.
const CHOICES: usize = 4;

/// A link between two prints, the smaller first.
pub(super) type Link = (Member, Member);

pub(super) fn link(one: Member, other: Member) -> Link {
    (one.min(other), one.max(other))
}

/// What is doubtful of one row.
#[derive(Debug, Default)]
pub(super) struct Doubts {
    /// Links that could be instead of present ones, and present ones that could be missing.
    pub tried: BTreeSet<Link>,
    /// For each present link: by how much the row is better than its two parts.
    pub holds: Vec<f64>,
}

/// The doubts of every row.
pub(super) fn of_rows(model: &Model, rows: &Rows) -> Vec<Doubts> {
    (0..rows.all.len())
        .into_par_iter()
        .map(|place| of_row(model, rows, place))
        .collect()
}

fn of_row(model: &Model, rows: &Rows, place: usize) -> Doubts {
    let mut doubts = Doubts::default();
    let mut prints = rows.prints(place).to_vec();
    let score = rows.score(place);
    // What each part is worth is read off the walks along the row from either end.
    let worth = |walks: &[Walk], prints: &[Member]| match walks.len() {
        _ if !model.is_row(prints) => 0.0,
        count => walks[count - 1].score.max(0.0),
    };
    let onward = model.walks(&prints);
    prints.reverse();
    let backward = model.walks(&prints);
    prints.reverse();
    for at in 1..prints.len() {
        let (head, tail) = prints.split_at(at);
        let holds = score - worth(&onward[..at], head) - worth(&backward[..prints.len() - at], tail);
        doubts.holds.push(holds);
        if holds < MARGIN {
            doubts.tried.insert(link(prints[at - 1], prints[at]));
        }
    }
    skips(model, &prints, &onward, score, &mut doubts);
    others(model, &prints, &mut doubts);
    prints.reverse();
    others(model, &prints, &mut doubts);
    doubts
}

/// Prints that could as well be passed over.
fn skips(model: &Model, prints: &[Member], walks: &[Walk], score: f64, doubts: &mut Doubts) {
    for at in 1..prints.len() - 1 {
        // Where the next few prints without this one are much the worse, the whole row is not scored without it.
        let present = walks[(at + AHEAD).min(walks.len() - 1)].score - walks[at - 1].score;
        if at >= 3 && present - model.onward(&walks[at - 1], &prints[at + 1..]) > 2.0 * MARGIN {
            continue;
        }
        let mut without = prints.to_vec();
        without.remove(at);
        if score - model.score(&without) < MARGIN {
            doubts.tried.insert(link(prints[at - 1], prints[at + 1]));
            doubts.tried.insert(link(prints[at - 1], prints[at]));
            doubts.tried.insert(link(prints[at], prints[at + 1]));
        }
    }
}

/// Prints that could as well come next.
fn others(model: &Model, prints: &[Member], doubts: &mut Doubts) {
    let mut walk = model.start(prints[0]);
    for at in 1..prints.len() {
        model.take(&mut walk, prints[at]);
        if at < 2 {
            continue;
        }
        let next = prints.get(at + 1);
        let least = next
            .map_or(-MARGIN, |next| model.gain(&walk, *next).gain - MARGIN)
            .min(0.0);
        let reach = if next.is_some() { 1 } else { MOST_MISSING };
        for other in model.nexts(&walk, reach, least).into_iter().take(CHOICES) {
            if prints.contains(&other.member) {
                continue;
            }
            doubts.tried.insert(link(prints[at], other.member));
            doubts.tried.extend(next.map(|next| link(prints[at], *next)));
            // A print put in between needs its second link.
            doubts.tried.extend(next.map(|next| link(other.member, *next)));
        }
    }
}
