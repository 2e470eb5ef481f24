//! The log-likelihood ratio of a row of prints against chance.
//!
//! Each print after the first adds the density of its place, seen from the prints before it, over the density of
//! prints there that belong to no row; and the same ratio for each attribute that is known. Missing prints and
//! the row's two ends cost something. A row with a score above zero is more probable than chance.

use super::arriving::{Arrived, Next};
use super::evidence::{Evidence, Foot, Member};
use super::gait::Gait;
use super::kin::Kin;
use super::motion::{Expected, Motion, Vector};
use super::terms::{Sum, Tally, Term};
use super::three::Three;
use std::f64::consts::TAU;

/// Half the degrees of freedom with which a row's unsteadiness is known beforehand: heavy tails.
const KNOWN_BEFORE: f64 = 2.5;
/// A print further off than this many standard deviations tells no more of the unsteadiness.
const FAR_OFF_2: f64 = 9.0;
/// Prints and beliefs together: all that scores depend on.
#[derive(Debug)]
pub(super) struct Model<'a> {
    pub evidence: &'a Evidence<'a>,
    pub gait: Gait,
}

/// Prints of one limb kind of one animal, in order.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    pub prints: Vec<Member>,
    /// Missing prints between successive ones.
    pub missing: Vec<u8>,
    /// Log-likelihood ratio against chance.
    pub score: f64,
}

/// A row while it is walked along.
#[derive(Debug, Clone, Copy)]
pub(super) struct Walk {
    pub stage: Stage,
    kin: Kin,
    even: bool,
    /// Shape and scale of what is known of the unsteadiness: an inverse gamma distribution of its square.
    pub known: f64,
    pub scale: f64,
    pub score: f64,
    pub last: Member,
}

/// How a print's place fits what is expected.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    /// The density where it is expected most, and ln of the part of it where the print lies.
    pub peak: f64,
    pub shape: f64,
    /// ln of the density of prints of no row.
    pub chance: f64,
    /// The squared distance, in units of the unsteadiness and of the pace.
    pub off_2: f64,
}

impl Fit {
    pub fn ratio(&self) -> f64 {
        self.peak.ln() + self.shape - self.chance
    }
}

/// How far a walk has come.
#[derive(Debug, Clone, Copy)]
pub(super) enum Stage {
    One,
    Two { first: Member },
    Many(Motion),
}

