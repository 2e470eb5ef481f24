//! A trackway followed to its last print, under each of several kinds of unsteadiness at once.

use super::habits::Habit;
use super::motion::{Motion, Noise, PARTS, Unsteadiness};
use super::plane::{length, minus, times};
use super::track::{BEGINNING, Regular, Track};
use crate::angle::azimuth_rad;

/// Only so many of the last prints are followed: what an animal did long before says little of its next step.
const RECENT: usize = 24;
/// Standard deviation of the first heading about the regular walk's, radians.
const FIRST_HEADING_SD_RAD: f64 = 0.35;

const PACES: [(f64, f64); 4] = [(0.03, 0.2), (0.06, 0.35), (0.1, 0.3), (0.17, 0.15)];
const HEADINGS_RAD: [(f64, f64); 3] = [(0.015, 0.35), (0.045, 0.4), (0.1, 0.25)];
const PLACES: [(f64, f64); 2] = [(0.04, 0.5), (0.1, 0.5)];
const DRIFTS: [(f64, f64); 2] = [(0.004, 0.6), (0.025, 0.4)];
const TURNS_RAD: [(f64, f64); 2] = [(0.006, 0.5), (0.03, 0.5)];

/// Every kind of unsteadiness that is thought of, with the weight that it has before any trackway is seen. Common practice:
/// paces that vary by 3 to 15 %, headings that turn by 1 to 6 degrees a pace, feet set within a tenth of their length.
pub(super) fn kinds() -> (Vec<Unsteadiness>, Vec<f64>) {
    let (mut kinds, mut weights) = (Vec::new(), Vec::new());
    for (pace, of_pace) in PACES {
        for (heading_rad, of_heading) in HEADINGS_RAD {
            for (place, of_place) in PLACES {
                for (drift, of_drift) in DRIFTS {
                    for (turn_rad, of_turn) in TURNS_RAD {
                        kinds.push(Unsteadiness {
                            pace,
                            heading_rad,
                            place,
                            drift,
                            turn_rad,
                        });
                        weights.push(of_pace * of_heading * of_place * of_drift * of_turn);
                    }
                }
            }
        }
    }
    (kinds, weights)
}

/// An animal's motion at its last print, under one kind of unsteadiness.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    pub weight: f64,
    pub motion: Motion,
    pub noise: Noise,
}

/// Follows a trackway under one kind of unsteadiness; gives ln of the density of its prints, too.
pub(super) fn follow(track: &Track, habit: &Habit, unsteadiness: &Unsteadiness) -> (Node, f64) {
    let feet = &track.feet[track.feet.len().saturating_sub(RECENT)..];
    let mut regular = Regular::through(&feet[..feet.len().min(BEGINNING)]);
    if length(regular.pace) < 1e-3 {
        // The last prints stand in a heap; the way of the whole row is all that there is.
        let way = minus(feet[feet.len() - 1].place, feet[0].place);
        regular.pace = times(
            way,
            1.0 / f64::from(feet[feet.len() - 1].step - feet[0].step).max(1.0),
        );
    }
    let noise = Noise::of(unsteadiness, length(regular.pace), track.foot_m);
    let mut motion = first(track, habit, unsteadiness, regular, feet[0].step);
    let mut ln_density = 0.0;
    for foot in feet {
        while motion.step < foot.step {
            motion.advance(&noise, false);
        }
        ln_density += motion.observe(&noise, foot.place, foot.position_m2);
    }
    let node = Node {
        weight: 1.0,
        motion,
        noise,
    };
    (node, ln_density)
}

/// What is held of the motion before the first print is seen.
fn first(track: &Track, habit: &Habit, unsteadiness: &Unsteadiness, regular: Regular, step: i32) -> Motion {
    let heading_rad = azimuth_rad(regular.pace[0], regular.pace[1]);
    let pace_m = track.foot_m * habit.pace.mean.exp();
    let gauge_m = track.even_left * track.foot_m * habit.half_gauge.mean;
    let mut spread = [[0.0; PARTS]; PARTS];
    let sds = [
        length(regular.pace),
        length(regular.pace),
        FIRST_HEADING_SD_RAD,
        pace_m * habit.pace.sd,
        track.foot_m * habit.half_gauge.sd,
        unsteadiness.turn_rad,
    ];
    for (part, sd) in sds.iter().enumerate() {
        spread[part][part] = sd * sd;
    }
    Motion {
        parts: [
            regular.midline[0],
            regular.midline[1],
            heading_rad,
            pace_m,
            gauge_m,
            0.0,
        ],
        spread,
        step,
    }
}

