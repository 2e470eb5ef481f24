//! Where an animal goes on: a state of six parts, followed from print to print.

use super::plane::{Spread, Vector, along, left_of, ln_student, plus, times};

/// How many parts a state has.
pub(super) const PARTS: usize = 6;
/// Midline, heading, pace along the midline, half gauge (of even steps to the left), steady turn at each pace.
pub(super) type Parts = [f64; PARTS];
/// A covariance of the parts.
pub(super) type Square = [[f64; PARTS]; PARTS];

pub(super) const HEADING: usize = 2;
pub(super) const PACE: usize = 3;
pub(super) const GAUGE: usize = 4;
pub(super) const TURN: usize = 5;

/// Degrees of freedom of the law of one pace. Common practice: paces have heavier tails than a normal law, since
/// animals look about, slip and step aside.
pub(super) const FREEDOM: f64 = 7.0;

/// How unsteadily an animal walks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unsteadiness {
    /// Standard deviation of a single pace, as a part of it.
    pub pace: f64,
    /// Standard deviation of the heading's random turn at each pace, radians.
    pub heading_rad: f64,
    /// Standard deviation of a foot's place about its regular one, each axis, in foot lengths.
    pub place: f64,
    /// Standard deviation of the drift of the pace at each pace, as a part of it.
    pub drift: f64,
    /// Standard deviation of the steady turn at each pace among trackways, radians.
    pub turn_rad: f64,
}

/// The same in metres for one animal.
#[derive(Debug, Clone, Copy)]
pub(super) struct Noise {
    pace_m: f64,
    heading_rad: f64,
    drift_m: f64,
    place_m2: f64,
}

impl Noise {
    pub fn of(unsteadiness: &Unsteadiness, pace_m: f64, foot_m: f64) -> Self {
        Self {
            pace_m: unsteadiness.pace * pace_m,
            heading_rad: unsteadiness.heading_rad,
            drift_m: unsteadiness.drift * pace_m,
            place_m2: (unsteadiness.place * foot_m).powi(2),
        }
    }

    /// The same of an animal that turns so much at each pace, and changes its pace by such a part of it.
    pub fn turning_aside(self, heading_rad: f64, drift: f64, motion: &Motion) -> Self {
        Self {
            heading_rad,
            drift_m: drift * motion.parts[PACE].abs(),
            ..self
        }
    }
}

/// An animal's motion at one step, with its covariance.
///
/// # Formula
/// A correlated random walk: heading θ' = θ + ω + e, pace v' = v + e, midline m' = m + (v' + e) u(θ'); the foot stands
/// at m ± w across θ. Followed by an extended Kalman filter. (Correlated random walk: Kareiva & Shigesada 1983,
/// Oecologia 56; extended Kalman filter: textbook; both from memory.)
#[derive(Debug, Clone, Copy)]
pub(super) struct Motion {
    pub parts: Parts,
    pub spread: Square,
    /// Counted in paces; its parity tells the foot.
    pub step: i32,
}

impl Motion {
    /// The foot's sign: even steps stand to the left for a half gauge above zero.
    fn sign(&self) -> f64 {
        if self.step.rem_euclid(2) == 0 { 1.0 } else { -1.0 }
    }

    /// One pace on. `shorten` allows for what an uncertain heading takes from the way made good.
    pub fn advance(&mut self, noise: &Noise, shorten: bool) {
        self.parts[HEADING] += self.parts[TURN];
        let ahead = along(self.parts[HEADING]);
        let right = times(left_of(ahead), -1.0);
        let known = if shorten {
            (-0.5 * self.spread[HEADING][HEADING].min(4.0)).exp()
        } else {
            1.0
        };
        let pace_m = self.parts[PACE] * known;
        self.parts[0] += pace_m * ahead[0];
        self.parts[1] += pace_m * ahead[1];
        self.step += 1;
        // Rows of the change: heading takes the turn; the midline takes heading, turn and pace.
        let p = &mut self.spread;
        let turn = p[TURN];
        add(&mut p[HEADING], &turn, 1.0);
        for row in p.iter_mut() {
            row[HEADING] += row[TURN];
        }
        p[HEADING][HEADING] += noise.heading_rad.powi(2);
        p[PACE][PACE] += noise.drift_m.powi(2);
        let (heading, pace) = (p[HEADING], p[PACE]);
        for axis in 0..2 {
            add(&mut p[axis], &heading, right[axis] * pace_m);
            add(&mut p[axis], &pace, ahead[axis]);
        }
        for axis in 0..2 {
            for row in p.iter_mut() {
                row[axis] += right[axis] * pace_m * row[HEADING] + ahead[axis] * row[PACE];
            }
        }
        let lost_m = self.parts[PACE] * (1.0 - known * known) / std::f64::consts::SQRT_2;
        let along_m2 = noise.pace_m.powi(2) + if shorten { lost_m * lost_m } else { 0.0 };
        for axis in 0..2 {
            for other in 0..2 {
                p[axis][other] += ahead[axis] * ahead[other] * along_m2;
            }
        }
        p[GAUGE][GAUGE] += (0.01 * self.parts[GAUGE]).powi(2);
    }

