//! How the end of one trackway meets the beginning of another.

use super::answer::Term;
use super::following::{Node, follow};
use super::likeness::{Likeness, named, of_shape, of_size};
use super::motion::{GAUGE, HEADING, Motion, PACE, Parts, Square, TURN};
use super::plane::{Vector, along, dot, length, minus, plus};
use super::steps::{Way, forward_odds};
use super::surroundings::{Surroundings, Terminal};
use super::track::Track;
use crate::angle::turn_rad;
use crate::index::SurfaceIndex;
use std::f64::consts::{PI, TAU};

/// How many prints of a trackway are read where it is only looked at from afar.
const READ: usize = 16;

/// A standing trackway seen from one of its ends.
pub(super) struct Far {
    pub terminal: Terminal,
    /// Read so that it leads to this end.
    pub track: Track,
    pub node: Node,
    pub likeness: Likeness,
    /// The probability that it was walked in the order in which it stands.
    pub forward: f64,
}

impl Far {
    pub fn of(index: &SurfaceIndex, surroundings: &Surroundings, terminal: Terminal) -> Option<Self> {
        let prints = &surroundings.prints[terminal.trackway as usize];
        let kind = index.kind_of(prints);
        let reader = surroundings.habits.reader(kind);
        let track = Track::of_last(index, prints, !terminal.is_end, &reader, READ).ok()?;
        let (node, _) = follow(&track, &reader.habit, &reader.unsteadiness);
        let row: Vec<_> = track.feet.iter().map(|foot| foot.no).collect();
        let odds = forward_odds(index, &track);
        Some(Self {
            terminal,
            likeness: Likeness::of(index, &row, track.limb, kind),
            forward: 1.0 / (1.0 + (-odds).exp()),
            node,
            track,
        })
    }

    /// Where it ends.
    pub fn end(&self) -> [f64; 2] {
        plus(self.track.origin, self.track.last().place)
    }

    /// Whether it could lead to another end at all: that lies within reach, ahead, and is not gone into from behind.
    pub fn could_lead_to(&self, other: &Self, reach_m: f64) -> bool {
        let way = minus(other.end(), self.end());
        let [own, far] = [self, other].map(|end| along(end.node.motion.parts[HEADING]));
        // About three standard deviations of the headings of a long gap, and a pace for what lies close.
        let pace_m = self.node.motion.parts[PACE].abs();
        let ahead = |heading: Vector, way: Vector| dot(heading, way) > -0.5 * pace_m + 0.2 * length(way);
        length(way) <= reach_m && ahead(own, way) && ahead(far, minus([0.0, 0.0], way)) && dot(own, far) < 0.5
    }

    /// Its motion as one that comes from the end and goes into the trackway, seen from another origin.
    fn inward(&self, origin: [f64; 2]) -> (Parts, Square) {
        let motion = &self.node.motion;
        let (mut parts, mut spread) = (motion.parts, motion.spread);
        let moved = minus(plus([parts[0], parts[1]], self.track.origin), origin);
        parts[..2].copy_from_slice(&moved);
        parts[HEADING] += PI;
        // Even steps to the left of one way are to the right of the other; what turns right turns left.
        parts[TURN] = -parts[TURN];
        let sign = if motion.step.rem_euclid(2) == 0 { 1.0 } else { -1.0 };
        parts[GAUGE] *= -sign;
        for (part, factor) in [(TURN, -1.0), (GAUGE, -sign)] {
            spread[part] = spread[part].map(|value| value * factor);
            for row in &mut spread {
                row[part] *= factor;
            }
        }
        (parts, spread)
    }
}

