//! Rows as they could be too: a random walk over groupings, each visited as often as it is probable.
//!
//! Links are cut, joined and exchanged one at a time (Markov chain Monte Carlo data association); a change is
//! taken by the rule of Metropolis and Hastings.

use super::doubts::{Link, link};
use super::evidence::Member;
use super::scoring::Model;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Scores are drawn this much towards evens: successive prints share their errors, so that their evidence is not as
/// independent as the sum of its logarithms takes it to be. Chosen so that probabilities on simulated surfaces come true.
const TEMPER: f64 = 1.5;
/// The score of two prints alone. They are no row, only a way from one grouping to another; were they as good as two
/// free prints, their great number would draw the walk away from rows.
const PAIR: f64 = -3.0;

/// After so many looks the walk begins anew at the best grouping. Left to itself it strays into the great number of
/// poor groupings, from which single changes seldom lead back, and good links would seem improbable for no other reason.
const RESTART: usize = 10;

/// Rows that have doubts about each other, and the links that can be tried between their prints.
#[derive(Debug)]
pub(super) struct Component {
    pub rows: Vec<Vec<Member>>,
    pub tried: Vec<Link>,
    pub possible: BTreeSet<Link>,
}

/// How often each link, and each row as a whole, was there.
#[derive(Debug, Default)]
pub(super) struct Visits {
    pub links: BTreeMap<Link, f64>,
    /// For each row given: the part of the time in which all its prints were in one row.
    pub wholes: Vec<f64>,
}

/// One state of the walk.
struct State<'a> {
    model: &'a Model<'a>,
    component: &'a Component,
    /// Rows of at least two prints; empty ones are free to be used again.
    rows: Vec<(Vec<Member>, f64)>,
    of: BTreeMap<Member, usize>,
    /// Scores met before: most changes are proposed many times over.
    scores: HashMap<Vec<Member>, f64>,
}

/// Walks so many steps for each link that is tried.
pub(super) fn sample(model: &Model, component: &Component, steps: usize, rng: &mut ChaCha8Rng) -> Visits {
    let mut state = State::new(model, component);
    let mut visits = Visits {
        links: BTreeMap::new(),
        wholes: vec![0.0; component.rows.len()],
    };
    for step in 0..steps {
        if step > 0 && step % RESTART == 0 {
            state.restart();
        }
        for _ in 0..component.tried.len() {
            let chosen = component.tried[rng.random_range(0..component.tried.len())];
            if let Some(change) = state.propose(chosen, rng) {
                state.accept(change, rng);
            }
        }
        state.look(&mut visits);
    }
    let looks = steps.max(1) as f64;
    visits.links.values_mut().for_each(|count| *count /= looks);
    visits.wholes.iter_mut().for_each(|count| *count /= looks);
    visits
}

/// Rows that go and rows that come.
struct Change {
    gone: Vec<usize>,
    new: Vec<Vec<Member>>,
}

impl<'a> State<'a> {
    fn new(model: &'a Model, component: &'a Component) -> Self {
        let mut state = Self {
            model,
            component,
            rows: Vec::new(),
            of: BTreeMap::new(),
            scores: HashMap::new(),
        };
        state.restart();
        state
    }

    /// Back to the best grouping; scores met are kept.
    fn restart(&mut self) {
        self.rows.clear();
        self.of.clear();
        for row in &self.component.rows {
            let score = self.score(row);
            self.put(row.clone(), score);
        }
    }

    fn put(&mut self, row: Vec<Member>, score: f64) {
        for member in &row {
            self.of.insert(*member, self.rows.len());
        }
        self.rows.push((row, score));
    }

    /// The row that a print is in and its place there; a print in no row is a row of its own.
    fn row_of(&self, member: Member) -> (Option<usize>, Vec<Member>, usize) {
        match self.of.get(&member) {
            Some(place) => {
                let row = &self.rows[*place].0;
                let at = row.iter().position(|other| *other == member).unwrap_or(0);
                (Some(*place), row.clone(), at)
            }
            None => (None, vec![member], 0),
        }
    }

