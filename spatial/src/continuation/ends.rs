//! The ends of other trackways that lie in the way.

use super::answer::{CandidateKind, Term};
use super::candidates::{Hypothesis, LEAST_CHANCE, around, over_steps};
use super::plane::{Vector, minus};
use super::steps::Way;
use super::surroundings::Terminal;
use super::terminal::{self, Far};
use crate::index::PrintNo;
use std::collections::{BTreeMap, BTreeSet};

/// How many ends are looked at closely.
const CLOSELY: usize = 8;

/// The ends of other standing trackways.
pub(super) fn trackways(way: &Way, chances: &[f64], own: &BTreeSet<PrintNo>) -> Vec<Hypothesis> {
    let mine: BTreeSet<u32> = own
        .iter()
        .filter_map(|no| way.surroundings.trackway_of(*no))
        .collect();
    let mut near: BTreeMap<Terminal, (Vector, f64)> = BTreeMap::new();
    for (stage, chance) in way
        .stages
        .iter()
        .zip(chances)
        .filter(|(_, chance)| **chance > LEAST_CHANCE)
    {
        let (lower, upper) = around(way, stage, 0.0);
        for (terminal, place) in way.surroundings.terminals_in(lower, upper) {
            if !mine.contains(&terminal.trackway) {
                let place = minus(place, way.track.origin);
                let density = chance * stage.density(place, 0.0);
                near.entry(terminal).or_insert((place, 0.0)).1 += density;
            }
        }
    }
    let mut near: Vec<(Terminal, (Vector, f64))> = near.into_iter().collect();
    near.sort_by(|a, b| b.1.1.total_cmp(&a.1.1).then(a.0.cmp(&b.0)));
    near.truncate(CLOSELY);
    // The best heading, pace and looks together make up for a factor of so much.
    near.retain(|(_, (_, density))| *density > 1e-5 * way.surroundings.ends_m2);
    let fars = near
        .into_iter()
        .filter_map(|(terminal, (place, _))| Some((Far::of(way.index, way.surroundings, terminal)?, place)));
    fars.filter_map(|(far, place)| as_trackway(way, chances, &far, place))
        .collect()
}

/// ln of the prior that two ends fit the ways in which their trackways were walked.
fn ways_term(way: &Way, far: &Far) -> (bool, Term) {
    // Read on from here, the far trackway is walked in its standing order where its first print meets an `after`, or its
    // last one a `before`.
    let reversed = far.terminal.is_end != way.track.reversed;
    let same = way.forward * far.forward + (1.0 - way.forward) * (1.0 - far.forward);
    let fits = if reversed { 1.0 - same } else { same };
    let term = Term {
        what: "way that it was walked",
        log_odds: (2.0 * fits.clamp(1e-4, 1.0)).ln(),
    };
    (reversed, term)
}

/// How probable it is that a way leads to another trackway's end: the likeliest step, what speaks for it, and the weight of
/// all steps.
pub(super) fn end_hypothesis(way: &Way, chances: &[f64], far: &Far) -> Option<(usize, Vec<Term>, f64)> {
    let common_m2 = way.surroundings.ends_m2;
    let (_, ways) = ways_term(way, far);
    let looks = terminal::looks(way, far);
    let found = over_steps(&way.stages, chances, |number| {
        let log_odds = terminal::meeting(way, number, far) - common_m2.ln();
        if log_odds < -25.0 {
            return None;
        }
        let mut terms = vec![
            Term {
                what: "place, heading, pace and gauge",
                log_odds,
            },
            ways,
        ];
        terms.extend(looks.iter().copied());
        if let Some((_, log_odds)) = terminal::sides(way, number, far) {
            terms.push(Term {
                what: "side",
                log_odds,
            });
        }
        Some((terms, None))
    });
    found.map(|(stage, terms, _, weight)| (stage, terms, weight))
}

fn as_trackway(way: &Way, chances: &[f64], far: &Far, place: Vector) -> Option<Hypothesis> {
    let (stage, terms, weight) = end_hypothesis(way, chances, far)?;
    Some(Hypothesis {
        kind: CandidateKind::Trackway {
            label: way.surroundings.labels[far.terminal.trackway as usize].clone(),
            print: far.track.last().no,
            reversed: ways_term(way, far).0,
        },
        place,
        foot: (place, 0.0),
        stage,
        side_fits: terminal::sides(way, stage, far).map(|(fits, _)| fits),
        terms,
        weight,
    })
}
