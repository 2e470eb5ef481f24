//! Rows as they could be too: a random walk over groupings, each visited as often as it is probable.
//!
//! Links are cut, joined and exchanged one at a time (Markov chain Monte Carlo data association); a change is
//! taken by the rule of Metropolis and Hastings.

use super::components::Component;
use super::doubts::Link;
use super::evidence::Member;
use super::scoring::Model;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::hash::{BuildHasherDefault, Hasher};

/// Scores are drawn this much towards evens: successive prints share their errors, so that their evidence is not as
/// independent as the sum of its logarithms takes it to be. Chosen so that probabilities on simulated surfaces come true.
const TEMPER: f64 = 1.5;
/// The score of two prints alone. They are no row, only a way from one grouping to another; were they as good as two
/// free prints, their great number would draw the walk away from rows.
const PAIR: f64 = -3.0;

/// After so many looks the walk begins anew at the best grouping. Left to itself it strays into the great number of
/// poor groupings, from which single changes seldom lead back, and good links would seem improbable for no other reason.
const RESTART: usize = 10;

/// At how many looks each link, and each row as a whole, was there.
#[derive(Debug, Default)]
pub(super) struct Visits {
    pub links: BTreeMap<Link, f64>,
    /// For each row given: at how many looks all its prints were in one row.
    pub wholes: Vec<f64>,
}

/// A print's place among those of its component.
type Place = u32;

/// One state of the walk.
struct State<'a> {
    model: &'a Model<'a>,
    /// The component's prints.
    members: Vec<Member>,
    /// Those that each of them could stand next to, and how often it was seen there.
    beside: Vec<Vec<(Place, f64)>>,
    /// The component's rows: where each restart begins.
    best: Vec<Vec<Place>>,
    /// Rows of at least two prints; empty ones are free to be used again.
    rows: Vec<(Vec<Place>, f64)>,
    of: Vec<Option<usize>>,
    /// Scores met before: most changes are proposed many times over.
    scores: HashMap<Vec<Place>, f64, BuildHasherDefault<Mixed>>,
}

/// Walks so many steps for each link that is tried, and counts what was there after each.
pub(super) fn sample(model: &Model, component: &Component, steps: usize, rng: &mut ChaCha8Rng) -> Visits {
    let mut state = State::new(model, component);
    let tried: Vec<[Place; 2]> = component.tried.iter().map(|link| state.places(*link)).collect();
    let mut wholes = vec![0.0; component.rows.len()];
    for step in 0..steps {
        if step > 0 && step % RESTART == 0 {
            state.restart();
        }
        for _ in 0..tried.len() {
            let chosen = tried[rng.random_range(0..tried.len())];
            if let Some(change) = state.propose(chosen, rng) {
                state.accept(change, rng);
            }
        }
        state.look(&mut wholes);
    }
    let seen = component.possible.iter().filter_map(|link| {
        let [one, other] = state.places(*link);
        let count = state.beside[one as usize]
            .iter()
            .find(|(place, _)| *place == other)?
            .1;
        (count > 0.0).then_some((*link, count))
    });
    Visits {
        links: seen.collect(),
        wholes,
    }
}

/// Rows that go and rows that come.
struct Change {
    gone: Vec<usize>,
    new: Vec<Vec<Place>>,
}

impl<'a> State<'a> {
    fn new(model: &'a Model, component: &Component) -> Self {
        let ends = component.possible.iter().flat_map(|(one, other)| [*one, *other]);
        let members: BTreeSet<Member> = ends.chain(component.rows.iter().flatten().copied()).collect();
        let mut state = Self {
            model,
            beside: vec![Vec::new(); members.len()],
            of: vec![None; members.len()],
            members: members.into_iter().collect(),
            best: Vec::new(),
            rows: Vec::new(),
            scores: HashMap::default(),
        };
        for link in &component.possible {
            let [one, other] = state.places(*link);
            state.beside[one as usize].push((other, 0.0));
            state.beside[other as usize].push((one, 0.0));
        }
        let places = |row: &Vec<Member>| row.iter().map(|member| state.place(*member)).collect();
        state.best = component.rows.iter().map(places).collect();
        state.restart();
        state
    }

    fn place(&self, member: Member) -> Place {
        self.members.partition_point(|other| *other < member) as Place
    }

    fn places(&self, (one, other): Link) -> [Place; 2] {
        [self.place(one), self.place(other)]
    }

    /// Back to the best grouping; scores met are kept.
    fn restart(&mut self) {
        self.rows.clear();
        self.of.fill(None);
        for row in self.best.clone() {
            let score = self.score(&row);
            self.put(row, score);
        }
    }

    fn put(&mut self, row: Vec<Place>, score: f64) {
        for place in &row {
            self.of[*place as usize] = Some(self.rows.len());
        }
        self.rows.push((row, score));
    }

