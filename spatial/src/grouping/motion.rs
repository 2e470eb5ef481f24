//! Where the next print of a row should lie.

use std::ops::{Add, Mul, Sub};

/// A vector on the surface, easting and northing in metres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Vector {
    pub east: f64,
    pub north: f64,
}

impl Vector {
    pub fn dot(self, other: Self) -> f64 {
        self.east * other.east + self.north * other.north
    }

    pub fn cross(self, other: Self) -> f64 {
        self.east * other.north - self.north * other.east
    }

    pub fn length(self) -> f64 {
        // Places lie within a surface of some kilometres: no square of them can overflow that matters.
        self.dot(self).sqrt()
    }

    /// The unit vector of the same direction; north for a vector of no length.
    pub fn unit(self) -> Self {
        self.unit_of(self.length())
    }

    /// The same where the length is known.
    fn unit_of(self, length: f64) -> Self {
        if length > 0.0 {
            self * (1.0 / length)
        } else {
            Self {
                east: 0.0,
                north: 1.0,
            }
        }
    }

    /// Turned a quarter circle anticlockwise.
    pub fn to_left(self) -> Self {
        Self {
            east: -self.north,
            north: self.east,
        }
    }

    /// The unit vector that points so many radians clockwise from north.
    pub fn of_azimuth(azimuth_rad: f64) -> Self {
        let (east, north) = azimuth_rad.sin_cos();
        Self { east, north }
    }

    /// Radians clockwise from this direction to another, from −π to π.
    pub fn turn_to_rad(self, other: Self) -> f64 {
        other.cross(self).atan2(self.dot(other))
    }
}

impl Add for Vector {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            east: self.east + other.east,
            north: self.north + other.north,
        }
    }
}

impl Sub for Vector {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self {
            east: self.east - other.east,
            north: self.north - other.north,
        }
    }
}

impl Mul<f64> for Vector {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self {
            east: self.east * factor,
            north: self.north * factor,
        }
    }
}

/// Covariance of midline, pace vector and half gauge along one axis, in units of the row's own unsteadiness.
#[derive(Debug, Clone, Copy)]
struct Spread {
    mm: f64,
    mv: f64,
    mw: f64,
    vv: f64,
    vw: f64,
    ww: f64,
}

/// How fast each part wanders at each pace, and the placement's own variance; in units of the unsteadiness.
#[derive(Debug, Clone, Copy)]
struct Wander {
    place: f64,
    midline: f64,
    pace: f64,
    gauge: f64,
}

/// Along the heading, paces vary in length one by one, and speed drifts slowly. Common practice: the length of
/// paces is the least steady of a trackway's measures.
const ALONG: Wander = Wander {
    place: 0.15,
    midline: 1.0,
    pace: 0.05,
    gauge: 0.01,
};
/// Across it, feet are placed with some care, and the heading drifts.
const ACROSS: Wander = Wander {
    place: 0.2,
    midline: 0.15,
    pace: 0.4,
    gauge: 0.01,
};

impl Spread {
    /// Nothing known but that midline and foot place differ by the half gauge.
    fn unknown(pace: f64, gauge: f64, place: f64) -> Self {
        Self {
            mm: gauge + place,
            mv: 0.0,
            mw: -gauge,
            vv: pace,
            vw: 0.0,
            ww: gauge,
        }
    }

    /// One pace on: the midline goes on by the pace vector, the half gauge changes its side.
    fn advance(&mut self, wander: &Wander) {
        self.mm += 2.0 * self.mv + self.vv + wander.midline;
        self.mv += self.vv;
        self.mw = -(self.mw + self.vw);
        self.vw = -self.vw;
        self.vv += wander.pace;
        self.ww += wander.gauge;
    }

    /// Variance of the next print's place.
    fn of_print(&self, wander: &Wander) -> f64 {
        self.mm + 2.0 * self.mw + self.ww + wander.place
    }

    /// Takes a print in; gives the gains of midline, pace and half gauge.
    fn observe(&mut self, wander: &Wander) -> [f64; 3] {
        let all = self.of_print(wander);
        let seen = [self.mm + self.mw, self.mv + self.vw, self.mw + self.ww];
        let per_unit = 1.0 / all;
        let gain = seen.map(|part| part * per_unit);
        self.mm -= gain[0] * seen[0];
        self.mv -= gain[0] * seen[1];
        self.mw -= gain[0] * seen[2];
        self.vv -= gain[1] * seen[1];
        self.vw -= gain[1] * seen[2];
        self.ww -= gain[2] * seen[2];
        gain
    }
}

/// A row's motion at its last print: midline, pace vector and half gauge, each with its spread.
///
/// # Formula
/// Linear prediction with a Kalman filter. At step s the print lies at m + w, m' = m + v, v' = v, w' = −w.
/// Along and across the heading have covariances of their own; the half gauge turns with the heading.
#[derive(Debug, Clone, Copy)]
pub(super) struct Motion {
    midline: Vector,
    pace: Vector,
    /// Half gauge: along the heading, and to its left.
    half_gauge: [f64; 2],
    along: Spread,
    across: Spread,
}

/// Where a print should lie, as seen from its row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Expected {
    pub place: Vector,
    pub heading: Vector,
    /// Length of a pace, metres; the spreads are in parts of it.
    pub pace_m: f64,
    /// Variances along and across, in units of the row's unsteadiness.
    pub along: f64,
    pub across: f64,
}

