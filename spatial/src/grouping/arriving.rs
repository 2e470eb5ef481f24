//! Where a row comes to its next print, and after how many paces.

use super::evidence::Member;
use super::gaps::MOST_HIDDEN;
use super::motion::{Expected, Motion};
use super::scoring::{Model, Stage, Walk};
use super::terms::Sum;

/// A print that adds this much stands where it should.
const IN_PLACE: f64 = 1.5;

/// A row that has come to a further print: after how many paces, where it was expected, and what its place adds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arrived {
    pub motion: Motion,
    pub paces: u8,
    pub expected: Expected,
    pub ratio: f64,
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
    fn arrive(&self, walk: &Walk, motion: Motion, paces: u8, member: Member) -> Arrived {
        let expected = motion.expected();
        let ratio = self.place_ratio(walk, &expected, member) + self.missing_cost(walk.last, member, paces);
        Arrived {
            motion,
            paces,
            expected,
            ratio,
        }
    }

    pub fn best_paces(&self, walk: &Walk, mut motion: Motion, member: Member) -> Arrived {
        let far =
            (self.evidence.place(member) - self.evidence.place(walk.last)).length() / motion.pace().length();
        let likely = far.round().clamp(1.0, f64::from(MOST_HIDDEN)) as u8;
        // Near a whole number of paces no other number is thought of.
        let either = u8::from((far - f64::from(likely)).abs() > 0.3);
        let mut best: Option<Arrived> = None;
        for paces in 1..=likely.saturating_add(either) {
            motion.advance();
            if paces + either < likely {
                continue;
            }
            let arrived = self.arrive(walk, motion, paces, member);
            if best.is_none_or(|best| arrived.ratio > best.ratio) {
                best = Some(arrived);
            }
        }
        best.unwrap_or_else(|| self.arrive(walk, motion, 1, member))
    }

    /// Prints that could come next, and after how many paces; those that add nothing are left out.
    pub fn nexts(&self, walk: &Walk, most_missing: u8, least_gain: f64) -> Vec<Next> {
        let Stage::Many(mut motion) = walk.stage else {
            return Vec::new();
        };
        let (mut found, mut exposed): (Vec<Next>, u8) = (Vec::new(), 0);
        let unsteadiness = (walk.scale / walk.known).sqrt();
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
                let (mut after, mut gain) = (*walk, Sum::new());
                let arrived = self.arrive(walk, motion, paces, member);
                self.take_further(&mut after, arrived, member, &mut gain);
                let gain = gain.total();
                if gain > least_gain {
                    found.push(Next { member, paces, gain });
                }
            }
            exposed += u8::from(!self.evidence.ground.is_hidden(expected.place));
            // A print where it is expected leaves no room for one that was missed.
            if exposed > most_missing || found.iter().any(|next| next.gain > IN_PLACE) {
                break;
            }
        }
        found.sort_by(|a, b| b.gain.total_cmp(&a.gain).then(a.member.cmp(&b.member)));
        found
    }
}
