//! What is held of gaits beforehand, and learnt from the trackways found.

use super::evidence::{Evidence, Member};
use super::gaps::MOST_HIDDEN;
use super::scatter::Scatter;
use super::scoring::{Model, Row};
use super::seen::Seen;
use crate::model::Limb;
use crate::sample::Sample;

/// The part of all prints that would lie where they lie without any row.
const BACKGROUND: f64 = 0.3;
/// The part of stretches that lie where damage or later feet have taken most prints, and the part that these take.
/// Damage lies in patches, so that many in a row are missing more often than each by itself would be.
const PATCHES: f64 = 0.03;
const TAKEN: f64 = 0.7;
/// Two paces with prints missing between them differ by this much more than two that follow each other.
const GAPPED: f64 = 1.4;
/// From no print missing to the most that are thought of.
const RUN: usize = MOST_HIDDEN as usize + 1;

/// The part of sides, limbs and morphotypes that are recorded wrongly.
const WRONG: f64 = 0.03;
/// So many records more for one of two things than for the other leave no doubt that a score could show.
const SURE_LEAD: i32 = 12;
/// How far the rotation of a foot may stand from the heading, radians. Common practice: within some 15 degrees.
const ROTATION_SD_RAD: f64 = 0.25;

/// A normal distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Normal {
    pub mean: f64,
    pub sd: f64,
    /// ln of the density at the mean.
    peak: f64,
}

impl Normal {
    pub fn new(mean: f64, sd: f64) -> Self {
        // ln of the square root of 2π.
        let peak = -sd.ln() - 0.918_938_533_204_672_7;
        Self { mean, sd, peak }
    }

    pub fn ln_density(self, value: f64) -> f64 {
        let off = (value - self.mean) / self.sd;
        self.peak - 0.5 * off * off
    }
}

/// Student's t with four degrees of freedom about zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct HeavyTailed {
    pub sd: f64,
    /// ln of the density at zero.
    pub peak: f64,
}

impl HeavyTailed {
    fn new(sd: f64) -> Self {
        // Gamma(5/2) / (Gamma(2) sqrt(4 pi)) = 3/8.
        let peak = (0.375 / sd).ln();
        Self { sd, peak }
    }

    pub fn ln_density(self, value: f64) -> f64 {
        self.peak - 2.5 * (1.0 + value * value / (4.0 * self.sd * self.sd)).ln()
    }
}

fn majority(wrong: f64, lead: i32) -> f64 {
    1.0 / (1.0 + (wrong / (1.0 - wrong)).powi(lead))
}

/// What is expected of every row of prints.
#[derive(Debug, Clone)]
pub(super) struct Gait {
    /// ln of pace over foot length.
    pub pace: Normal,
    /// The same for each morphotype's pes and manus, where enough rows were found.
    pub pace_of: Vec<[Option<Normal>; 2]>,
    /// ln of one pace over the pace before.
    pub pace_change: HeavyTailed,
    /// The same where any print is missing.
    pub pace_change_gapped: HeavyTailed,
    /// The turn from one pace to the next, radians: 0 where prints stand in one line.
    pub zigzag: Normal,
    /// Typical unsteadiness of a row, as a part of its pace.
    pub unsteadiness: f64,
    /// How ln length and ln (width / length) scatter within a row.
    pub size: Scatter,
    pub shape: Scatter,
    /// How a foot's azimuth scatters against the heading, its rotation allowed for, radians.
    pub azimuth: Scatter,
    /// The probability that a side, limb or morphotype is recorded wrongly.
    pub wrong: f64,
    /// The probability of one of two things by how many records more speak for it than for the other.
    majority: [f64; 2 * SURE_LEAD as usize + 1],
    /// The probability that a print is missing where the rock is exposed.
    pub missing: f64,
    /// ln of the probability that so many are missing one after the other, from none.
    pub run_missing: [f64; RUN],
    /// What is added to the ln of the crowding to get the ln density of prints of no row, less the probability that a
    /// print that was made is there.
    pub ln_chance: f64,
    /// ln of the odds of a row's beginning and ending where it does.
    pub ends: f64,
}

