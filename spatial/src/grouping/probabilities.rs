//! How sure each link is.

use super::GroupingOptions;
use super::doubts::{self, Doubts, Link, link};
use super::evidence::Member;
use super::rows::Rows;
use super::sampling::{Component, Visits, parts, sample};
use super::scoring::{Model, Row};
use super::sets::Joined;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet, HashMap};

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
    let walks: Vec<(usize, u64, usize)> = (components.iter().enumerate())
        .flat_map(|(of, component)| {
            (0..)
                .zip(parts(component, options.samples))
                .map(move |(part, looks)| (of, part, looks))
        })
        .collect();
    let visits: Vec<Visits> = (walks.par_iter().with_max_len(1))
        .map(|(of, part, looks)| {
            let component = &components[*of];
            let mut rng = ChaCha8Rng::seed_from_u64(options.seed);
            rng.set_stream(u64::from(component.tried[0].0) << 32 | part);
            sample(model, component, *looks, &mut rng)
        })
        .collect();
    let mut together: Vec<Visits> = components.iter().map(|_| Visits::default()).collect();
    for ((of, _, _), visits) in walks.iter().zip(visits) {
        together[*of].add(visits);
    }
    if options.samples > 0 {
        for (component, visits) in components.iter().zip(&together) {
            probable.take(component, visits, options.samples);
        }
    }
    probable
}

impl Visits {
    fn add(&mut self, other: Self) {
        for (link, count) in other.links {
            *self.links.entry(link).or_default() += count;
        }
        self.wholes.resize(other.wholes.len(), 0.0);
        self.wholes
            .iter_mut()
            .zip(other.wholes)
            .for_each(|(count, more)| *count += more);
    }
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

/// Rows that could exchange prints, together with the free prints between them.
fn components(rows: &[Row], placed: &Rows, doubts: &[Doubts]) -> Vec<Component> {
    let mut groups = Groups::of(placed.of.len());
    for row in rows {
        for pair in row.prints.windows(2) {
            groups.join(pair[0], pair[1]);
        }
    }
    let mut tried: BTreeSet<Link> = doubts
        .iter()
        .flat_map(|doubts| doubts.tried.iter().copied())
        .collect();
    let touched: BTreeSet<Member> = tried.iter().flat_map(|(one, other)| [*one, *other]).collect();
    for pair in rows.iter().flat_map(|row| row.prints.windows(2)) {
        if touched.contains(&pair[0]) || touched.contains(&pair[1]) {
            tried.insert(link(pair[0], pair[1]));
        }
    }
    tried.iter().for_each(|(one, other)| groups.join(*one, *other));
    let mut components: BTreeMap<Member, Component> = BTreeMap::new();
    let empty = || Component {
        rows: Vec::new(),
        tried: Vec::new(),
        possible: BTreeSet::new(),
    };
    for pair in tried {
        let component = components.entry(groups.root(pair.0)).or_insert_with(empty);
        component.tried.push(pair);
        component.possible.insert(pair);
    }
    for row in rows {
        if let Some(component) = components.get_mut(&groups.root(row.prints[0])) {
            component
                .possible
                .extend(row.prints.windows(2).map(|pair| link(pair[0], pair[1])));
            component.rows.push(row.prints.clone());
        }
    }
    components.into_values().collect()
}

/// Prints that belong together by way of links.
struct Groups {
    parents: Vec<Member>,
}

impl Groups {
    fn of(members: usize) -> Self {
        Self {
            parents: (0..members as Member).collect(),
        }
    }

    fn root(&mut self, mut member: Member) -> Member {
        while self.parents[member as usize] != member {
            self.parents[member as usize] = self.parents[self.parents[member as usize] as usize];
            member = self.parents[member as usize];
        }
        member
    }

    /// The smaller root stays, so that the result does not depend on the order of joins.
    fn join(&mut self, one: Member, other: Member) {
        let (a, b) = (self.root(one), self.root(other));
        self.parents[a.max(b) as usize] = a.min(b);
    }
}