    /// Where the foot stands at this step.
    pub fn foot(&self) -> Vector {
        let left = left_of(along(self.parts[HEADING]));
        plus(
            [self.parts[0], self.parts[1]],
            times(left, self.sign() * self.parts[GAUGE]),
        )
    }

    /// How the foot's place changes with each part.
    fn slopes(&self) -> [Parts; 2] {
        let (ahead, sign) = (along(self.parts[HEADING]), self.sign());
        let left = left_of(ahead);
        [0, 1].map(|axis| {
            let mut slope = [0.0; PARTS];
            slope[axis] = 1.0;
            slope[HEADING] = sign * self.parts[GAUGE] * ahead[axis];
            slope[GAUGE] = sign * left[axis];
            slope
        })
    }

    /// The spread of the foot's place.
    pub fn foot_spread(&self, noise: &Noise) -> Spread {
        let [east, north] = self.slopes();
        let [pe, pn] = [&east, &north].map(|slope| product(&self.spread, slope));
        let all = Spread {
            ee: inner(&east, &pe),
            en: inner(&east, &pn),
            nn: inner(&north, &pn),
        };
        all.plus(Spread::round(noise.place_m2))
    }

    /// Takes a print in; gives the ln of its density before.
    pub fn observe(&mut self, noise: &Noise, place: Vector, position_m2: f64) -> f64 {
        let slopes = self.slopes();
        let seen = slopes.map(|slope| product(&self.spread, &slope));
        let all = Spread {
            ee: inner(&slopes[0], &seen[0]),
            en: inner(&slopes[0], &seen[1]),
            nn: inner(&slopes[1], &seen[1]),
        }
        .plus(Spread::round(noise.place_m2 + position_m2));
        let foot = self.foot();
        let off = [place[0] - foot[0], place[1] - foot[1]];
        let one = 1.0 / all.determinant();
        let inverse = [[all.nn * one, -all.en * one], [-all.en * one, all.ee * one]];
        for part in 0..PARTS {
            let gain = [0, 1].map(|axis| inverse[axis][0] * seen[0][part] + inverse[axis][1] * seen[1][part]);
            self.parts[part] += gain[0] * off[0] + gain[1] * off[1];
            for axis in 0..2 {
                add(&mut self.spread[part], &seen[axis], -gain[axis]);
            }
        }
        ln_student(all, off, FREEDOM)
    }
}

fn add(parts: &mut Parts, other: &Parts, factor: f64) {
    for (part, other) in parts.iter_mut().zip(other) {
        *part += factor * other;
    }
}

fn product(square: &Square, parts: &Parts) -> Parts {
    std::array::from_fn(|row| inner(&square[row], parts))
}

fn inner(one: &Parts, other: &Parts) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEADY: Unsteadiness = Unsteadiness {
        pace: 0.05,
        heading_rad: 0.03,
        place: 0.05,
        drift: 0.01,
        turn_rad: 0.01,
    };

    fn north() -> Motion {
        let mut spread = [[0.0; PARTS]; PARTS];
        for (part, row) in spread.iter_mut().enumerate() {
            row[part] = 0.01;
        }
        Motion {
            parts: [0.0, 0.0, 0.0, 1.0, 0.1, 0.0],
            spread,
            step: 0,
        }
    }

    #[test]
    fn a_regular_walk_north_alternates() {
        let (mut motion, noise) = (north(), Noise::of(&STEADY, 1.0, 0.3));
        assert!(
            (motion.foot()[0] + 0.1).abs() < 1e-12,
            "even steps stand to the left"
        );
        motion.advance(&noise, false);
        let foot = motion.foot();
        assert!((foot[0] - 0.1).abs() < 1e-12 && (foot[1] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn spread_grows_with_each_pace_and_shrinks_with_a_print() {
        let (mut motion, noise) = (north(), Noise::of(&STEADY, 1.0, 0.3));
        let mut before = motion.foot_spread(&noise).determinant();
        for _ in 0..20 {
            motion.advance(&noise, true);
            let now = motion.foot_spread(&noise).determinant();
            assert!(now > before);
            before = now;
        }
        motion.observe(&noise, motion.foot(), 1e-4);
        assert!(motion.foot_spread(&noise).determinant() < before);
        for (row, other) in (0..PARTS).flat_map(|row| (0..row).map(move |other| (row, other))) {
            assert!((motion.spread[row][other] - motion.spread[other][row]).abs() < 1e-9);
        }
    }

    #[test]
    fn an_exact_print_puts_the_foot_there() {
        let (mut motion, mut noise) = (north(), Noise::of(&STEADY, 1.0, 0.3));
        noise.place_m2 = 0.0;
        motion.advance(&noise, false);
        motion.observe(&noise, [0.2, 1.1], 1e-12);
        let foot = motion.foot();
        // The half gauge turns with the heading, so the linear filter is right to first order only.
        assert!(
            (foot[0] - 0.2).abs() < 0.01 && (foot[1] - 1.1).abs() < 0.01,
            "{foot:?}"
        );
    }
}
