//! Three prints as their places show them: the pace, its repeat, and the turn between them.

use super::evidence::Member;
use super::gait::{Gait, Normal};
use super::scoring::Model;
use super::terms::{Tally, Term};
use std::f64::consts::{LN_2, TAU};

/// The places of three prints in a row, against chance.
pub(super) struct Three {
    /// ln of each step's length.
    far: [f64; 2],
    turn: f64,
    length: f64,
    pace: Normal,
    /// What does not depend on the number of paces.
    whatever: f64,
}

impl Three {
    pub fn of(model: &Model, [first, second, third]: [Member; 3]) -> Self {
        let feet = [first, second, third].map(|member| model.evidence.foot(member));
        let (one, two) = (feet[1].place - feet[0].place, feet[2].place - feet[1].place);
        let far = [one, two].map(|step| step.length().max(1e-3).ln());
        Self {
            far,
            turn: one.cross(two).atan2(one.dot(two)),
            length: (feet[0].size + feet[1].size) / 2.0,
            pace: model.gait.pace_of(model.evidence, first),
            whatever: -TAU.ln() - 2.0 * (far[0] + far[1]) - model.chance(feet[1]) - model.chance(feet[2]),
        }
    }

    /// The ratio for so many paces to the second print and from it to the third.
    pub fn ratio(&self, gait: &Gait, paces: [u8; 2]) -> f64 {
        let [pace, stride, turn] = self.parts(gait, paces);
        pace + stride + turn + self.whatever
    }

    /// What the third print adds to what the second added as if it were one pace from the first, chance apart.
    pub fn tell(&self, gait: &Gait, paces: [u8; 2], tally: &mut impl Tally) {
        let [pace, stride, turn] = self.parts(gait, paces);
        let told = self.pace.ln_density(self.far[0] - self.length);
        tally.add(Term::Pace, pace - told);
        // In polar coordinates about the second print: each of distance and turn has its share of the area.
        tally.add(Term::Stride, stride - self.far[1]);
        tally.add(Term::Turn, turn - self.far[1]);
    }

    /// ln densities of the first pace, of the change to the second, and of the turn.
    fn parts(&self, gait: &Gait, paces: [u8; 2]) -> [f64; 3] {
        let [n, m] = paces.map(|paces| LN[usize::from(paces)]);
        let [even_first, even_second] = paces.map(|paces| paces.is_multiple_of(2));
        // Two paces on, a foot stands in line again, and the zigzag does not show.
        let zigzag = if even_first && even_second {
            0.25
        } else {
            gait.zigzag_sd_rad
        };
        let change_sd = if paces == [1, 1] {
            gait.pace_change_sd
        } else {
            gait.pace_change_sd * 1.4
        };
        let turn = Normal {
            mean: 0.0,
            sd: zigzag,
        };
        [
            self.pace.ln_density(self.far[0] - n - self.length),
            heavy(self.far[1] - m - self.far[0] + n, change_sd),
            turn.ln_density(self.turn),
        ]
    }
}

/// ln of small whole numbers.
const LN: [f64; 5] = [0.0, 0.0, LN_2, 1.098_612_288_668_11, 2.0 * LN_2];

/// ln of Student's t with four degrees of freedom about zero.
fn heavy(value: f64, sd: f64) -> f64 {
    // Gamma(5/2) / (Gamma(2) sqrt(4 pi)) = 3/8.
    -2.5 * (value * value / (4.0 * sd * sd)).ln_1p() + (0.375 / sd).ln()
}
