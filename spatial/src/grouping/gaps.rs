//! Missing prints: how many there may be, and what they cost.

use super::evidence::Member;
use super::scoring::Model;

/// How many prints may be missing where a row is grown print by print on exposed rock.
pub(super) const MOST_MISSING: u8 = 3;
/// How many may be missing there between two pieces that are known to be rows each.
pub(super) const MOST_APART: u8 = 9;
/// The part of stretches that lie where damage or later feet have taken most prints, and the part that these take.
/// Damage lies in patches, so that many in a row are missing more often than each by itself would be.
const PATCHES: f64 = 0.03;
const TAKEN: f64 = 0.7;
/// How many may be missing across hidden ground.
pub(super) const MOST_HIDDEN: u8 = 12;
/// ln of the probability that a print on hidden ground is missing: it nearly always is.
const HIDDEN: f64 = -0.05;
/// No evidence outweighs this.
const NEVER: f64 = -1e6;

impl Model<'_> {
    /// What the prints cost that are missing between two.
    pub fn missing_cost(&self, from: Member, to: Member, paces: u8) -> f64 {
        if paces <= 1 {
            return 0.0;
        }
        let (from, to) = (self.evidence.place(from), self.evidence.place(to));
        if !self.evidence.ground.hides_between(from, to) {
            let missing = paces - 1;
            return if missing > MOST_APART {
                NEVER
            } else {
                self.run_missing(missing)
            };
        }
        let (mut cost, mut exposed) = (0.0, 0);
        for pace in 1..paces {
            let between = from + (to - from) * (f64::from(pace) / f64::from(paces));
            if self.evidence.ground.is_hidden(between) {
                cost += HIDDEN;
            } else {
                exposed += 1;
            }
        }
        if exposed > MOST_APART {
            NEVER
        } else {
            cost + self.run_missing(exposed)
        }
    }

    /// ln of the probability that so many are missing one after the other.
    ///
    /// # Formula
    /// ln ((1 − q) mⁿ + q tⁿ) with m the part missing anywhere, q the part of patches, t the part taken there.
    fn run_missing(&self, count: u8) -> f64 {
        if count == 0 {
            return 0.0;
        }
        let count = i32::from(count);
        ((1.0 - PATCHES) * self.gait.missing.powi(count) + PATCHES * TAKEN.powi(count)).ln()
    }

    /// What the missing prints cost for one pace to the most that exposed rock allows.
    pub fn missing_costs(&self, from: Member, to: Member) -> [f64; MOST_MISSING as usize + 1] {
        let mut costs = [0.0; MOST_MISSING as usize + 1];
        for (paces, cost) in (1..).zip(&mut costs) {
            *cost = self.missing_cost(from, to, paces);
        }
        costs
    }
}