/// How well two trackways meet at a number of paces: ln of the density of the far one's beginning where it is, if it goes
/// on from here, over that if it has nothing to do with it.
///
/// # Formula
/// Midline, heading, pace and half gauge of both, each known with its covariance, differ by a normal law whose covariance
/// is the sum; without a link the midline lies anywhere (as ends lie hereabouts), the heading points anywhere, and pace and
/// gauge are those of any trackway of the kind.
pub(super) fn meeting(way: &Way, stage: usize, far: &Far) -> f64 {
    let (parts, spread) = far.inward(way.track.origin);
    let habit = way.habit;
    let (pace, gauge) = (habit.pace, habit.half_gauge);
    let foot_m = way.track.foot_m;
    let pace_m = foot_m * pace.mean.exp();
    let anyhow = super::plane::ln_normal(parts[PACE] - pace_m, pace_m * pace.sd.max(0.15))
        + super::plane::ln_normal(
            parts[GAUGE].abs() - foot_m * gauge.mean,
            foot_m * gauge.sd.max(0.1),
        )
        - 2f64.ln();
    // What lies hereabouts and points anywhere is counted where the hypotheses are weighed.
    let anyhow = anyhow.max(-8.0) - TAU.ln();
    let sum: f64 = (way.stages[stage].nodes.iter())
        .map(|node| node.weight * (ln_meets(&node.motion, &parts, &spread) - anyhow).exp())
        .sum();
    sum.max(1e-300).ln()
}

/// ln of the normal density of the difference of two motions in midline, heading, pace and half gauge.
fn ln_meets(motion: &Motion, parts: &Parts, spread: &Square) -> f64 {
    const USED: usize = 5;
    let sign = if motion.step.rem_euclid(2) == 0 { 1.0 } else { -1.0 };
    let own = |part: usize| if part == GAUGE { sign } else { 1.0 };
    let mut off = [0.0; USED];
    let mut all = [[0.0; USED]; USED];
    for part in 0..USED {
        off[part] = parts[part] - own(part) * motion.parts[part];
        for other in 0..USED {
            all[part][other] = motion.spread[part][other] * own(part) * own(other) + spread[part][other];
        }
    }
    off[HEADING] = turn_rad(own(HEADING) * motion.parts[HEADING], parts[HEADING]);
    // A foot's own place is no part of the midline's; a little for it keeps the sum well above nothing.
    for (part, row) in all.iter_mut().enumerate() {
        row[part] += if part == HEADING { 4e-4 } else { 1e-4 };
    }
    ln_gauss(all, off)
}

/// ln of a normal density by the factor of its covariance (Cholesky).
fn ln_gauss<const N: usize>(mut all: [[f64; N]; N], mut off: [f64; N]) -> f64 {
    let mut ln = -0.5 * N as f64 * TAU.ln();
    for column in 0..N {
        for row in column..N {
            let sum: f64 = (0..column).map(|k| all[row][k] * all[column][k]).sum();
            all[row][column] -= sum;
            if row == column {
                all[row][row] = all[row][row].max(1e-12).sqrt();
            } else {
                all[row][column] /= all[column][column];
            }
        }
    }
    for row in 0..N {
        let sum: f64 = (0..row).map(|k| all[row][k] * off[k]).sum();
        off[row] = (off[row] - sum) / all[row][row];
        ln -= 0.5 * off[row] * off[row] + all[row][row].ln();
    }
    ln
}

/// What the looks of two trackways say of their being one.
pub(super) fn looks(way: &Way, far: &Far) -> Vec<Term> {
    let (own, other) = (&way.likeness, &far.likeness);
    let mut terms = vec![Term {
        what: "size",
        log_odds: of_size(way, own, other.size),
    }];
    let shape = of_shape(way, own, other.shape);
    if shape != 0.0 {
        terms.push(Term {
            what: "width over length",
            log_odds: shape,
        });
    }
    if let Some((one, other)) = own.kind.as_deref().zip(other.kind.as_deref()) {
        terms.push(Term {
            what: "morphotype",
            log_odds: 1.5 * named(one == other, way.kind_share),
        });
    }
    if own.limb != other.limb {
        terms.push(Term {
            what: "limb",
            log_odds: -2.5,
        });
    }
    let four = [&way.track, &far.track].map(|track| track.fore.len() >= 2);
    if four[0] != four[1] {
        terms.push(Term {
            what: "manus prints in one only",
            log_odds: -1.5,
        });
    }
    terms
}

/// Whether the sides of two trackways fit at a number of paces, and what that says.
pub(super) fn sides(way: &Way, stage: usize, far: &Far) -> Option<(bool, f64)> {
    let (expected, sure) = way.track.side(way.step(stage))?;
    let (own, far_sure) = far.track.side(far.track.last().step)?;
    let same = expected == own;
    let both = sure * far_sure + (1.0 - sure) * (1.0 - far_sure);
    let agrees = if same { both } else { 1.0 - both };
    Some((same, (2.0 * (0.01 + 0.98 * agrees)).ln()))
}
