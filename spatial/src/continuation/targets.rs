//! Squares of ground where further prints of a trackway are worth looking for.

use super::ahead::{Part, Stage};
use super::answer::Target;
use super::plane::{minus, plus};
use super::steps::Way;
use crate::model::ExtentKind;
use geo::{LineString, Polygon};
use libm::erf;
use std::collections::BTreeMap;

/// Steps less probable than this add nothing worth the time.
const LEAST: f64 = 1e-3;
/// How far off a step's mean squares are looked at, in standard deviations.
const REACH: f64 = 3.5;
/// The most squares across which one step is spread; a wider one says nothing of any of them.
const MOST_ACROSS: i64 = 60;
/// Strips in which a square's content is added up.
const STRIPS: usize = 8;
/// How many kinds of unsteadiness are added up, the weightiest.
const WEIGHTIEST: usize = 8;

/// What is added up for one square.
#[derive(Debug, Clone, Copy)]
struct Sum {
    none: f64,
    expected: f64,
    most: f64,
    step: usize,
}

/// The squares, the most probable first. `hidden` is the probability for each step that it was made and not seen.
///
/// # Formula
/// P(a square holds a print of step k) = P(k made and unseen) · ∫ over the square of the mixture · (1 − seen there) /
/// (1 − seen on average); of several steps 1 − Π (1 − P).
pub(super) fn targets(way: &Way, hidden: &[f64]) -> Vec<Target> {
    let side = way.options.square_m;
    let mut sums: BTreeMap<[i64; 2], Sum> = BTreeMap::new();
    for (number, (stage, hidden)) in way.stages.iter().zip(hidden).enumerate() {
        if *hidden < LEAST {
            continue;
        }
        let middle = plus(way.track.origin, stage.mean);
        let reach = REACH * stage.axes.major;
        let cells = |axis: usize| {
            let from = ((middle[axis] - reach) / side).floor() as i64;
            let to = ((middle[axis] + reach) / side).floor() as i64;
            from..=to.min(from + MOST_ACROSS)
        };
        for east in cells(0) {
            for north in cells(1) {
                let lower = [east as f64 * side, north as f64 * side];
                let seen = way.ground_seen(plus(lower, [side / 2.0; 2]));
                let unseen = (1.0 - seen) / (1.0 - way.seen[number]).max(1e-3);
                let content = content(stage, minus(lower, way.track.origin), side);
                let part = (hidden * content * unseen).clamp(0.0, 1.0);
                if part > LEAST * LEAST {
                    sums.entry([east, north])
                        .or_insert(Sum::new())
                        .add(part, number + 1);
                }
            }
        }
    }
    ranked(way, sums)
}

impl Sum {
    fn new() -> Self {
        Self {
            none: 1.0,
            expected: 0.0,
            most: 0.0,
            step: 1,
        }
    }

    fn add(&mut self, part: f64, step: usize) {
        self.none *= 1.0 - part;
        self.expected += part;
        if part > self.most {
            (self.most, self.step) = (part, step);
        }
    }
}

fn ranked(way: &Way, sums: BTreeMap<[i64; 2], Sum>) -> Vec<Target> {
    let side = way.options.square_m;
    let of_cell = |([east, north], sum): ([i64; 2], Sum)| {
        let [west, south] = [east as f64 * side, north as f64 * side];
        let in_extent = way
            .surroundings
            .ground
            .at([west + side / 2.0, south + side / 2.0]);
        let corners = [
            (west, south),
            (west + side, south),
            (west + side, south + side),
            (west, south + side),
        ];
        (in_extent.kind != ExtentKind::Exposed).then(|| Target {
            square: Polygon::new(LineString::from(corners.to_vec()), Vec::new()),
            in_extent,
            probability: 1.0 - sum.none,
            expected_prints: sum.expected,
            nearest_step: sum.step,
        })
    };
    let mut targets: Vec<Target> = sums.into_iter().filter_map(of_cell).collect();
    targets.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    targets.truncate(way.options.most);
    targets
}

/// The part of a step's mixture that lies in a square, seen from the track's origin.
fn content(stage: &Stage, lower: [f64; 2], side: f64) -> f64 {
    let parts = || stage.parts.iter().take(WEIGHTIEST);
    let weights: f64 = parts().map(|part| part.weight).sum();
    let sum: f64 = parts().map(|part| part.weight * within(part, lower, side)).sum();
    sum / weights
}

/// The part of a normal law in a square: strips of easting, each with its own law of northing. The tails beyond a normal
/// law's are left out here; they lie far off.
fn within(part: &Part, lower: [f64; 2], side: f64) -> f64 {
    let normal = |off: f64| 0.5 * (1.0 + erf(off / std::f64::consts::SQRT_2));
    let (sd_e, spread) = (part.spread.ee.max(1e-12).sqrt(), part.spread);
    let from = (lower[0] - part.mean[0]).max(-5.0 * sd_e);
    let to = (lower[0] + side - part.mean[0]).min(5.0 * sd_e);
    if from >= to {
        return 0.0;
    }
    let sd_n = (spread.determinant() / spread.ee.max(1e-12)).sqrt();
    let width = (to - from) / STRIPS as f64;
    let (mut sum, mut before) = (0.0, normal(from / sd_e));
    for strip in 1..=STRIPS {
        let east = from + width * strip as f64;
        let share = normal(east / sd_e) - before;
        before += share;
        let north = part.mean[1] + spread.en / spread.ee.max(1e-12) * (east - width / 2.0);
        let (low, high) = ((lower[1] - north) / sd_n, (lower[1] + side - north) / sd_n);
        if low < 5.0 && high > -5.0 {
            sum += share * (normal(high) - normal(low));
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::super::plane::Spread;
    use super::*;

    #[test]
    fn squares_share_a_step_out_among_them() {
        let part = Part {
            weight: 1.0,
            mean: [0.3, -0.2],
            spread: Spread {
                ee: 0.5,
                en: 0.3,
                nn: 0.4,
            },
        };
        let mut sum = 0.0;
        for east in -8..8 {
            for north in -8..8 {
                sum += within(&part, [f64::from(east), f64::from(north)], 1.0);
            }
        }
        assert!((sum - 1.0).abs() < 1e-3, "{sum}");
        // Of independent axes the content is a product of two.
        let part = Part {
            mean: [0.0, 0.0],
            spread: Spread::round(1.0),
            ..part
        };
        let expected = 0.341_344_746_068_542_9f64.powi(2);
        assert!((within(&part, [0.0, 0.0], 1.0) - expected).abs() < 1e-6);
    }
}
