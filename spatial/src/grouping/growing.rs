//! Tracklets, from certain triples outwards.

use super::candidates::Triple;
use super::evidence::Member;
use super::gaps::MOST_MISSING;
use super::scoring::{Model, Row, Walk};
use rayon::prelude::*;
use std::collections::HashSet;

/// How many continuations are followed side by side.
const WIDTH: usize = 3;
/// A continuation this much worse than the best is given up.
const GIVE_UP: f64 = 5.0;
/// Prints of a row with this score are not tried again in triples with each other.
const CERTAIN: f64 = 15.0;
/// The least that a next print may add: a poor print is gone through if those after it make up for it.
const LEAST_GAIN: f64 = -3.0;

/// Grows rows from triples, the best triples first; a triple that lies in a row already grown is passed over.
pub(super) fn grow(model: &Model, triples: &[Triple]) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let mut covered: HashSet<[Member; 3]> = HashSet::new();
    let mut settled = vec![false; model.evidence.feet.len()];
    // Batches do not depend on the number of cores, so neither does what is passed over.
    for batch in triples.chunks((triples.len() / 24).max(64)) {
        let mut fresh: Vec<&Triple> = batch
            .iter()
            .filter(|triple| !covered.contains(&key(triple.prints)))
            .filter(|triple| {
                triple
                    .prints
                    .iter()
                    .filter(|member| settled[**member as usize])
                    .count()
                    < 2
            })
            .collect();
        fresh.sort_by_key(|triple| model.evidence.rank[triple.prints[1] as usize]);
        let grown: Vec<Row> = fresh
            .par_iter()
            .filter_map(|triple| from_triple(model, triple))
            .collect();
        for row in grown {
            covered.extend(row.prints.windows(3).map(|w| key([w[0], w[1], w[2]])));
            if row.score > CERTAIN {
                row.prints
                    .iter()
                    .for_each(|member| settled[*member as usize] = true);
            }
            rows.push(row);
        }
    }
    rows
}

/// The same for a triple and its reverse.
fn key([first, second, third]: [Member; 3]) -> [Member; 3] {
    if first < third {
        [first, second, third]
    } else {
        [third, second, first]
    }
}

fn from_triple(model: &Model, triple: &Triple) -> Option<Row> {
    let mut prints = lengthened(model, triple.prints.to_vec());
    prints.reverse();
    let prints = lengthened(model, prints);
    if prints.len() < 4 && triple.score <= 0.0 {
        return None;
    }
    let row = model.row(prints);
    (row.score > 0.0).then_some(row)
}

/// The row with what could be added after its last print.
pub(super) fn lengthened(model: &Model, prints: Vec<Member>) -> Vec<Member> {
    let Some(walk) = model.walk(&prints, &mut Vec::new()) else {
        return prints;
    };
    let mut best = (walk.score, prints.clone());
    let mut beam: Vec<(Walk, Vec<Member>)> = vec![(walk, prints)];
    while !beam.is_empty() {
        let mut further: Vec<(Walk, usize)> = Vec::new();
        for (before, (walk, prints)) in beam.iter().enumerate() {
            let nexts = model.nexts(walk, MOST_MISSING, LEAST_GAIN);
            for next in nexts.into_iter().take(WIDTH) {
                if prints.contains(&next.member) {
                    continue;
                }
                let mut after = *walk;
                model.take(&mut after, next.member);
                further.push((after, before));
            }
        }
        further.sort_by(|(a, a_before), (b, b_before)| {
            let ties = || (&beam[*a_before].1, a.last).cmp(&(&beam[*b_before].1, b.last));
            b.score.total_cmp(&a.score).then_with(ties)
        });
        // Two ways to the same print: the better one stands for both.
        let mut seen: Vec<Member> = Vec::new();
        further.retain(|(walk, _)| {
            let is_new = walk.score > best.0 - GIVE_UP && !seen.contains(&walk.last);
            seen.extend(is_new.then_some(walk.last));
            is_new
        });
        further.truncate(WIDTH);
        let with = |(walk, before): (Walk, usize)| (walk, [&beam[before].1[..], &[walk.last]].concat());
        let further: Vec<(Walk, Vec<Member>)> = further.into_iter().map(with).collect();
        if let Some((walk, prints)) = further.first()
            && walk.score > best.0
        {
            best = (walk.score, prints.clone());
        }
        beam = further;
    }
    best.1
}