impl Model<'_> {
    pub fn start(&self, first: Member) -> Walk {
        let mut kin = Kin::default();
        kin.add(self.evidence.foot(first), true);
        Walk {
            stage: Stage::One,
            kin,
            even: true,
            known: KNOWN_BEFORE,
            scale: KNOWN_BEFORE * self.gait.unsteadiness.powi(2),
            score: self.gait.ends,
            last: first,
        }
    }

    /// What a third print makes of a walk over two, no print missing.
    pub fn score_third(&self, first: Member, two: &Walk, third: Member) -> f64 {
        let trio = [first, two.last, third];
        let (mut walk, mut gain) = (*two, Sum::new());
        self.take_third(&mut walk, trio, &Three::of(self, trio), [1, 1], &mut gain);
        two.score + gain.total()
    }

    /// The score of these prints as a row, in the order that does not depend on how they came.
    pub fn row(&self, mut prints: Vec<Member>) -> Row {
        if self.is_backward(&prints) {
            prints.reverse();
        }
        let mut missing = Vec::with_capacity(prints.len());
        let walk = self.walk(&prints, &mut missing);
        let wishes = &self.evidence.wishes;
        let told = if wishes.is_empty() {
            0.0
        } else {
            wishes.of_row(&prints)
        };
        Row {
            prints,
            missing,
            score: walk.map_or(0.0, |walk| walk.score) + told,
        }
    }

    /// Whether prints are enough for a row: three, or two that are told to follow each other.
    pub fn is_row(&self, prints: &[Member]) -> bool {
        prints.len() >= 3 || (prints.len() == 2 && self.evidence.wishes.is_fixed(prints[0], prints[1]))
    }

    /// The score alone, as of [`Model::row`]; what is no row has none.
    pub fn score(&self, prints: &[Member]) -> f64 {
        let Some((first, last)) = prints.first().zip(prints.last()).filter(|_| self.is_row(prints)) else {
            return 0.0;
        };
        if !self.evidence.wishes.is_empty() {
            return self.row(prints.to_vec()).score;
        }
        let walk = if self.is_backward(prints) {
            self.walk_over(*last, prints.iter().rev().skip(1))
        } else {
            self.walk_over(*first, prints.iter().skip(1))
        };
        walk.score
    }

    fn walk_over<'a>(&self, first: Member, rest: impl Iterator<Item = &'a Member>) -> Walk {
        let mut walk = self.start(first);
        for member in rest {
            self.take(&mut walk, *member);
        }
        walk
    }

    /// Walks along all prints in the order given, and notes what is missing between them.
    pub fn walk(&self, prints: &[Member], missing: &mut Vec<u8>) -> Option<Walk> {
        let (first, rest) = prints.split_first()?;
        let mut walk = self.start(*first);
        for member in rest {
            let third = matches!(walk.stage, Stage::Two { .. });
            let (before, paces) = self.take(&mut walk, *member);
            if third {
                missing[0] = before - 1;
            }
            missing.push(paces - 1);
        }
        Some(walk)
    }

    /// The walk along prints in the order given, as far as each of them.
    pub fn walks(&self, prints: &[Member]) -> Vec<Walk> {
        let mut walk = self.start(prints[0]);
        let mut walks = Vec::with_capacity(prints.len());
        walks.push(walk);
        for member in &prints[1..] {
            self.take(&mut walk, *member);
            walks.push(walk);
        }
        walks
    }

    /// A row starts at the end with the shorter pace: turning the surface does not change that.
    pub fn is_backward(&self, prints: &[Member]) -> bool {
        let pace_2 = |a: Member, b: Member| {
            let step = self.evidence.place(b) - self.evidence.place(a);
            step.dot(step)
        };
        let (mut low, mut high) = (0, prints.len().saturating_sub(1));
        while low < high {
            let (begin, end) = (
                pace_2(prints[low], prints[low + 1]),
                pace_2(prints[high], prints[high - 1]),
            );
            if (begin - end).abs() > 1e-9 * (begin + end) {
                return begin > end;
            }
            (low, high) = (low + 1, high - 1);
        }
        prints.first() > prints.last()
    }

    /// Takes the next print in with the most probable number of paces; gives the paces before it (which only the
    /// third print settles) and to it.
    pub fn take(&self, walk: &mut Walk, member: Member) -> (u8, u8) {
        let mut gain = Sum::new();
        let paces = self.take_into(walk, member, &mut gain);
        walk.score += gain.total();
        paces
    }

    /// The same, with what the print adds given to a tally and not to the walk.
    pub fn take_into(&self, walk: &mut Walk, member: Member, tally: &mut impl Tally) -> (u8, u8) {
        match walk.stage {
            Stage::One => {
                self.take_second(walk, member, tally);
                (1, 1)
            }
            Stage::Two { first } => {
                let trio = [first, walk.last, member];
                let three = Three::of(self, trio);
                let paces = three.best_paces([
                    self.missing_costs(first, walk.last),
                    self.missing_costs(walk.last, member),
                ]);
                self.take_third(walk, trio, &three, paces, tally);
                (paces[0], paces[1])
            }
            Stage::Many(mut motion) => {
                let arrived = self.best_paces(walk, &mut motion, member);
                self.take_further(walk, &mut motion, &arrived, member, tally);
                (1, arrived.paces)
            }
        }
    }

    fn take_second(&self, walk: &mut Walk, member: Member, tally: &mut impl Tally) {
        let first = walk.last;
        self.pace_ratio(first, member, tally);
        self.tell_kin(walk, member, 1, tally);
        self.settle(walk, member, 1, Stage::Two { first }, tally);
    }

    /// The third print's own score takes back what the second's pace gave for one pace if it was several.
    fn take_third(
        &self,
        walk: &mut Walk,
        trio: [Member; 3],
        three: &Three,
        paces: [u8; 2],
        tally: &mut impl Tally,
    ) {
        let [first, _, member] = trio;
        three.tell(paces, tally);
        let missing = self.missing_cost(trio[0], trio[1], paces[0]) - self.missing_cost(trio[0], trio[1], 1)
            + self.missing_cost(trio[1], trio[2], paces[1]);
        tally.add(Term::Missing, missing);
        tally.add(Term::Chance, -self.chance(self.evidence.foot(member)));
        if paces[0].is_multiple_of(2) {
            // The second print is of the first's foot after all.
            walk.even = true;
            walk.kin = Kin::default();
            walk.kin.add(self.evidence.foot(first), true);
            walk.kin.add(self.evidence.foot(trio[1]), true);
        }
        self.tell_kin(walk, member, paces[1], tally);
        let evens = [
            true,
            paces[0].is_multiple_of(2),
            (paces[0] + paces[1]).is_multiple_of(2),
        ];
        let motion = Motion::of_three(trio.map(|member| self.evidence.place(member)), paces);
        self.settle(walk, member, paces[1], Stage::Many(motion), tally);
        for (member, even) in trio.into_iter().zip(evens) {
            self.add_azimuth(walk, member, motion.pace(), even, tally);
        }
    }

    /// Takes a further print in, where a motion has come to it.
    pub fn take_further(
        &self,
        walk: &mut Walk,
        motion: &mut Motion,
        arrived: &Arrived,
        member: Member,
        tally: &mut impl Tally,
    ) {
        let Arrived {
            paces,
            expected,
            fit,
            missing,
        } = arrived;
        tally.add(Term::Stride, fit.shape);
        tally.times(Term::Stride, fit.peak);
        tally.add(Term::Missing, *missing);
        tally.add(Term::Chance, -fit.chance);
        self.tell_kin(walk, member, *paces, tally);
        walk.scale += fit.off_2.min(FAR_OFF_2 * walk.scale / walk.known) / 2.0;
        walk.known += 1.0;
        motion.observe(expected, self.evidence.place(member));
        self.settle(walk, member, *paces, Stage::Many(*motion), tally);
        self.add_azimuth(walk, member, motion.pace(), walk.even, tally);
    }

    #[inline]
    fn settle(&self, walk: &mut Walk, member: Member, paces: u8, stage: Stage, tally: &mut impl Tally) {
        if !self.evidence.wishes.is_empty() {
            let told = self.evidence.wishes.of_link(walk.last, member);
            if told != 0.0 {
                tally.add(Term::Told, told);
            }
        }
        walk.even ^= paces % 2 == 1;
        walk.kin.add(self.evidence.foot(member), walk.even);
        walk.last = member;
        walk.stage = stage;
    }

    fn add_azimuth(
        &self,
        walk: &mut Walk,
        member: Member,
        heading: Vector,
        even: bool,
        tally: &mut impl Tally,
    ) {
        if let Some(azimuth) = self.evidence.foot(member).azimuth {
            let ratio = walk.kin.take_azimuth(&self.gait, azimuth, heading, even);
            tally.times(Term::Azimuth, ratio);
        }
    }

    /// What a further print's place and its attributes add, all but its azimuth.
    pub fn fit_and_kin(&self, walk: &Walk, fit: Fit, paces: u8, member: Member) -> f64 {
        let mut sum = Sum::new();
        sum.add(Term::Stride, fit.shape - fit.chance);
        sum.times(Term::Stride, fit.peak);
        self.tell_kin(walk, member, paces, &mut sum);
        sum.total()
    }

    fn tell_kin(&self, walk: &Walk, member: Member, paces: u8, tally: &mut impl Tally) {
        let even = walk.even ^ (paces % 2 == 1);
        walk.kin
            .tell(&self.gait, self.evidence, self.evidence.foot(member), even, tally);
    }

    /// What the next print would add, with the most probable number of paces.
    pub fn gain(&self, walk: &Walk, member: Member) -> Next {
        let mut after = *walk;
        let (_, paces) = self.take(&mut after, member);
        Next {
            member,
            paces,
            gain: after.score - walk.score,
        }
    }

    /// The place of a second print, one pace from the first.
    ///
    /// # Formula
    /// f(ln d) / (2π d²) over the density of prints of no row.
    fn pace_ratio(&self, first: Member, second: Member, tally: &mut impl Tally) {
        let expected = self.gait.pace_of(self.evidence, first);
        let (one, two) = (self.evidence.foot(first), self.evidence.foot(second));
        let far_m = (two.place - one.place).length().max(1e-3);
        let length = (one.size + two.size) / 2.0;
        let density = expected.ln_density(far_m.ln() - length);
        tally.add(Term::Pace, density);
        tally.times(Term::Pace, 1.0 / (TAU * far_m * far_m));
        tally.add(Term::Chance, -self.chance(two));
        tally.add(Term::Missing, self.missing_cost(first, second, 1));
    }

    /// The place of a further print against chance.
    ///
    /// # Formula
    /// Student's t in two dimensions: (1 + q/ν)^(−(ν+2)/2) / (2π s² √(A C)), with ν twice the shape of what is known
    /// of the unsteadiness, s its scale in metres, A and C the variances along and across, q the squared distance.
    pub fn fit(&self, walk: &Walk, expected: &Expected, member: Member) -> Fit {
        let foot = self.evidence.foot(member);
        let scale_2 = walk.scale / walk.known;
        let freedom = 2.0 * walk.known;
        let off_2 = expected.distance_2(foot.place);
        let area =
            TAU * scale_2 * expected.pace_m * expected.pace_m * (expected.along * expected.across).sqrt();
        Fit {
            peak: 1.0 / area,
            shape: -(freedom + 2.0) / 2.0 * (1.0 + off_2 / (scale_2 * freedom)).ln(),
            chance: self.chance(foot),
            off_2,
        }
    }

    /// ln of the density of prints of no row, less the probability that a print that was made is there.
    pub fn chance(&self, foot: &Foot) -> f64 {
        foot.crowding + self.gait.ln_chance
    }
}

impl Walk {
    /// The pace vector, once there are three prints.
    pub fn pace(&self) -> Option<Vector> {
        match self.stage {
            Stage::Many(motion) => Some(motion.pace()),
            Stage::One | Stage::Two { .. } => None,
        }
    }

    pub fn kin(&self) -> &Kin {
        &self.kin
    }

    /// The row's unsteadiness as it is known by now, as a part of its pace.
    pub fn unsteadiness(&self) -> f64 {
        (self.scale / self.known).sqrt()
    }
}
