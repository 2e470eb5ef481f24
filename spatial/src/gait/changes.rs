//! Where along a trackway the stride changes.

use super::row::{Row, between, length_m};
use super::speed::Motion;
use crate::model::{Label, named};
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use serde::Serialize;

/// The fewest steps on each side of a change.
const LEAST_STEPS: usize = 4;
const TEST: &str = "seeded permutation of half strides";

/// Said wherever a change is given.
pub const CHANGES_CAUTION: &str = "The test holds that steps of one gait come in random order. A stride that drifts slowly is \
    also cut into parts, and what made the animal change is not in its prints alone: look at the ground there.";

named!(
    /// Whether strides become longer or shorter.
    Turn {
        /// Longer strides.
        Faster = "faster",
        /// Shorter strides.
        Slower = "slower",
    }
);

/// A place where an animal sped up or slowed down.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// The last print of the old gait.
    pub at_print: Label,
    /// Its number in the row of its limb, counted from 1.
    pub at_number: usize,
    /// Faster or slower.
    pub turn: Turn,
    /// The mean stride from the change before (or the start) to here: twice the mean advance of a step.
    pub stride_before_m: f64,
    /// The mean stride from here to the next change (or the end).
    pub stride_after_m: f64,
    /// Speed of the one.
    pub speed_before_m_s: Option<f64>,
    /// Speed of the other.
    pub speed_after_m_s: Option<f64>,
    /// The probability of a break as large as this somewhere in that part of the trackway, were its steps in
    /// random order.
    pub p: f64,
    /// How p was found.
    pub p_method: &'static str,
}

/// The fewest steps in which a change can be found at all.
pub(super) const FEWEST_STEPS: usize = 2 * LEAST_STEPS;

/// How hard to look.
#[derive(Debug, Clone, Copy)]
pub(super) struct Search {
    pub level: f64,
    pub permutations: u32,
    pub seed: u64,
}

/// Finds the changes, in walking order.
///
/// Strides overlap, each with the next by a pace, so a single odd print would move two of them. The test is on
/// what does not overlap: the logarithm of each step's advance along the direction of travel, a half stride.
/// The row is split where the two parts' means differ most, if chance does so in fewer than `level` of the
/// permutations, and the parts are split again (binary segmentation).
///
/// # References
/// Scott, A. J. & Knott, M. (1974), Biometrics 30, 507-512 (splitting; from memory). The permutation p is
/// common practice.
pub(super) fn find(row: &Row, hip_height_m: Option<f64>, search: Search) -> Vec<Change> {
    let advances_m = advances_m(row);
    let logs: Vec<f64> = advances_m.iter().map(|advance| advance.ln()).collect();
    let mut random = ChaCha8Rng::seed_from_u64(search.seed);
    let mut breaks = Vec::new();
    split(&logs, 0, search, &mut random, &mut breaks);
    breaks.sort_unstable_by_key(|(place, _)| *place);
    let mean_stride_m =
        |from: usize, to: usize| 2.0 * advances_m[from..to].iter().sum::<f64>() / (to - from) as f64;
    let speed = |stride_m: f64| Some(Motion::of(stride_m, hip_height_m?)?.speed_m_s);
    (breaks.iter().enumerate())
        .map(|(number, &(place, p))| {
            let start = number.checked_sub(1).map_or(0, |before| breaks[before].0);
            let end = breaks.get(number + 1).map_or(advances_m.len(), |next| next.0);
            let (before, after) = (mean_stride_m(start, place), mean_stride_m(place, end));
            Change {
                at_print: row.prints[place].print.label.clone(),
                at_number: place + 1,
                turn: if after > before {
                    Turn::Faster
                } else {
                    Turn::Slower
                },
                stride_before_m: before,
                stride_after_m: after,
                speed_before_m_s: speed(before),
                speed_after_m_s: speed(after),
                p,
                p_method: TEST,
            }
        })
        .collect()
}

/// How far each step leads along the direction of travel, for one pace where prints are missing.
fn advances_m(row: &Row) -> Vec<f64> {
    let last = row.len().saturating_sub(1);
    (0..last)
        .map(|no| {
            let step = between(row.at_m[no], row.at_m[no + 1]);
            // From the middle of the print before and this one to the middle of the next and the one after it.
            let (a, b) = (row.at_m[no.saturating_sub(1)], row.at_m[last.min(no + 2)]);
            let around = between(a, b);
            let travel = [step[0] + around[0], step[1] + around[1]];
            let along = (step[0] * travel[0] + step[1] * travel[1]) / length_m(travel);
            // Where an animal turns on the spot, the step itself must do.
            let advance = if along > 0.1 * length_m(step) {
                along
            } else {
                length_m(step)
            };
            advance / f64::from(row.gaps[no].missing + 1)
        })
        .collect()
}

