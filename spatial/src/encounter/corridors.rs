//! Where paths go on beyond their ends, each as a line with a width.

use super::path::Path;
use crate::angle::{azimuth_rad, turn_rad};
use crate::continuation::plane::{Vector, along, dot, left_of, length, minus, plus, times};
use crate::continuation::{Direction, Foreseen, Surroundings, foreseen};
use crate::index::SurfaceIndex;
use crate::model::Label;
use rayon::prelude::*;

/// Standard deviation of the heading of a path that is not read print by print, radians. Common practice: some six degrees.
const FAN_RAD: f64 = 0.1;
/// How many of its last legs tell the heading of such a path.
const FAN_LEGS: usize = 4;
/// How many places such a fan has.
const FAN_PLACES: usize = 32;
/// Standard deviation of an animal's aim, radians: by so much of the whole way from its first print its line misses the place
/// that it is heading for. An assumption of this program, some two degrees; it widens foci, not the evidence for them.
const AIM_RAD: f64 = 0.035;
/// The radius of a 95 % interval, in standard deviations.
pub(super) const WITHIN: f64 = 1.96;

/// Where a path goes on beyond one of its ends.
#[derive(Debug, Clone)]
pub(super) struct Corridor {
    /// Which path.
    pub path: usize,
    /// The end of the path and places ahead of it.
    pub places: Vec<Foreseen>,
    /// The length of the path itself, metres.
    walked_m: f64,
    lower: Vector,
    upper: Vector,
}

/// A corridor beside a place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Beside {
    /// The corridor's own place that is nearest, with its azimuth and spread.
    pub at: Foreseen,
    /// How far the other lies to the right of it, and ahead of it (only beyond the ends), metres.
    pub across_m: f64,
    pub ahead_m: f64,
}

impl Beside {
    /// Whether the corridor holds the place within 95 %.
    pub fn holds(&self) -> bool {
        self.deviation().abs() <= WITHIN && self.ahead_m.abs() <= WITHIN * self.at.sd_along_m
    }

    /// How far off the corridor's middle, in standard deviations; to the right of it is positive.
    pub fn deviation(&self) -> f64 {
        self.across_m / self.at.sd_across_m
    }
}

/// The corridors of paths, and what became of those that the continuation cannot read.
#[derive(Debug, Clone, Default)]
pub(super) struct Corridors {
    pub all: Vec<Corridor>,
    /// Given a plain fan.
    pub fans: Vec<Label>,
}

impl Corridors {
    /// Each path's corridor at its last print, or with `Before` at its first.
    pub fn of(
        index: &SurfaceIndex,
        surroundings: &Surroundings,
        paths: &[Path],
        direction: Direction,
        reach_m: f64,
    ) -> Self {
        let read: Vec<(Vec<Foreseen>, bool)> = (paths.par_iter())
            .map(|path| {
                let ahead = foreseen(index, surroundings, &path.prints, direction, reach_m);
                match ahead {
                    Ok(places) if places.len() > 1 => (places, true),
                    _ => (fan(path, direction, reach_m), false),
                }
            })
            .collect();
        let mut corridors = Self::default();
        for (path, (places, is_read)) in read.into_iter().enumerate() {
            if !is_read {
                corridors.fans.push(paths[path].trackway.clone());
            }
            corridors
                .all
                .push(Corridor::through(path, paths[path].length_m(), places));
        }
        corridors
    }
}

/// Straight on from the last legs, ever wider.
fn fan(path: &Path, direction: Direction, reach_m: f64) -> Vec<Foreseen> {
    let line = &path.line_m;
    let legs = FAN_LEGS.min(line.len() - 1);
    let (from, end) = match direction {
        Direction::After => (line[line.len() - 1 - legs], line[line.len() - 1]),
        Direction::Before => (line[legs], line[0]),
    };
    let way = minus(end, from);
    let azimuth_rad = azimuth_rad(way[0], way[1]);
    // The middle is known within a small part of a foot's length. Common practice.
    let least_m = (0.1 * path.foot_m).clamp(0.01, 1.0);
    (0..=FAN_PLACES)
        .map(|step| {
            let gone_m = reach_m * step as f64 / FAN_PLACES as f64;
            let sd_m = least_m.hypot(FAN_RAD * gone_m);
            Foreseen {
                place_m: plus(end, times(along(azimuth_rad), gone_m)),
                azimuth_rad,
                gone_m,
                sd_along_m: sd_m,
                sd_across_m: sd_m,
            }
        })
        .collect()
}

