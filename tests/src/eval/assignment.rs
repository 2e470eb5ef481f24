//! Baseline: a first-order linear assignment.
//!
//! Each print gets at most one successor and at most one predecessor, so that the sum of the weights of single pairs is
//! largest. A pair's weight is what its two prints say on their own: the pace for the foot's length, the sizes, the
//! azimuths against the way between them, sides, limb and kind. What comes before and after has no voice.

use super::nearest::{Chains, could_be_one};
use spatial::angle::{azimuth_rad, turn_rad};
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::Print;
use std::collections::BTreeSet;

/// A pair must be this much better than none.
const NONE: f64 = 0.0;
/// The step of the auction: the sum is within this much a print of the best.
const STEP: f64 = 0.01;

/// Chains of prints by the best assignment of successors.
///
/// Without azimuths a pair is as good in either direction, and the best assignment is full of pairs that follow each
/// other. That would be no fair baseline: one direction of each such pair is taken out and the assignment solved again.
#[must_use]
pub fn assignment_chains(index: &SurfaceIndex) -> Vec<Vec<PrintNo>> {
    let mut options = options(index);
    let mut successors = auction(&options);
    for _ in 0..12 {
        let circles = mutual(&successors);
        if circles.is_empty() {
            break;
        }
        for (from, list) in (0..).zip(&mut options) {
            list.retain(|(to, _)| !circles.contains(&(from, *to)));
        }
        successors = auction(&options);
    }
    let mut chains = Chains::of(successors.len());
    for (from, to) in (0..).zip(&successors) {
        if let Some(to) = to {
            chains.link(from, *to);
        }
    }
    chains.listed()
}

/// The weaker direction of each pair of prints that are each other's successors.
fn mutual(successors: &[Option<PrintNo>]) -> BTreeSet<(PrintNo, PrintNo)> {
    let mut circles = BTreeSet::new();
    for (from, to) in (0..).zip(successors) {
        if let Some(to) = *to
            && successors[to as usize] == Some(from)
        {
            circles.insert((from.max(to), from.min(to)));
        }
    }
    circles
}

fn options(index: &SurfaceIndex) -> Vec<Vec<(PrintNo, f64)>> {
    let of_print = |(from, print): (PrintNo, &Print)| {
        let near = index.within([print.easting_m, print.northing_m], 8.0 * print.length_m);
        let near = near
            .into_iter()
            .filter(|(to, _)| *to != from && could_be_one(print, index.print(*to)));
        near.map(|(to, far_m)| (to, weight(print, index.print(to), far_m)))
            .filter(|(_, weight)| *weight > NONE)
            .collect()
    };
    (0..).zip(index.prints()).map(of_print).collect()
}

/// What two prints say of the second following the first, as a logarithm; common practice for the measures.
fn weight(one: &Print, other: &Print, far_m: f64) -> f64 {
    let normal = |off: f64, sd: f64| -0.5 * (off / sd).powi(2);
    let length_m = (one.length_m * other.length_m).sqrt();
    let mut weight =
        3.0 + normal((far_m / length_m / 3.8).ln(), 0.4) + normal((one.length_m / other.length_m).ln(), 0.1);
    let way_rad = azimuth_rad(other.easting_m - one.easting_m, other.northing_m - one.northing_m);
    for print in [one, other] {
        if let Some(azimuth_deg) = print.azimuth_deg {
            weight += 1.0 + normal(turn_rad(way_rad, azimuth_deg.to_radians()), 0.4).max(-8.0);
        }
    }
    match (one.side, other.side) {
        (Some(a), Some(b)) if a == b => weight -= 3.0,
        (Some(_), Some(_)) => weight += 0.6,
        _ => {}
    }
    weight
}

/// The assignment of largest weight, by bidding: each print bids for its best successor by as much as that is better
/// than its second best; whoever is outbid bids again.
///
/// # References
/// Bertsekas, D. P. (1988), The auction algorithm, Annals of Operations Research 14 (cited from memory).
fn auction(options: &[Vec<(PrintNo, f64)>]) -> Vec<Option<PrintNo>> {
    let mut prices = vec![0.0; options.len()];
    let mut owners: Vec<Option<usize>> = vec![None; options.len()];
    let mut bidders: Vec<usize> = (0..options.len()).collect();
    while let Some(bidder) = bidders.pop() {
        let (mut best, mut second) = ((None, NONE), NONE);
        for (to, weight) in &options[bidder] {
            let value = weight - prices[*to as usize];
            if value > best.1 {
                second = best.1;
                best = (Some(*to as usize), value);
            } else if value > second {
                second = value;
            }
        }
        if let Some(to) = best.0 {
            prices[to] += best.1 - second + STEP;
            bidders.extend(owners[to].replace(bidder));
        }
    }
    let mut successors = vec![None; options.len()];
    for (to, owner) in (0..).zip(&owners) {
        if let Some(owner) = owner {
            successors[*owner] = Some(to);
        }
    }
    successors
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The best sum over all assignments, by trying them.
    fn best_sum(options: &[Vec<(PrintNo, f64)>], from: usize, taken: &mut Vec<bool>) -> f64 {
        if from == options.len() {
            return 0.0;
        }
        let mut best = best_sum(options, from + 1, taken);
        for (to, weight) in &options[from] {
            if !taken[*to as usize] {
                taken[*to as usize] = true;
                best = best.max(weight + best_sum(options, from + 1, taken));
                taken[*to as usize] = false;
            }
        }
        best
    }

    #[test]
    fn the_auction_finds_the_best_sum() {
        // Weights from a plain congruential sequence: six prints, four options each.
        let mut state = 12345u64;
        let mut draw = |below: u64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % below
        };
        for _ in 0..50 {
            let options: Vec<Vec<(PrintNo, f64)>> = (0..6)
                .map(|_| {
                    (0..4)
                        .map(|_| (draw(6) as PrintNo, draw(1000) as f64 / 100.0))
                        .collect()
                })
                .collect();
            let weight = |from: usize, to: PrintNo| {
                let fitting = options[from].iter().filter(|(option, _)| *option == to);
                fitting
                    .map(|(_, weight)| *weight)
                    .fold(f64::NEG_INFINITY, f64::max)
            };
            let successors = auction(&options);
            let sum: f64 = successors
                .iter()
                .enumerate()
                .filter_map(|(from, to)| to.map(|to| weight(from, to)))
                .sum();
            let best = best_sum(&options, 0, &mut vec![false; 6]);
            assert!(best - sum < 6.0 * STEP + 1e-9, "{sum} against {best}");
        }
    }
}