impl Gait {
    /// Broad beliefs before anything is seen. Common practice: paces of two to eight foot lengths, more for the
    /// small fore feet of quadrupeds and for runners; pace angulation from 100 to 180 degrees; paces that vary by
    /// 5 to 15 % within a trackway.
    pub fn broad() -> Self {
        Self {
            pace: Normal::new(3.8f64.ln(), 0.5),
            pace_of: Vec::new(),
            pace_change: HeavyTailed::new(0.18),
            pace_change_gapped: HeavyTailed::new(0.18 * GAPPED),
            zigzag: Normal::new(0.0, 0.7),
            unsteadiness: 0.07,
            size: Scatter::new(0.08, None),
            shape: Scatter::new(0.1, None),
            azimuth: Scatter::new(0.3, Some(ROTATION_SD_RAD)),
            wrong: WRONG,
            majority: std::array::from_fn(|at| majority(WRONG, at as i32 - SURE_LEAD)),
            missing: 0.12,
            run_missing: [0.0; RUN],
            ln_chance: 0.0,
            ends: -5.0,
        }
        .with_missing(0.12)
    }

    /// The same where this part of prints is missing.
    fn with_missing(self, missing: f64) -> Self {
        let run = |count: i32| ((1.0 - PATCHES) * missing.powi(count) + PATCHES * TAKEN.powi(count)).ln();
        Self {
            missing,
            run_missing: std::array::from_fn(|count| run(count as i32)),
            ln_chance: BACKGROUND.ln() - (1.0 - missing).ln(),
            ..self
        }
    }

    /// The probability of one of two things, when so many records more speak for it than for the other.
    pub fn majority(&self, lead: i32) -> f64 {
        self.majority[(lead.clamp(-SURE_LEAD, SURE_LEAD) + SURE_LEAD) as usize]
    }

    /// The longest pace that is thought of for a foot of this length.
    pub fn longest_pace_m(&self, length_m: f64) -> f64 {
        length_m * (self.pace.mean + 2.2 * self.pace.sd).exp()
    }

    /// What is expected of the pace of a row like this print's.
    pub fn pace_of(&self, evidence: &Evidence, member: Member) -> Normal {
        let foot = evidence.foot(member);
        let of_kind = foot
            .morphotype
            .and_then(|number| self.pace_of.get(usize::from(number)));
        let limb = usize::from(foot.limb == Some(Limb::Manus));
        of_kind.and_then(|limbs| limbs[limb]).unwrap_or(self.pace)
    }

    /// Learns from the rows found. Each measure is drawn towards the belief before, as if that were the
    /// experience of some rows more, so that a surface with few trackways is not taken for a rule.
    pub fn learnt(&self, model: &Model, rows: &[Row]) -> Self {
        let seen = Seen::of(model, rows);
        let about_zero = |sample: Sample, sd: f64| drawn(sample, Normal::new(0.0, sd), 60.0).sd;
        let unsteadiness = Normal::new(self.unsteadiness.ln(), 0.3);
        let pace_change_sd = about_zero(seen.pace_changes, self.pace_change.sd);
        let pace = drawn(seen.paces, self.pace, 10.0);
        let of_kind = |paces: &Sample| (paces.count >= 3.0).then(|| drawn(*paces, pace, 3.0));
        let missing = (seen.missing + 50.0 * self.missing) / (seen.prints + seen.missing + 50.0);
        Self {
            pace,
            pace_of: seen
                .paces_of
                .iter()
                .map(|limbs| limbs.each_ref().map(of_kind))
                .collect(),
            pace_change: HeavyTailed::new(pace_change_sd),
            pace_change_gapped: HeavyTailed::new(pace_change_sd * GAPPED),
            zigzag: Normal::new(0.0, about_zero(seen.turns, self.zigzag.sd)),
            unsteadiness: drawn(seen.unsteadiness, unsteadiness, 10.0).mean.exp(),
            size: Scatter::new(about_zero(seen.sizes, self.size.sd), None),
            shape: Scatter::new(about_zero(seen.shapes, self.shape.sd), None),
            azimuth: Scatter::new(about_zero(seen.azimuths, self.azimuth.sd), Some(ROTATION_SD_RAD)),
            ..self.clone()
        }
        .with_missing(missing.clamp(0.02, 0.4))
    }
}

/// What was seen, as if `weight` values of the belief had been seen too.
fn drawn(seen: Sample, belief: Normal, weight: f64) -> Normal {
    let (mean, variance) = seen.drawn_to(belief.mean, belief.sd, weight);
    Normal::new(mean, variance.max(1e-6).sqrt())
}