    /// The row that a print is in, where it stands there, and how long the row is.
    fn row_of(&self, place: Place) -> (Option<usize>, usize, usize) {
        let Some(row) = self.of[place as usize] else {
            return (None, 0, 1);
        };
        let prints = &self.rows[row].0;
        let at = prints.iter().position(|other| *other == place).unwrap_or(0);
        (Some(row), at, prints.len())
    }

    /// A row's prints; a print in no row is a row of its own.
    fn prints(&self, row: Option<usize>, place: Place) -> Vec<Place> {
        row.map_or_else(|| vec![place], |row| self.rows[row].0.clone())
    }

    fn propose(&self, [one, other]: [Place; 2], rng: &mut ChaCha8Rng) -> Option<Change> {
        let (row, mut at, length) = self.row_of(one);
        let (other_row, mut other_at, other_length) = self.row_of(other);
        if let Some(row) = row.filter(|row| Some(*row) == other_row) {
            return self.cut(row, at, other_at, rng);
        }
        let (mut prints, mut others) = (self.prints(row, one), self.prints(other_row, other));
        // Which of its two neighbours each print gives up: that behind it in the row as turned.
        if rng.random_bool(0.5) {
            prints.reverse();
            at = length - 1 - at;
        }
        if rng.random_bool(0.5) {
            others.reverse();
            other_at = other_length - 1 - other_at;
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
    fn cut(&self, row: usize, at: usize, other_at: usize, rng: &mut ChaCha8Rng) -> Option<Change> {
        let (low, high) = (at.min(other_at), at.max(other_at));
        if high - low != 1 {
            return None;
        }
        let prints = &self.rows[row].0;
        if rng.random_bool(0.5) {
            return Some(Change {
                gone: vec![row],
                new: vec![prints[..high].to_vec(), prints[high..].to_vec()],
            });
        }
        let out = if rng.random_bool(0.5) { low } else { high };
        let (before, after) = (prints.get(out.wrapping_sub(1))?, prints.get(out + 1)?);
        self.is_possible(*before, *after).then(|| Change {
            gone: vec![row],
            new: vec![[&prints[..out], &prints[out + 1..]].concat()],
        })
    }

    fn is_possible(&self, one: Place, other: Place) -> bool {
        self.beside[one as usize].iter().any(|(place, _)| *place == other)
    }

    fn score(&mut self, row: &[Place]) -> f64 {
        if let Some(score) = self.scores.get(row) {
            return *score;
        }
        let prints: Vec<Member> = row.iter().map(|place| self.members[*place as usize]).collect();
        let score = if row.len() == 2 && !self.model.is_row(&prints) {
            PAIR
        } else {
            self.model.score(&prints)
        };
        self.scores.insert(row.to_vec(), score);
        score
    }

    fn accept(&mut self, change: Change, rng: &mut ChaCha8Rng) {
        let now: f64 = change.gone.iter().map(|row| self.rows[*row].1).sum();
        let scores: Vec<f64> = change.new.iter().map(|row| self.score(row)).collect();
        let gain = (scores.iter().sum::<f64>() - now) / TEMPER;
        if gain < 0.0 && rng.random::<f64>() >= gain.exp() {
            return;
        }
        for row in change.gone {
            for place in std::mem::take(&mut self.rows[row].0) {
                self.of[place as usize] = None;
            }
            self.rows[row].1 = 0.0;
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
        if self.rows.len() < 64 + 4 * self.best.len() {
            return;
        }
        let rows = std::mem::take(&mut self.rows);
        for (row, score) in rows.into_iter().filter(|(row, _)| !row.is_empty()) {
            self.put(row, score);
        }
    }

    /// Counts the links that are there, and the rows that are whole.
    fn look(&mut self, wholes: &mut [f64]) {
        for (row, _) in self.rows.iter().filter(|(row, _)| row.len() >= 3) {
            for pair in row.windows(2) {
                for [one, other] in [[pair[0], pair[1]], [pair[1], pair[0]]] {
                    let mut beside = self.beside[one as usize].iter_mut();
                    beside
                        .find(|(place, _)| *place == other)
                        .into_iter()
                        .for_each(|(_, count)| *count += 1.0);
                }
            }
        }
        for (row, count) in self.best.iter().zip(wholes) {
            let first = self.of[row[0] as usize];
            if first.is_some() && row.iter().all(|place| self.of[*place as usize] == first) {
                *count += 1.0;
            }
        }
    }
}

/// A hash of small whole numbers that costs less than the comparison after it; nobody chooses them to make it fail.
#[derive(Default)]
struct Mixed(u64);

impl Hasher for Mixed {
    fn write(&mut self, bytes: &[u8]) {
        for four in bytes.chunks(4) {
            let number = four.iter().fold(0, |number, byte| number << 8 | u64::from(*byte));
            // The golden ratio as a fraction of 2^64 (Knuth, The Art of Computer Programming 3, 6.4; cited from memory).
            self.0 = (self.0.rotate_left(5) ^ number).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        }
    }

    fn finish(&self) -> u64 {
        self.0 ^ self.0 >> 32
    }
}
