//! Where a row comes to its next print, and after how many paces.

use super::evidence::Member;
use super::gaps::MOST_HIDDEN;
use super::motion::{Expected, Motion};
use super::scoring::{Fit, Model, Stage, Walk};
use super::terms::Sum;

/// A print that adds this much stands where it should.
const IN_PLACE: f64 = 1.5;

/// So many prints ahead show what a row is worth from here on.
pub(super) const AHEAD: usize = 4;

/// A row that has come to a further print: after how many paces, where it was expected, how that fits, and what the
/// prints missing before it cost.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arrived {
    pub paces: u8,
    pub expected: Expected,
    pub fit: Fit,
    pub missing: f64,
}

/// A further print for a row: after how many paces, and what it adds to the score.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Next {
    pub member: Member,
    pub paces: u8,
    pub gain: f64,
}

impl Model<'_> {
    /// The next print after a motion that has come so many paces on.
    fn arrive(&self, walk: &Walk, motion: &Motion, paces: u8, member: Member) -> Arrived {
        let expected = motion.expected();
        Arrived {
            paces,
            expected,
            fit: self.fit(walk, &expected, member),
            missing: self.missing_cost(walk.last, member, paces),
        }
    }

    /// The most probable number of paces to the next print; takes the motion so far on.
    pub fn best_paces(&self, walk: &Walk, motion: &mut Motion, member: Member) -> Arrived {
        let far =
            (self.evidence.place(member) - self.evidence.place(walk.last)).length() / motion.pace().length();
        let likely = far.round().clamp(1.0, f64::from(MOST_HIDDEN)) as u8;
        // Near a whole number of paces no other number is thought of.
        let either = u8::from((far - f64::from(likely)).abs() > 0.3);
        let fewest = likely.saturating_sub(either).max(1);
        for _ in 0..fewest {
            motion.advance();
        }
        let mut best = self.arrive(walk, motion, fewest, member);
        let mut further = *motion;
        for paces in fewest + 1..=likely + either {
            further.advance();
            let arrived = self.arrive(walk, &further, paces, member);
            if arrived.fit.ratio() + arrived.missing > best.fit.ratio() + best.missing {
                (best, *motion) = (arrived, further);
            }
        }
        best
    }

    /// What the next few prints would add after a walk.
    pub fn onward(&self, walk: &Walk, prints: &[Member]) -> f64 {
        let mut after = *walk;
        for member in prints.iter().take(AHEAD) {
            self.take(&mut after, *member);
        }
        after.score - walk.score
    }

    /// Prints that could come next, and after how many paces; those that add nothing are left out.
    pub fn nexts(&self, walk: &Walk, most_missing: u8, least_gain: f64) -> Vec<Next> {
        let Stage::Many(mut motion) = walk.stage else {
            return Vec::new();
        };
        let (mut found, mut exposed): (Vec<Next>, u8) = (Vec::new(), 0);
        let unsteadiness = walk.unsteadiness();
        // What the user has told can outweigh everything; else an azimuth adds no more than this.
        let (may_prune, azimuth) = (self.evidence.wishes.is_empty(), self.gait.most_of_azimuth());
        for paces in 1..=MOST_HIDDEN {
            motion.advance();
            let expected = motion.expected();
            let radius_m = 4.0 * unsteadiness * expected.pace_m * expected.along.max(expected.across).sqrt();
            if !radius_m.is_finite() {
                break;
            }
            for member in self.evidence.within(expected.place, radius_m, walk.last) {
                if member == walk.last || found.iter().any(|next| next.member == member) {
                    continue;
                }
                let fit = self.fit(walk, &expected, member);
                // Most prints near by are told from the row's by their place and kind alone.
                if may_prune && self.fit_and_kin(walk, fit, paces, member) + azimuth < least_gain {
                    continue;
                }
                let (mut after, mut gain) = (*walk, Sum::new());
                let missing = self.missing_cost(walk.last, member, paces);
                let arrived = Arrived {
                    paces,
                    expected,
                    fit,
                    missing,
                };
                self.take_further(&mut after, &mut motion.clone(), &arrived, member, &mut gain);
                let gain = gain.total();
                if gain > least_gain {
                    found.push(Next { member, paces, gain });
                }
            }
            exposed += u8::from(!self.is_hidden(walk.last, expected.place));
            // A print where it is expected leaves no room for one that was missed.
            if exposed > most_missing || found.iter().any(|next| next.gain > IN_PLACE) {
                break;
            }
        }
        found.sort_by(|a, b| b.gain.total_cmp(&a.gain).then(a.member.cmp(&b.member)));
        found
    }
}
