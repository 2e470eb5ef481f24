//! Missing prints: how many there may be, and what they cost.

use super::evidence::Member;
use super::motion::Vector;
use super::scoring::Model;
use super::three::Costs;

/// How many prints may be missing where a row is grown print by print on exposed rock.
pub(super) const MOST_MISSING: u8 = 3;
/// How many may be missing there between two pieces that are known to be rows each.
pub(super) const MOST_APART: u8 = 9;
/// How many may be missing across hidden ground.
pub(super) const MOST_HIDDEN: u8 = 12;
/// ln of the probability that a print on hidden ground is missing: it nearly always is.
const HIDDEN: f64 = -0.05;
/// No evidence outweighs this.
const NEVER: f64 = -1e6;

impl Model<'_> {
    /// Whether a print at a place, which a row has come to from another, could not be seen.
    pub fn is_hidden(&self, from: Member, place: Vector) -> bool {
        let foot = self.evidence.foot(from);
        (place - foot.place).length() >= foot.open_m && self.evidence.ground.is_hidden(place)
    }

    /// What the prints cost that are missing between two.
    pub fn missing_cost(&self, from: Member, to: Member, paces: u8) -> f64 {
        if paces <= 1 {
            return 0.0;
        }
        if !self.is_hidden_between(from, to) {
            return self.exposed_cost(paces);
        }
        let (from, to) = (self.evidence.place(from), self.evidence.place(to));
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
            cost + self.gait.run_missing[usize::from(exposed)]
        }
    }

    /// What the missing prints cost for one pace to the most that exposed rock allows.
    pub fn missing_costs(&self, from: Member, to: Member) -> Costs {
        let is_hidden = self.is_hidden_between(from, to);
        let mut costs = Costs::default();
        for (paces, cost) in (1..).zip(&mut costs) {
            *cost = if is_hidden {
                self.missing_cost(from, to, paces)
            } else {
                self.exposed_cost(paces)
            };
        }
        costs
    }

    /// Whether anything between two prints could be hidden.
    fn is_hidden_between(&self, from: Member, to: Member) -> bool {
        let open_m = self.evidence.foot(from).open_m;
        let (from, to) = (self.evidence.place(from), self.evidence.place(to));
        (to - from).length() >= open_m && self.evidence.ground.hides_between(from, to)
    }

    /// What the prints cost that are missing in so many paces where all would show.
    fn exposed_cost(&self, paces: u8) -> f64 {
        let missing = paces - 1;
        if missing > MOST_APART {
            NEVER
        } else {
            self.gait.run_missing[usize::from(missing)]
        }
    }
}
