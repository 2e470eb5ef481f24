//! Two rows that run along with each other and have mixed their prints, told apart anew.
//!
//! Where a manus keeps beside its pes, or two animals go side by side, rows change over from one to the other, often more
//! than once. To put that right takes several exchanges at a time, each of which is for the worse alone. So the prints
//! of both rows, and free ones between them, are taken in the order in which they lie ahead, and each is
//! given to the one row, to the other or to none; the most probable ways so far are followed side by side.

use super::evidence::Member;
use super::gaps::MOST_MISSING;
use super::motion::Vector;
use super::rows::{Change, Rows};
use super::scoring::{Model, Walk};
use rayon::prelude::*;
use std::collections::{BTreeMap, HashSet};

/// How many ways are followed side by side.
const WIDTH: usize = 12;
/// A print of the other row is a rival if it would add no less than the next print of its own row by this much.
const RIVALS: f64 = 4.0;
/// So many rivals make two rows a tangle.
const FEWEST_RIVALS: usize = 2;
/// Prints of a longer tangle are left as they are.
const LONGEST: usize = 160;
/// A change must bring this much.
const LEAST_GAIN: f64 = 1e-3;

/// The changes that tell tangled rows apart better than they are, the best first.
pub(super) fn untangled(model: &Model, rows: &Rows, places: &[usize]) -> Vec<Change> {
    let mut pairs: Vec<(usize, usize)> = places
        .par_iter()
        .flat_map_iter(|place| rivals(model, rows, *place))
        .collect();
    pairs.par_sort_unstable();
    pairs.dedup();
    let mut changes: Vec<Change> = pairs
        .into_par_iter()
        .filter_map(|pair| apart(model, rows, pair))
        .collect();
    changes.sort_by(|a, b| b.gain.total_cmp(&a.gain).then_with(|| a.gone.cmp(&b.gone)));
    changes
}

/// The rows that a row could take prints from at several places.
fn rivals(model: &Model, rows: &Rows, place: usize) -> Vec<(usize, usize)> {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    let mut prints = rows.prints(place).to_vec();
    for _ in 0..2 {
        let mut walk = model.start(prints[0]);
        for at in 1..prints.len() {
            model.take(&mut walk, prints[at]);
            if at < 2 {
                continue;
            }
            let next = prints.get(at + 1);
            let least = next.map_or(0.0, |next| model.gain(&walk, *next).gain - RIVALS);
            let reach = if next.is_some() { 1 } else { MOST_MISSING };
            for other in model.nexts(&walk, reach, least.min(2.0)) {
                if let Some(rival) = rows.of[other.member as usize].filter(|rival| *rival != place) {
                    *counts.entry(rival).or_default() += 1;
                }
            }
        }
        prints.reverse();
    }
    counts
        .into_iter()
        .filter(|(_, count)| *count >= FEWEST_RIVALS)
        .map(|(rival, _)| (place.min(rival), place.max(rival)))
        .collect()
}

fn apart(model: &Model, rows: &Rows, (one, other): (usize, usize)) -> Option<Change> {
    let prints = in_order(model, rows, one, other)?;
    let new = best_way(model, &prints)?;
    let then: f64 = new.iter().map(|prints| model.score(prints).max(0.0)).sum();
    let gain = then - rows.score(one) - rows.score(other);
    (gain > LEAST_GAIN).then(|| Change {
        gone: vec![one, other],
        seen_at: prints,
        new: new.into(),
        gain,
    })
}