impl Motion {
    /// The motion of three prints, `paces` apart each.
    pub fn of_three(places: [Vector; 3], paces: [u8; 2]) -> Self {
        let [first, second, third] = places;
        let [n, m] = paces.map(f64::from);
        // Two of three prints are of one foot: the widest such pair gives the pace vector free of the gauge.
        let (odd_first, odd_second) = (paces[0] % 2 == 1, paces[1] % 2 == 1);
        let (pace, half_gauge) = match (odd_first, odd_second) {
            (true, true) => {
                let pace = (third - first) * (1.0 / (n + m));
                (pace, first + pace * n - second)
            }
            (true, false) => {
                let pace = (third - second) * (1.0 / m);
                (pace, second - first - pace * n)
            }
            (false, true) => {
                let pace = (second - first) * (1.0 / n);
                (pace, third - second - pace * m)
            }
            (false, false) => ((third - first) * (1.0 / (n + m)), Vector::default()),
        };
        let half_gauge = half_gauge * 0.5;
        let heading = pace.unit();
        let mut motion = Self {
            midline: third - half_gauge,
            pace,
            half_gauge: [half_gauge.dot(heading), half_gauge.dot(heading.to_left())],
            along: Spread::unknown(150.0, 0.6, ALONG.place),
            across: Spread::unknown(60.0, 12.0, ACROSS.place),
        };
        motion.settle(paces);
        motion
    }

    /// The spreads after three prints do not depend on where these lay.
    fn settle(&mut self, paces: [u8; 2]) {
        for (spread, wander) in [(&mut self.along, &ALONG), (&mut self.across, &ACROSS)] {
            for paces in paces {
                for _ in 0..paces {
                    spread.advance(wander);
                }
                spread.observe(wander);
            }
        }
    }

    /// One pace on, before any print is seen there.
    pub fn advance(&mut self) {
        self.midline = self.midline + self.pace;
        self.half_gauge = self.half_gauge.map(|part| -part);
        self.along.advance(&ALONG);
        self.across.advance(&ACROSS);
    }

    pub fn expected(&self) -> Expected {
        let pace_m = self.pace.length();
        let heading = self.pace.unit_of(pace_m);
        let half_gauge = heading * self.half_gauge[0] + heading.to_left() * self.half_gauge[1];
        Expected {
            place: self.midline + half_gauge,
            heading,
            pace_m,
            along: self.along.of_print(&ALONG),
            across: self.across.of_print(&ACROSS),
        }
    }

    /// Takes a print in at this step, where it was expected as said.
    pub fn observe(&mut self, expected: &Expected, place: Vector) {
        let off = place - expected.place;
        let left = expected.heading.to_left();
        let (ahead, aside) = (off.dot(expected.heading), off.dot(left));
        let (by_along, by_across) = (self.along.observe(&ALONG), self.across.observe(&ACROSS));
        let moved =
            |part: usize| expected.heading * (by_along[part] * ahead) + left * (by_across[part] * aside);
        self.midline = self.midline + moved(0);
        self.pace = self.pace + moved(1);
        self.half_gauge[0] += by_along[2] * ahead;
        self.half_gauge[1] += by_across[2] * aside;
    }

    pub fn pace(&self) -> Vector {
        self.pace
    }
}

impl Expected {
    /// The squared distance of a place, in units of the unsteadiness and of the pace.
    pub fn distance_2(&self, place: Vector) -> f64 {
        let off = place - self.place;
        let (ahead, aside) = (off.dot(self.heading), off.dot(self.heading.to_left()));
        (ahead * ahead / self.along + aside * aside / self.across) / (self.pace_m * self.pace_m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(east: f64, north: f64) -> Vector {
        Vector { east, north }
    }

    /// Prints of a regular walk north: paces of 1 m, half gauge 0.1 m.
    fn print(step: u8) -> Vector {
        at(if step.is_multiple_of(2) { -0.1 } else { 0.1 }, f64::from(step))
    }

    #[test]
    fn the_stride_repeats_whatever_is_missing() {
        for (first, second) in [(1, 1), (1, 2), (2, 1), (1, 3), (3, 1), (2, 3)] {
            let last = first + second;
            let mut motion = Motion::of_three([print(0), print(first), print(last)], [first, second]);
            for step in last + 1..last + 5 {
                motion.advance();
                let off = (motion.expected().place - print(step)).length();
                assert!(
                    off < 1e-9,
                    "{off} m off at step {step} after {first} and {second}"
                );
            }
        }
    }

    #[test]
    fn what_is_seen_narrows_what_is_expected() {
        let mut motion = Motion::of_three([print(0), print(1), print(2)], [1, 1]);
        let mut spreads = Vec::new();
        for step in 3..12 {
            motion.advance();
            spreads.push(motion.expected().along * motion.expected().across);
            motion.observe(&motion.clone().expected(), print(step));
        }
        assert!(spreads.is_sorted_by(|a, b| a >= b), "{spreads:?}");
        let mut waiting = motion;
        waiting.advance();
        let near = waiting.expected().across;
        waiting.advance();
        assert!(waiting.expected().across > near);
    }
}