fn split(
    logs: &[f64],
    offset: usize,
    search: Search,
    random: &mut ChaCha8Rng,
    breaks: &mut Vec<(usize, f64)>,
) {
    let Some(centred) = centred(logs) else {
        return;
    };
    let weights = weights(logs.len());
    let (place, strength) = strongest_break(&centred, &weights);
    let Some(p) = chance(centred, &weights, strength, search, random) else {
        return;
    };
    breaks.push((offset + place, p));
    split(&logs[..place], offset, search, random, breaks);
    split(&logs[place..], offset + place, search, random, breaks);
}

/// The steps less their mean; `None` where there are too few, or all are alike.
fn centred(logs: &[f64]) -> Option<Vec<f64>> {
    let mean = logs.iter().sum::<f64>() / logs.len() as f64;
    let centred: Vec<f64> = logs.iter().map(|log| log - mean).collect();
    // A spread of a thousandth of a pace in all is rounding, not a gait.
    let alike = centred.iter().all(|off| off.abs() < 1e-3);
    (logs.len() >= FEWEST_STEPS && !alike).then_some(centred)
}

/// For each place of a break, n / (before · after).
fn weights(count: usize) -> Vec<f64> {
    (LEAST_STEPS..=count - LEAST_STEPS)
        .map(|before| count as f64 / (before * (count - before)) as f64)
        .collect()
}

/// The break with the largest sum of squares between the two parts, and that sum.
fn strongest_break(centred: &[f64], weights: &[f64]) -> (usize, f64) {
    let mut sum: f64 = centred[..LEAST_STEPS].iter().sum();
    let (mut place, mut strongest) = (LEAST_STEPS, 0.0);
    for (number, weight) in weights.iter().enumerate() {
        let between = sum * sum * weight;
        if between > strongest {
            (place, strongest) = (LEAST_STEPS + number, between);
        }
        sum += centred[LEAST_STEPS + number];
    }
    (place, strongest)
}

/// The part of random orders of the steps whose strongest break is at least as strong; `None` as soon as it
/// must be above the level.
fn chance(
    mut steps: Vec<f64>,
    weights: &[f64],
    strength: f64,
    search: Search,
    random: &mut ChaCha8Rng,
) -> Option<f64> {
    let orders = f64::from(search.permutations + 1);
    // The order seen is one of them.
    let mut as_strong = 1.0;
    for _ in 0..search.permutations {
        if as_strong / orders > search.level {
            return None;
        }
        steps.shuffle(random);
        // The same steps summed in another order differ in the last digits.
        if strongest_break(&steps, weights).1 >= strength * (1.0 - 1e-9) {
            as_strong += 1.0;
        }
    }
    Some(as_strong / orders).filter(|p| *p <= search.level)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::RngExt;

    const SEARCH: Search = Search {
        level: 0.01,
        permutations: 999,
        seed: 1,
    };

    fn breaks(logs: &[f64], seed: u64) -> Vec<usize> {
        let mut found = Vec::new();
        split(logs, 0, SEARCH, &mut ChaCha8Rng::seed_from_u64(seed), &mut found);
        found.sort_unstable_by_key(|(place, _)| *place);
        found.iter().map(|(place, _)| *place).collect()
    }

    fn noisy(levels: &[(f64, usize)], spread: f64, seed: u64) -> Vec<f64> {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        (levels.iter())
            .flat_map(|&(level, count)| std::iter::repeat_n(level, count))
            .map(|level: f64| level.ln() + spread * (random.random::<f64>() * 2.0 - 1.0))
            .collect()
    }

    #[test]
    fn one_and_two_changes_are_found_where_they_are() {
        assert_eq!(breaks(&noisy(&[(1.0, 12), (1.6, 12)], 0.08, 3), 1), [12]);
        assert_eq!(
            breaks(&noisy(&[(1.0, 12), (1.6, 12), (0.9, 12)], 0.08, 4), 1),
            [12, 24]
        );
    }

    #[test]
    fn a_steady_gait_changes_no_more_often_than_the_level_says() {
        let wrong = (0..400)
            .filter(|seed| !breaks(&noisy(&[(1.0, 29)], 0.15, 100 + seed), *seed).is_empty())
            .count();
        // 1 % of 400 is 4; more than 12 would be a chance of 1 in 1000.
        assert!(wrong <= 12, "{wrong}");
    }

    #[test]
    fn few_or_equal_steps_show_nothing() {
        assert_eq!(centred(&[0.3; 30]), None);
        assert_eq!(centred(&[0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0]), None);
        assert_eq!(centred(&[]), None);
    }
}