/// Weights from their logarithms, summing to 1.
pub(super) fn normalised(ln_weights: &[f64]) -> Vec<f64> {
    let most = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = ln_weights.iter().map(|ln| (ln - most).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(|weight| weight / sum).collect()
}

/// The least weight and the largest number of kinds of unsteadiness that are followed on.
const LEAST_WEIGHT: f64 = 0.004;
const MOST_NODES: usize = 24;

/// Follows a trackway under all kinds of unsteadiness, and weighs these by how well they foretell its prints.
pub(super) fn follow_all(track: &Track, habit: &Habit, kinds: &[Unsteadiness]) -> Vec<Node> {
    let followed: Vec<(Node, f64)> = kinds.iter().map(|kind| follow(track, habit, kind)).collect();
    let ln_weights: Vec<f64> = (followed.iter().zip(&habit.weights))
        .map(|((_, ln_density), weight)| ln_density + weight.max(1e-12).ln())
        .collect();
    let weights = normalised(&ln_weights);
    let mut nodes: Vec<Node> = (followed.into_iter().zip(weights))
        .map(|((node, _), weight)| Node { weight, ..node })
        .collect();
    nodes.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    nodes.truncate(MOST_NODES);
    let most = nodes[0].weight;
    nodes.retain(|node| node.weight >= LEAST_WEIGHT * most);
    let kept: f64 = nodes.iter().map(|node| node.weight).sum();
    for node in &mut nodes {
        node.weight /= kept;
    }
    nodes
}

#[cfg(test)]
mod tests {
    use super::super::habits::Normal;
    use super::super::track::Foot;
    use super::*;
    use crate::model::Limb;
    use crate::simulate::Walker;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn track(walker: &Walker, rng: &mut ChaCha8Rng, kept: usize) -> (Track, Vec<[f64; 2]>) {
        let all: Vec<[f64; 2]> = walker
            .walk(rng)
            .iter()
            .map(|footfall| footfall.position)
            .collect();
        let feet = (0..kept).map(|step| Foot {
            no: 0,
            step: step as i32,
            place: all[step],
            position_m2: 1e-6,
        });
        let track = Track {
            prints: Vec::new(),
            feet: feet.collect(),
            limb: Limb::Pes,
            fore: Vec::new(),
            origin: [0.0, 0.0],
            reversed: false,
            foot_m: walker.foot_length_m,
            even_left: 1.0,
            even_named_left: 0.0,
        };
        (track, all[kept..].to_vec())
    }

    #[test]
    fn the_spread_is_that_of_the_walk() {
        let unsteadiness = Unsteadiness {
            pace: 0.1,
            heading_rad: 0.05,
            place: 0.06,
            drift: 0.0,
            turn_rad: 0.02,
        };
        let habit = Habit {
            pace: Normal {
                mean: 2.5f64.ln(),
                sd: 0.1,
            },
            half_gauge: Normal { mean: 0.5, sd: 0.06 },
            ..crate::continuation::habits::Habits::untaught().all
        };
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let (mut sums, walks) = ([0.0; 10], 2000);
        for _ in 0..walks {
            let mut draw = |mean: f64, sd: f64| {
                mean + sd * rand_distr::Distribution::<f64>::sample(&rand_distr::StandardNormal, &mut rng)
            };
            let walker = Walker {
                pace_m: 0.4 * draw(2.5f64.ln(), 0.1).exp(),
                gauge_m: 0.8 * draw(0.5, 0.06),
                placement_sd_m: 0.06 * 0.4,
                pace_sd: 0.1,
                heading_sd_rad: 0.05,
                turn_rad: draw(0.0, 0.02),
                ..Walker::steady([0.0, 0.0], 1.0, 24, 0.4)
            };
            let kept = rng.random_range(4..14);
            let (track, next) = track(&walker, &mut rng, kept);
            let (mut node, _) = follow(&track, &habit, &unsteadiness);
            for step in 0..10 {
                node.motion.advance(&node.noise, true);
                let off = minus(next[step], node.motion.foot());
                sums[step] += node.motion.foot_spread(&node.noise).distance_2(off) / f64::from(walks);
            }
        }
        // The mean squared distance is that of two axes.
        for (step, mean) in sums.iter().enumerate() {
            assert!((mean / 2.0 - 1.0).abs() < 0.12, "step {}: {mean}", step + 1);
        }
    }
}
