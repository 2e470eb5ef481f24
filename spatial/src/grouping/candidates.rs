//! Which prints could follow one another: the triples from which rows grow.

use super::evidence::Member;
use super::scoring::Model;
use rayon::prelude::*;

/// How many neighbours of a print are thought of, the most probable first.
const NEIGHBOURS: usize = 16;
/// How many triples about one print are kept.
const TRIPLES: usize = 8;

/// Three prints that could stand in a row without a missing one, in either direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Triple {
    pub prints: [Member; 3],
    pub score: f64,
}

/// The best triples about each print that is not settled in a row yet, the best of all first.
pub(super) fn triples(model: &Model, is_settled: &[bool]) -> Vec<Triple> {
    let members = (0..model.evidence.feet.len() as Member)
        .filter(|member| !is_settled[*member as usize])
        .collect();
    best(model, members, &|_| true, 1.0)
}

/// The best triples of prints that are in no row yet, prints missing between them or not.
pub(super) fn triples_left(model: &Model, is_left: &[bool]) -> Vec<Triple> {
    let members = (0..model.evidence.feet.len() as Member)
        .filter(|member| is_left[*member as usize])
        .collect();
    best(model, members, &|member| is_left[member as usize], 2.0)
}

fn best(
    model: &Model,
    mut middles: Vec<Member>,
    of: &(dyn Fn(Member) -> bool + Sync),
    paces: f64,
) -> Vec<Triple> {
    middles.sort_unstable_by_key(|member| model.evidence.rank[*member as usize]);
    let mut all: Vec<Triple> = middles
        .into_par_iter()
        .flat_map_iter(|middle| about(model, middle, of, paces))
        .collect();
    all.par_sort_by(|a, b| b.score.total_cmp(&a.score).then(a.prints.cmp(&b.prints)));
    all
}

fn about(model: &Model, middle: Member, of: &(dyn Fn(Member) -> bool + Sync), paces: f64) -> Vec<Triple> {
    let near = neighbours(model, middle, of, paces);
    let mut found = Vec::new();
    for (place, one) in near.iter().enumerate() {
        let mut two = model.start(*one);
        model.take(&mut two, middle);
        for other in &near[place + 1..] {
            let prints = [*one, middle, *other];
            if could_be_paces(model, prints, paces) {
                let score = if paces > 1.0 {
                    model.score(&prints)
                } else {
                    model.score_third(*one, &two, *other)
                };
                if score > model.gait.ends - 1.0 {
                    found.push(Triple { prints, score });
                }
            }
        }
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.prints.cmp(&b.prints)));
    found.truncate(TRIPLES);
    found
}

/// The prints within reach of so many long paces, by how probable a pace to them is.
fn neighbours(model: &Model, from: Member, of: &(dyn Fn(Member) -> bool + Sync), paces: f64) -> Vec<Member> {
    let foot = model.evidence.foot(from);
    let reach_m = model.gait.longest_pace_m(foot.length_m) * paces;
    let start = model.start(from);
    let mut near: Vec<(Member, f64)> = (model.evidence.within(foot.place, reach_m, from))
        .filter(|member| *member != from && of(*member))
        .map(|member| (member, model.gain(&start, member).gain))
        .filter(|(_, gain)| *gain > -8.0)
        .collect();
    near.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    near.truncate(NEIGHBOURS);
    near.into_iter().map(|(member, _)| member).collect()
}

/// A coarse sieve before the score: paces within a factor of two of each other, and no turning back.
fn could_be_paces(model: &Model, trio: [Member; 3], paces: f64) -> bool {
    let [first, second, third] = trio.map(|member| model.evidence.place(member));
    let (one, two) = (second - first, third - second);
    let (one_2, two_2) = (one.dot(one), two.dot(two));
    let most = (2.0 * paces).powi(2);
    one_2 < most * two_2 && two_2 < most * one_2 && one.dot(two) > -0.2 * (one_2 * two_2).sqrt()
}
