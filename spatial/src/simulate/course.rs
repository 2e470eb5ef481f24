//! The way that an animal takes: a correlated random walk with changes of speed, stops and turns.

use super::walker::{Walker, ahead, normal};
use rand::{Rng, RngExt};
use std::ops::RangeInclusive;

/// How animals go. Each trackway draws its own from the ranges.
#[derive(Debug, Clone, PartialEq)]
pub struct Manner {
    /// How many paces an animal makes before it leaves the surface or the surface loses its trace.
    pub paces: RangeInclusive<usize>,
    /// Standard deviation of a single pace over its mean.
    pub pace_sd: RangeInclusive<f64>,
    /// Degrees of freedom of Student's t for paces; `None` is normal.
    pub tail: Option<f64>,
    /// Standard deviation of the heading's random turn at each pace, degrees.
    pub heading_sd_deg: RangeInclusive<f64>,
    /// How much of one turn goes on in the next: 0 is a plain random walk of the heading.
    pub turning_on: RangeInclusive<f64>,
    /// Standard deviation of the lasting change of speed at each pace, as a part of the pace.
    pub speed_sd: f64,
    /// The probability at each pace that the animal stops, and goes on at another speed.
    pub stop: f64,
    /// The probability at each pace that it turns aside for some paces.
    pub turn: f64,
}

/// One step of a course: where the midline is, and which way it goes on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stance {
    pub midline: [f64; 2],
    pub heading_rad: f64,
}

impl Manner {
    /// Draws the course of a walker.
    ///
    /// # Formula
    /// The turn at step s is ρ · turn(s−1) + a normal draw; ln speed takes a normal draw at each step and is drawn back
    /// to the walker's own pace by a twentieth; single paces vary about it.
    pub(super) fn course<R: Rng + ?Sized>(&self, rng: &mut R, walker: &mut Walker) -> Vec<Stance> {
        let mut within = |range: &RangeInclusive<f64>| rng.random_range(range.clone());
        let (turning_on, heading_sd_rad) = (
            within(&self.turning_on),
            within(&self.heading_sd_deg).to_radians(),
        );
        walker.pace_sd = within(&self.pace_sd);
        walker.tail = self.tail;
        walker.paces = rng.random_range(self.paces.clone());
        let mut stance = Stance {
            midline: walker.start,
            heading_rad: walker.heading_rad,
        };
        let (mut turn_rad, mut speed, mut aside) = (0.0, 0.0, (0, 0.0));
        let mut course = vec![stance];
        for _ in 0..walker.paces {
            turn_rad = turning_on * turn_rad
                + normal(rng, heading_sd_rad * f64::sqrt(1.0 - turning_on * turning_on));
            if self.turn > 0.0 && rng.random_bool(self.turn) {
                let paces = rng.random_range(2..7);
                aside = (paces, normal(rng, 0.8) / f64::from(paces));
            }
            if aside.0 > 0 {
                aside.0 -= 1;
                stance.heading_rad += aside.1;
            }
            stance.heading_rad += turn_rad;
            speed = speed * 0.95 + normal(rng, self.speed_sd);
            let mut pace_m = walker.pace_m * f64::exp(speed) * (1.0 + walker.pace_error(rng)).max(0.3);
            if self.stop > 0.0 && rng.random_bool(self.stop) {
                // It draws the other foot up and then goes on as it likes.
                pace_m *= rng.random_range(0.1..0.5);
                speed = normal(rng, 0.2);
            }
            stance.midline = ahead(stance.midline, stance.heading_rad, pace_m);
            course.push(stance);
        }
        course
    }
}
