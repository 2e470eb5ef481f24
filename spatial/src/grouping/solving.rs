//! The choice among tracklets: which rows together explain the prints best.

use super::evidence::{Evidence, Member};
use super::gait::Gait;
use super::improving::Effort;
use super::scoring::{Model, Row};
use super::wishes::enforce;
use super::{candidates, growing, improving};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::{BinaryHeap, HashSet};

/// Rows must be this much more probable than chance to be told.
pub(super) const LEAST_SCORE: f64 = 1.0;

/// Rows of so many prints with so high a score for each are certain.
const LONG: usize = 6;
const CERTAIN_EACH: f64 = 3.0;

/// The rows of a surface, no print in two of them, and what was learnt of their gaits.
pub(super) fn solve<'a>(evidence: &'a Evidence, rounds: usize) -> (Model<'a>, Vec<Row>) {
    let mut model = Model {
        evidence,
        gait: Gait::broad(),
    };
    let mut rows = Vec::new();
    for round in 0..rounds.max(1) {
        if round > 0 {
            model.gait = model.gait.learnt(&model, &rows);
        }
        let triples = candidates::triples(&model, &settled(&model, &rows));
        let mut grown = growing::grow(&model, &triples);
        grown.par_extend(rows.into_par_iter().map(|row: Row| model.row(row.prints)));
        let told = evidence.wishes.chains();
        grown.extend(told.into_iter().map(|chain| model.row(chain)));
        let is_last = round + 1 >= rounds;
        let effort = if is_last { Effort::WHOLE } else { Effort::FIRST };
        rows = improving::improve(&model, choose(&model, grown), effort, |_| false);
        if is_last {
            rows = with_prints_left(&model, rows);
        }
    }
    rows.retain(|row| row.score > LEAST_SCORE);
    let rows = enforce(&model, rows);
    (model, rows)
}

/// The prints of long and certain rows: what was learnt of gaits will not change that they are rows, and changes to
/// them are tried all the same.
fn settled(model: &Model, rows: &[Row]) -> Vec<bool> {
    let mut is_settled = vec![false; model.evidence.feet.len()];
    for row in rows
        .iter()
        .filter(|row| row.score > CERTAIN_EACH * row.prints.len() as f64 && row.prints.len() >= LONG)
    {
        row.prints
            .iter()
            .for_each(|member| is_settled[*member as usize] = true);
    }
    is_settled
}

/// A second look at the prints that are in no row: what grows from them may reach into rows and take prints from these.
fn with_prints_left(model: &Model, rows: Vec<Row>) -> Vec<Row> {
    let mut is_left = vec![true; model.evidence.feet.len()];
    for member in rows.iter().flat_map(|row| &row.prints) {
        is_left[*member as usize] = false;
    }
    let mut grown = growing::grow(model, &candidates::triples_left(model, &is_left));
    let before: HashSet<Vec<Member>> = rows.iter().map(|row| row.prints.clone()).collect();
    grown.extend(rows);
    improving::improve(model, choose(model, grown), Effort::WHOLE, |row| {
        before.contains(&row.prints)
    })
}

/// Takes the best row, then the best of what the prints that are left allow, and so on.
pub(super) fn choose(model: &Model, rows: Vec<Row>) -> Vec<Row> {
    let mut heap: BinaryHeap<Ranked> = rows.into_iter().map(Ranked).collect();
    let mut taken = vec![false; model.evidence.feet.len()];
    let mut chosen = Vec::new();
    while let Some(Ranked(row)) = heap.pop() {
        if row.score <= 0.0 {
            break;
        }
        let free = longest_free_run(&row.prints, &taken);
        if free.len() == row.prints.len() {
            for member in &row.prints {
                taken[*member as usize] = true;
            }
            chosen.push(row);
        } else if model.is_row(free) {
            heap.push(Ranked(model.row(free.to_vec())));
        }
    }
    chosen
}

fn longest_free_run<'a>(prints: &'a [Member], taken: &[bool]) -> &'a [Member] {
    let runs = prints.split(|member| taken[*member as usize]);
    runs.max_by(|a, b| a.len().cmp(&b.len())).unwrap_or(&[])
}

/// Rows by score, then by their prints, so that no tie is left to chance.
struct Ranked(Row);

impl Ord for Ranked {
    fn cmp(&self, other: &Self) -> Ordering {
        (self.0.score.total_cmp(&other.0.score)).then_with(|| other.0.prints.cmp(&self.0.prints))
    }
}

impl PartialOrd for Ranked {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Ranked {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Ranked {}
