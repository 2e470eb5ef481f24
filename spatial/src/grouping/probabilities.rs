//! How sure each link is.

use super::GroupingOptions;
use super::components::{Component, components};
use super::doubts::{self, Link, link};
use super::evidence::Member;
use super::rows::Rows;
use super::sampling::{Visits, sample};
use super::scoring::{Model, Row};
use super::sets::Joined;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use std::collections::HashMap;

/// What is believed of every link whatever its evidence: the method's own error, that no sampling shows.
const OWN_ERROR: f64 = 0.003;

/// Probabilities of the links of rows, and of rows as wholes.
#[derive(Debug, Default)]
pub(super) struct Probable {
    links: HashMap<Link, f64>,
    /// By the first print of the row.
    wholes: HashMap<Member, f64>,
}

/// Links that are not in doubt have the odds by which their row is better than its parts; the others are sampled.
pub(super) fn of_rows(model: &Model, rows: &[Row], options: &GroupingOptions) -> Probable {
    let placed = Rows::new(model.evidence.feet.len(), rows.to_vec());
    let doubts = doubts::of_rows(model, &placed);
    let mut probable = Probable::default();
    for (row, doubts) in rows.iter().zip(&doubts) {
        let sure = sigmoid(row.score);
        let mut whole = sure;
        for (pair, holds) in row.prints.windows(2).zip(&doubts.holds) {
            probable
                .links
                .insert(link(pair[0], pair[1]), sigmoid(*holds) * sure);
            whole *= sigmoid(*holds);
        }
        probable.wholes.insert(row.prints[0], whole);
    }
    let components = components(rows, &placed, &doubts);
    let visits: Vec<Visits> = (components.par_iter().enumerate().with_max_len(1))
        .map(|(stream, component)| {
            let mut rng = ChaCha8Rng::seed_from_u64(options.seed);
            rng.set_stream(stream as u64);
            sample(model, component, options.samples, &mut rng)
        })
        .collect();
    if options.samples > 0 {
        for (component, visits) in components.iter().zip(&visits) {
            probable.take(component, visits, options.samples);
        }
    }
    probable
}

impl Probable {
    fn take(&mut self, component: &Component, visits: &Visits, samples: usize) {
        // A share of finitely many looks is never quite none or all.
        let drawn = |count: f64| (count + 0.5) / (samples as f64 + 1.0);
        for (row, whole) in component.rows.iter().zip(&visits.wholes) {
            for pair in row.windows(2) {
                let key = link(pair[0], pair[1]);
                let share = drawn(visits.links.get(&key).copied().unwrap_or(0.0));
                let held = self.links.entry(key).or_insert(share);
                *held = held.min(share);
            }
            let held = self.wholes.entry(row[0]).or_insert(*whole);
            *held = held.min(drawn(*whole));
        }
    }

    /// The probability that one print follows another in a trackway.
    pub fn link(&self, model: &Model, joined: &Joined, one: Member, other: Member) -> f64 {
        if model.evidence.wishes.is_fixed(one, other) {
            return 1.0;
        }
        let p = self.links.get(&link(one, other)).copied();
        // Prints of different limbs follow each other if the rows belong together.
        p.unwrap_or_else(|| sigmoid(joined.odds)) * (1.0 - OWN_ERROR)
    }

    /// The probability that all prints of a trackway are one animal's.
    pub fn whole(&self, joined: &Joined) -> f64 {
        let midline = self.wholes.get(&joined.midline.prints[0]).copied().unwrap_or(0.5);
        let sets = if joined.fore.is_empty() {
            1.0
        } else {
            sigmoid(joined.odds)
        };
        midline * sets * (1.0 - OWN_ERROR)
    }
}

pub(super) fn sigmoid(odds: f64) -> f64 {
    1.0 / (1.0 + (-odds).exp())
}
