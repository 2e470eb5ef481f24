//! How many paces lie between the prints of a row, and which foot is which.

use super::habits::Habit;
use super::motion::{GAUGE, Motion, Noise, PACE, PARTS, Unsteadiness};
use super::plane::{Vector, length, minus};
use crate::angle::azimuth_rad;
use crate::model::Side;

/// What is held of gaits while a row is read.
#[derive(Debug, Clone)]
pub(super) struct Reader {
    pub habit: Habit,
    pub unsteadiness: Unsteadiness,
}

/// A print to be read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Unread {
    pub place: Vector,
    pub position_m2: f64,
    pub side: Option<Side>,
}

/// A row as read.
#[derive(Debug, Clone)]
pub(super) struct Read {
    pub steps: Vec<i32>,
    /// 1 where even steps stand to the left of the way, −1 where to its right.
    pub even_left: f64,
}

/// One way of reading the row so far.
#[derive(Debug, Clone)]
struct Reading {
    motion: Motion,
    steps: Vec<i32>,
    ln_density: f64,
    even_left: f64,
    /// 1 where even steps are left feet by the sides recorded, −1 where they are right feet.
    even_named_left: f64,
}

/// How many readings are kept from print to print.
const KEPT: usize = 8;
/// ln of the probability of each missing print. Common practice: about one in five.
const LN_MISSING: f64 = -1.6;
/// The most paces between two prints.
const MOST_PACES: f64 = 60.0;
/// The probability that a side is recorded wrongly, and that all are because the row was walked the other way.
const SIDE_WRONG: f64 = 0.03;
const AGAINST: f64 = 0.05;
/// Standard deviation of the first heading, radians.
const FIRST_HEADING_SD_RAD: f64 = 0.35;

/// Reads a row of at least three prints that lead somewhere: the most probable reading of all, by a beam search.
///
/// `reversed` is for a row that is read against the way it was walked.
pub(super) fn read(reader: &Reader, foot_m: f64, prints: &[Unread], reversed: bool) -> Option<Read> {
    let heading_rad = first_heading_rad(prints)?;
    let pace_m = foot_m * reader.habit.pace.mean.exp();
    let noise = Noise::of(&reader.unsteadiness, pace_m, foot_m);
    let mut kept: Vec<Reading> = Vec::new();
    for even_left in [1.0, -1.0] {
        for even_named_left in [1.0, -1.0] {
            let mut motion = first(reader, foot_m, prints[0].place, heading_rad, even_left);
            motion.observe(&noise, prints[0].place, prints[0].position_m2);
            let agrees = (even_left == even_named_left) != reversed;
            let mut reading = Reading {
                motion,
                steps: vec![0],
                ln_density: if agrees { 1.0 - AGAINST } else { AGAINST }.ln(),
                even_left,
                even_named_left,
            };
            reading.take_side(prints[0].side);
            kept.push(reading);
        }
    }
    for print in &prints[1..] {
        let mut next: Vec<Reading> = kept
            .iter()
            .flat_map(|reading| reading.onward(&noise, print))
            .collect();
        next.sort_by(|a, b| b.ln_density.total_cmp(&a.ln_density));
        next.truncate(KEPT);
        kept = next;
    }
    let best = kept.into_iter().next()?;
    Some(Read {
        steps: best.steps,
        even_left: best.even_left,
    })
}

/// The way from the middle of the first prints to that of the next.
fn first_heading_rad(prints: &[Unread]) -> Option<f64> {
    let middle = |part: &[Unread]| {
        [0, 1].map(|axis| part.iter().map(|print| print.place[axis]).sum::<f64>() / part.len() as f64)
    };
    let way = |near: usize| {
        let near = near.min(prints.len());
        let half = if near >= 4 { near / 2 } else { 2 };
        minus(middle(&prints[near - half..near]), middle(&prints[..half]))
    };
    // Where the first prints lead nowhere, the whole row may.
    let ways = [way(4), way(prints.len())];
    let way = ways.into_iter().find(|way| length(*way) > 1e-3)?;
    Some(azimuth_rad(way[0], way[1]))
}

/// What is held before the second print is seen.
fn first(reader: &Reader, foot_m: f64, place: Vector, heading_rad: f64, even_left: f64) -> Motion {
    let habit = &reader.habit;
    let pace_m = foot_m * habit.pace.mean.exp();
    let sds = [
        pace_m,
        pace_m,
        FIRST_HEADING_SD_RAD,
        pace_m * habit.pace.sd,
        foot_m * habit.half_gauge.sd,
        reader.unsteadiness.turn_rad,
    ];
    let mut spread = [[0.0; PARTS]; PARTS];
    for (part, sd) in sds.iter().enumerate() {
        spread[part][part] = sd * sd;
    }
    let gauge_m = even_left * foot_m * habit.half_gauge.mean;
    let mut parts = [0.0; PARTS];
    parts[..2].copy_from_slice(&place);
    (parts[2], parts[PACE], parts[GAUGE]) = (heading_rad, pace_m, gauge_m);
    Motion {
        parts,
        spread,
        step: 0,
    }
}

impl Reading {
    /// The readings of a further print: each number of paces that could lead there.
    fn onward(&self, noise: &Noise, print: &Unread) -> Vec<Reading> {
        let far_m = length(minus(print.place, self.motion.foot()));
        let pace_m = self.motion.parts[PACE].abs().max(1e-3);
        let sd_m = self.motion.spread[PACE][PACE].max(0.0).sqrt().max(0.12 * pace_m);
        let least = (far_m / (pace_m + 2.5 * sd_m) - 1.0)
            .clamp(1.0, MOST_PACES)
            .floor() as i32;
        let most = (far_m / (pace_m - 1.5 * sd_m).max(0.4 * pace_m) + 1.0)
            .min(MOST_PACES)
            .ceil() as i32;
        let mut motion = self.motion;
        let mut found = Vec::new();
        for paces in 1..=most.max(least) {
            motion.advance(noise, false);
            if paces < least {
                continue;
            }
            let mut reading = self.clone();
            reading.motion = motion;
            reading.ln_density += reading.motion.observe(noise, print.place, print.position_m2);
            reading.ln_density += f64::from(paces - 1) * LN_MISSING;
            reading.steps.push(motion.step);
            reading.take_side(print.side);
            found.push(reading);
        }
        found
    }

    fn take_side(&mut self, side: Option<Side>) {
        if let Some(side) = side {
            let even = self.motion.step.rem_euclid(2) == 0;
            let agrees = (side == Side::Left) == (even == (self.even_named_left > 0.0));
            self.ln_density += if agrees { 1.0 - SIDE_WRONG } else { SIDE_WRONG }.ln();
        }
    }
}