/// The prints of both rows and the free ones beside them, in the order in which they lie along the longer row; none
/// where the rows do not go the same way.
fn in_order(model: &Model, rows: &Rows, one: usize, other: usize) -> Option<Vec<Member>> {
    let (mut line, mut beside) = (rows.prints(one), rows.prints(other));
    if line.len() < beside.len() {
        std::mem::swap(&mut line, &mut beside);
    }
    let course = Course::of(line.iter().map(|member| model.evidence.place(*member)).collect());
    let mut all: Vec<(f64, Member)> = Vec::new();
    let mut seen: HashSet<Member> = HashSet::new();
    let mut add = |member: Member| {
        if seen.insert(member) {
            all.push((course.along_m(model.evidence.place(member)), member));
        }
    };
    line.iter().chain(beside).for_each(|member| add(*member));
    for member in line.iter().chain(beside) {
        let reach_m = 0.6 * course.pace_m;
        let near = model
            .evidence
            .within(model.evidence.place(*member), reach_m, *member);
        near.filter(|near| rows.of[*near as usize].is_none())
            .for_each(&mut add);
    }
    // The other row's own order must come out again, the one way or the other, all but a few of its prints.
    let rising = beside.windows(2).filter(|pair| {
        let [a, b] = [pair[0], pair[1]].map(|member| course.along_m(model.evidence.place(member)));
        a < b
    });
    let rising = rising.count();
    if rising.min(beside.len() - 1 - rising) * 4 > beside.len() || all.len() > LONGEST {
        return None;
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    Some(all.into_iter().map(|(_, member)| member).collect())
}

/// A row as a line from print to print.
struct Course {
    places: Vec<Vector>,
    walked_m: Vec<f64>,
    pace_m: f64,
}

impl Course {
    fn of(places: Vec<Vector>) -> Self {
        let mut walked_m = vec![0.0];
        for pair in places.windows(2) {
            walked_m.push(walked_m[walked_m.len() - 1] + (pair[1] - pair[0]).length());
        }
        let mut paces: Vec<f64> = walked_m.windows(2).map(|pair| pair[1] - pair[0]).collect();
        paces.sort_by(f64::total_cmp);
        Self {
            pace_m: paces[paces.len() / 2],
            places,
            walked_m,
        }
    }

    /// How far along the line a place lies, seen from its nearest leg; the ends go on straight.
    fn along_m(&self, place: Vector) -> f64 {
        let mut best = (f64::INFINITY, 0.0);
        let legs = self.places.len() - 1;
        for leg in 0..legs {
            let (from, way) = (self.places[leg], self.places[leg + 1] - self.places[leg]);
            let length = way.length().max(1e-9);
            let part = (place - from).dot(way) / (length * length);
            let low = if leg == 0 { f64::NEG_INFINITY } else { 0.0 };
            let high = if leg + 1 == legs { f64::INFINITY } else { 1.0 };
            let part = part.clamp(low, high);
            let off_m = (place - from - way * part).length();
            if off_m < best.0 {
                best = (off_m, self.walked_m[leg] + part * length);
            }
        }
        best.1
    }
}

/// One way to give the prints so far to two rows.
struct Way {
    walks: [Option<Walk>; 2],
    /// The last two prints of each row: ways that agree in them go on alike.
    lasts: [[Member; 2]; 2],
    score: f64,
    /// Its last gift among all that were made.
    gift: Option<usize>,
}

/// A print given to one of the rows, and the gift before.
struct Gift {
    row: usize,
    member: Member,
    before: Option<usize>,
}

/// A way with one print more: which way, the row that takes the print, and its walk then.
struct Step {
    way: usize,
    taken: Option<(usize, Walk)>,
    lasts: [[Member; 2]; 2],
    score: f64,
}

/// No print.
const NONE: Member = Member::MAX;

fn best_way(model: &Model, prints: &[Member]) -> Option<[Vec<Member>; 2]> {
    let mut ways = vec![Way {
        walks: [None; 2],
        lasts: [[NONE; 2]; 2],
        score: 0.0,
        gift: None,
    }];
    let mut gifts: Vec<Gift> = Vec::new();
    let (mut steps, mut order): (Vec<Step>, Vec<usize>) = (Vec::new(), Vec::new());
    for member in prints {
        for (place, way) in ways.iter().enumerate() {
            // Two empty rows are alike: the first print goes to the first.
            let rows = if way.walks[0].is_some() { 2 } else { 1 };
            steps.extend((0..rows).map(|row| way.step(model, place, row, *member)));
            steps.push(Step {
                way: place,
                taken: None,
                lasts: way.lasts,
                score: way.score,
            });
        }
        order.clear();
        order.extend(0..steps.len());
        // Steps are large: they stay where they are.
        order.sort_by(|a, b| {
            let (a, b) = (&steps[*a], &steps[*b]);
            b.score.total_cmp(&a.score).then_with(|| a.lasts.cmp(&b.lasts))
        });
        let mut further: Vec<Way> = Vec::with_capacity(WIDTH);
        for step in order.iter().map(|place| &steps[*place]) {
            if further.len() < WIDTH && further.iter().all(|way| way.lasts != step.lasts) {
                further.push(ways[step.way].after(step, *member, &mut gifts));
            }
        }
        ways = further;
        steps.clear();
    }
    let whole = |way: &Way| {
        let scores = way.walks.iter().flatten().map(|walk| walk.score.max(0.0));
        scores.sum::<f64>()
    };
    let best = ways
        .into_iter()
        .max_by(|a, b| whole(a).total_cmp(&whole(b)).then_with(|| b.lasts.cmp(&a.lasts)))?;
    Some(given(&gifts, best.gift))
}

/// The two rows that a way made, from its last gift back to the first.
fn given(gifts: &[Gift], mut last: Option<usize>) -> [Vec<Member>; 2] {
    let mut rows = [Vec::new(), Vec::new()];
    while let Some(Gift { row, member, before }) = last.map(|last| &gifts[last]) {
        rows[*row].push(*member);
        last = *before;
    }
    rows.iter_mut().for_each(|row| row.reverse());
    rows
}

impl Way {
    /// What it comes to if a row takes a print.
    fn step(&self, model: &Model, way: usize, row: usize, member: Member) -> Step {
        let (mut score, mut lasts) = (self.score, self.lasts);
        let walk = match self.walks[row] {
            Some(mut walk) => {
                let before = walk.score;
                model.take(&mut walk, member);
                score += walk.score - before;
                walk
            }
            // What a row's ends cost is the same whenever it begins.
            None => model.start(member),
        };
        lasts[row] = [member, lasts[row][0]];
        Step {
            way,
            taken: Some((row, walk)),
            lasts,
            score,
        }
    }

    fn after(&self, step: &Step, member: Member, gifts: &mut Vec<Gift>) -> Self {
        let (mut walks, mut gift) = (self.walks, self.gift);
        if let Some((row, walk)) = step.taken {
            walks[row] = Some(walk);
            gifts.push(Gift {
                row,
                member,
                before: self.gift,
            });
            gift = Some(gifts.len() - 1);
        }
        Self {
            walks,
            lasts: step.lasts,
            score: step.score,
            gift,
        }
    }
}