    fn propose(&self, (one, other): Link, rng: &mut ChaCha8Rng) -> Option<Change> {
        let (row, mut prints, mut at) = self.row_of(one);
        let (other_row, mut others, mut other_at) = self.row_of(other);
        if row.is_some() && row == other_row {
            return self.cut(row?, &prints, at, other_at, rng);
        }
        // Which of its two neighbours each print gives up: that behind it in the row as turned.
        if rng.random_bool(0.5) {
            prints.reverse();
            at = prints.len() - 1 - at;
        }
        if rng.random_bool(0.5) {
            others.reverse();
            other_at = others.len() - 1 - other_at;
        }
        let (head, tail) = prints.split_at(at + 1);
        let gone = row.into_iter().chain(other_row).collect();
        if others.len() == 1 && !tail.is_empty() && self.is_possible(other, tail[0]) && rng.random_bool(0.5) {
            return Some(Change {
                gone,
                new: vec![[head, &others, tail].concat()],
            });
        }
        let (before, behind) = others.split_at(other_at);
        let joined = [head, behind].concat();
        let rest = match (before.last(), tail.first()) {
            (Some(last), Some(first)) if !self.is_possible(*last, *first) => return None,
            _ => [before, tail].concat(),
        };
        Some(Change {
            gone,
            new: vec![joined, rest],
        })
    }

    /// Neighbours in one row: the link is cut, or one of the two is taken out of the row.
    fn cut(
        &self,
        row: usize,
        prints: &[Member],
        at: usize,
        other_at: usize,
        rng: &mut ChaCha8Rng,
    ) -> Option<Change> {
        let (low, high) = (at.min(other_at), at.max(other_at));
        if high - low != 1 {
            return None;
        }
        if rng.random_bool(0.5) {
            return Some(Change {
                gone: vec![row],
                new: vec![prints[..high].to_vec(), prints[high..].to_vec()],
            });
        }
        let out = if rng.random_bool(0.5) { low } else { high };
        let (before, after) = (prints.get(out.wrapping_sub(1))?, prints.get(out + 1)?);
        self.is_possible(*before, *after).then(|| {
            let mut without = prints.to_vec();
            without.remove(out);
            Change {
                gone: vec![row],
                new: vec![without],
            }
        })
    }

    fn is_possible(&self, one: Member, other: Member) -> bool {
        self.component.possible.contains(&link(one, other))
    }

    fn score(&mut self, row: &[Member]) -> f64 {
        if let Some(score) = self.scores.get(row) {
            return *score;
        }
        let score = if row.len() == 2 && !self.model.is_row(row) {
            PAIR
        } else {
            self.model.score(row)
        };
        self.scores.insert(row.to_vec(), score);
        score
    }

    fn accept(&mut self, change: Change, rng: &mut ChaCha8Rng) {
        let now: f64 = change.gone.iter().map(|place| self.rows[*place].1).sum();
        let scores: Vec<f64> = change.new.iter().map(|row| self.score(row)).collect();
        let gain = (scores.iter().sum::<f64>() - now) / TEMPER;
        if gain < 0.0 && rng.random::<f64>() >= gain.exp() {
            return;
        }
        for place in change.gone {
            for member in std::mem::take(&mut self.rows[place].0) {
                self.of.remove(&member);
            }
            self.rows[place].1 = 0.0;
        }
        for (row, score) in change.new.into_iter().zip(scores) {
            if row.len() >= 2 {
                self.put(row, score);
            }
        }
        self.tidy();
    }

    /// Rows that are gone leave holes; they are closed when they outnumber the rest.
    fn tidy(&mut self) {
        if self.rows.len() < 64 + 4 * self.component.rows.len() {
            return;
        }
        let rows = std::mem::take(&mut self.rows);
        for (row, score) in rows.into_iter().filter(|(row, _)| !row.is_empty()) {
            self.put(row, score);
        }
    }

    fn look(&self, visits: &mut Visits) {
        for (row, _) in self.rows.iter().filter(|(row, _)| row.len() >= 3) {
            for pair in row.windows(2) {
                *visits.links.entry(link(pair[0], pair[1])).or_default() += 1.0;
            }
        }
        for (row, count) in self.component.rows.iter().zip(&mut visits.wholes) {
            let first = self.of.get(&row[0]);
            if first.is_some() && row.iter().all(|member| self.of.get(member) == first) {
                *count += 1.0;
            }
        }
    }
}
