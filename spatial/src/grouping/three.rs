//! Three prints as their places show them: the pace, its repeat, and the turn between them.

use super::evidence::Member;
use super::gait::{HeavyTailed, Normal};
use super::gaps::MOST_MISSING;
use super::scoring::Model;
use super::terms::{Tally, Term};
use std::f64::consts::LN_2;

/// What each number of paces costs by the prints missing in it, from one pace.
pub(super) type Costs = [f64; MOST_MISSING as usize + 1];

/// The places of three prints in a row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Three {
    /// ln of each step's length.
    far: [f64; 2],
    length: f64,
    pace: Normal,
    /// How much one pace differs from the next, where no print is missing and where any is.
    change: [HeavyTailed; 2],
    /// ln density of the turn, where a foot repeats at both steps and where not.
    turn: [f64; 2],
}

/// Two paces on, a foot stands in line again, and the zigzag does not show: standard deviation of the turn, radians.
const IN_LINE_SD_RAD: f64 = 0.25;

impl Three {
    pub fn of(model: &Model, [first, second, third]: [Member; 3]) -> Self {
        let gait = &model.gait;
        let feet = [first, second, third].map(|member| model.evidence.foot(member));
        let (one, two) = (feet[1].place - feet[0].place, feet[2].place - feet[1].place);
        let turn = one.cross(two).atan2(one.dot(two));
        let in_line = Normal::new(0.0, IN_LINE_SD_RAD);
        Self {
            far: [one, two].map(|step| step.length().max(1e-3).ln()),
            length: (feet[0].size + feet[1].size) / 2.0,
            pace: gait.pace_of(model.evidence, first),
            change: [gait.pace_change, gait.pace_change_gapped],
            turn: [in_line.ln_density(turn), gait.zigzag.ln_density(turn)],
        }
    }

    /// The most probable paces to the second print and from it to the third.
    pub fn best_paces(&self, costs: [Costs; 2]) -> [u8; 2] {
        let mut best = ([1, 1], f64::NEG_INFINITY);
        for (first, first_cost) in (1..).zip(costs[0]) {
            for (second, second_cost) in (1..).zip(costs[1]) {
                let paces = [first, second];
                let apart = self.pace(first) + self.turn(paces) + first_cost + second_cost;
                // Most numbers of paces cannot win, whatever the change from one to the next.
                if apart + self.change_of(paces).peak <= best.1 {
                    continue;
                }
                let ratio = apart + self.change(paces);
                if ratio > best.1 {
                    best = (paces, ratio);
                }
            }
        }
        best.0
    }

    /// What the third print adds to what the second added as if it were one pace from the first, chance apart.
    pub fn tell(&self, paces: [u8; 2], tally: &mut impl Tally) {
        tally.add(Term::Pace, self.pace(paces[0]) - self.pace(1));
        // In polar coordinates about the second print: each of distance and turn has its share of the area.
        tally.add(Term::Stride, self.change(paces) - self.far[1]);
        tally.add(Term::Turn, self.turn(paces) - self.far[1]);
    }

    /// ln density of the first step as so many paces.
    fn pace(&self, paces: u8) -> f64 {
        self.pace
            .ln_density(self.far[0] - LN[usize::from(paces)] - self.length)
    }

    /// ln density of the change from the first pace to the second.
    fn change(&self, paces: [u8; 2]) -> f64 {
        let [n, m] = paces.map(|paces| LN[usize::from(paces)]);
        self.change_of(paces)
            .ln_density(self.far[1] - m - self.far[0] + n)
    }

    fn change_of(&self, paces: [u8; 2]) -> HeavyTailed {
        self.change[usize::from(paces != [1, 1])]
    }

    fn turn(&self, paces: [u8; 2]) -> f64 {
        self.turn[usize::from(!paces.iter().all(|paces| paces.is_multiple_of(2)))]
    }
}

/// ln of small whole numbers.
const LN: [f64; 5] = [0.0, 0.0, LN_2, 1.098_612_288_668_11, 2.0 * LN_2];