impl Corridor {
    fn through(path: usize, walked_m: f64, mut places: Vec<Foreseen>) -> Self {
        for place in &mut places {
            // A millimetre of width keeps every sum finite.
            place.sd_across_m = place.sd_across_m.max(1e-3);
            place.sd_along_m = place.sd_along_m.max(1e-3);
        }
        let widest = places.iter().map(|place| place.sd_across_m.max(place.sd_along_m));
        let reach_m = places.last().map_or(0.0, |place| place.gone_m);
        let margin = WITHIN * widest.fold(0.0, f64::max).hypot(AIM_RAD * (walked_m + reach_m));
        let edge = |sign: f64| {
            [0, 1].map(|axis| {
                let all = places.iter().map(|place| sign * place.place_m[axis]);
                sign * (all.fold(f64::NEG_INFINITY, f64::max) + margin)
            })
        };
        let (lower, upper) = (edge(-1.0), edge(1.0));
        Self {
            path,
            places,
            walked_m,
            lower,
            upper,
        }
    }

    /// Where it begins, and the unit vector of its heading there.
    pub fn end(&self) -> (Vector, Vector) {
        (self.places[0].place_m, along(self.places[0].azimuth_rad))
    }

    /// Whether a place could lie in it at all.
    pub fn may_hold(&self, place: Vector) -> bool {
        (0..2).all(|axis| self.lower[axis] <= place[axis] && place[axis] <= self.upper[axis])
    }

    /// The corridor's own place that is nearest to another; its width across holds what the aim may miss, too.
    pub fn beside(&self, place: Vector) -> Beside {
        let nearest = (self.places.windows(2))
            .map(|leg| between(&leg[0], &leg[1], place))
            .min_by(|(one, _), (other, _)| one.total_cmp(other));
        let mut at = nearest.map_or(self.places[0], |(_, at)| at);
        at.sd_across_m = at.sd_across_m.hypot(AIM_RAD * (self.walked_m + at.gone_m));
        let off = minus(place, at.place_m);
        let ahead = along(at.azimuth_rad);
        let inner = at.gone_m > 0.0 && at.gone_m < self.places[self.places.len() - 1].gone_m;
        // Beside the line, what a bend of the legs leaves ahead is no way to go.
        Beside {
            across_m: if inner {
                -length(off) * dot(off, left_of(ahead)).signum()
            } else {
                -dot(off, left_of(ahead))
            },
            ahead_m: if inner { 0.0 } else { dot(off, ahead) },
            at,
        }
    }
}

/// The place on a leg that is nearest to another, and the square of how far off that is.
pub(super) fn between(from: &Foreseen, to: &Foreseen, place: Vector) -> (f64, Foreseen) {
    let leg = minus(to.place_m, from.place_m);
    let part = (dot(minus(place, from.place_m), leg) / dot(leg, leg).max(1e-12)).clamp(0.0, 1.0);
    let mix = |one: f64, other: f64| one + part * (other - one);
    let at = Foreseen {
        place_m: plus(from.place_m, times(leg, part)),
        azimuth_rad: from.azimuth_rad + part * turn_rad(from.azimuth_rad, to.azimuth_rad),
        gone_m: mix(from.gone_m, to.gone_m),
        sd_along_m: mix(from.sd_along_m, to.sd_along_m),
        sd_across_m: mix(from.sd_across_m, to.sd_across_m),
    };
    let off = minus(place, at.place_m);
    (dot(off, off), at)
}

/// The least distance between the middles of two corridors shifted so, seen at some twenty places of each, metres.
pub(super) fn least_gap_m(corridors: &[Corridor], shifts: &[Vector]) -> f64 {
    let places: Vec<Vec<Vector>> = (corridors.iter().zip(shifts))
        .map(|(corridor, shift)| {
            let every = corridor.places.len().div_ceil(20);
            let some = corridor.places.iter().step_by(every);
            some.map(|at| plus(at.place_m, *shift)).collect()
        })
        .collect();
    let mut least = f64::INFINITY;
    for (number, one) in places.iter().enumerate() {
        for other in &places[..number] {
            for place in one {
                let near = other.iter().map(|at| length(minus(*at, *place)));
                least = near.fold(least, f64::min);
            }
        }
    }
    least
}
