//! What speaks for two trackways of one time, and what against it.

use super::path::Path;
use super::slides::spacing_p;
use super::stretch::Stretch;
use crate::model::{Label, named};
use serde::Serialize;

/// Speeds that differ by no more than this factor agree; common practice, no more than a rule of thumb.
const SPEEDS_AGREE: f64 = 1.25;
/// A spacing that is kept as well as in so few of the slides is kept.
const KEPT_P: f64 = 0.05;

/// Prints of one trackway that lie over prints of another, as far as they are recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Overlying {
    /// The trackway whose prints lie above.
    pub upper: Label,
    /// The trackway whose prints lie below.
    pub lower: Label,
    /// How many prints.
    pub prints: u32,
}

named!(
    /// What is asked of two trackways.
    EvidenceKind {
        /// Whether the spacing is kept through the bends.
        SpacingKept = "spacing_kept",
        /// Whether they went equally fast.
        SpeedAgreement = "speed_agreement",
        /// Whether their lines stay apart.
        NoCrossing = "no_crossing",
        /// Which of them trod on which.
        Overlying = "overlying",
    }
);

named!(
    /// What it says on whether they were there at one time.
    Bearing {
        /// It speaks for it.
        For = "for",
        /// It speaks for it, but much else gives the same.
        WeaklyFor = "weakly_for",
        /// It says nothing.
        Neutral = "neutral",
        /// It speaks against it.
        Against = "against",
    }
);

/// One piece of evidence.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Evidence {
    /// What was asked.
    pub kind: EvidenceKind,
    /// What it bears on one time.
    pub bearing: Bearing,
    /// The same in words, with the figures.
    pub says: String,
    /// The probability of as much by chance, where it was tested.
    pub p: Option<f64>,
}

/// How often each of two treads on the other: the first on the second, the second on the first.
pub(super) fn treads(overlying: &[Overlying], one: &Label, other: &Label) -> [u32; 2] {
    let on = |upper: &Label, lower: &Label| {
        (overlying.iter())
            .filter(|over| over.upper == *upper && over.lower == *lower)
            .map(|over| over.prints)
            .sum()
    };
    [on(one, other), on(other, one)]
}

/// The speed of the first over that of the second: of the speeds where both are known, otherwise from strides and feet.
///
/// # Formula
/// v ∝ λ^1.67 h^−1.17 with h in proportion to foot length.
///
/// # References
/// Alexander, R. McN. (1976), Estimates of speeds of dinosaurs, Nature 261, 129-130.
pub(super) fn speed_ratio(one: &Path, other: &Path) -> Option<f64> {
    if let (Some(one), Some(other)) = (one.speed, other.speed) {
        return Some(one.speed_m_s / other.speed_m_s).filter(|ratio| ratio.is_finite());
    }
    let stride = one.stride_m()? / other.stride_m()?;
    let ratio = stride.powf(1.67) * foot_ratio(one, other)?.powf(-1.17);
    (ratio.is_finite() && ratio > 0.0).then_some(ratio)
}

/// The foot length of the first over that of the second.
pub(super) fn foot_ratio(one: &Path, other: &Path) -> Option<f64> {
    (one.foot_m > 0.0 && other.foot_m > 0.0).then(|| one.foot_m / other.foot_m)
}

/// All that is known of two that walk side by side.
pub(super) fn gather(
    [one, other]: [&Path; 2],
    stretch: &Stretch,
    crossings: usize,
    overlying: &[Overlying],
) -> Vec<Evidence> {
    let mut all = Vec::new();
    all.extend(spacing_p(stretch).map(spacing));
    all.extend(speed_ratio(one, other).map(|ratio| speed([one, other], ratio)));
    all.push(lines(crossings));
    all.extend(overlain([&one.trackway, &other.trackway], overlying));
    all
}

fn spacing(p: f64) -> Evidence {
    let (bearing, says) = if p <= KEPT_P {
        (
            Bearing::For,
            "is kept better as they lie than with one slid along the other",
        )
    } else {
        (
            Bearing::Neutral,
            "is kept no better as they lie than with one slid along the other",
        )
    };
    Evidence {
        kind: EvidenceKind::SpacingKept,
        bearing,
        says: format!(
            "the spacing {says} (p {p:.3}); one path used at two times would show the same bends too"
        ),
        p: Some(p),
    }
}

fn speed([one, other]: [&Path; 2], ratio: f64) -> Evidence {
    let (agree, from) = match (one.speed, other.speed) {
        (Some(a), Some(b)) => (
            a.low_m_s <= b.high_m_s && b.low_m_s <= a.high_m_s,
            "their ranges tell whether they agree",
        ),
        _ => (
            (1.0 / SPEEDS_AGREE..=SPEEDS_AGREE).contains(&ratio),
            "from strides and foot lengths alone; up to a factor of 1.25 they agree",
        ),
    };
    let bearing = if agree {
        Bearing::WeaklyFor
    } else {
        Bearing::Against
    };
    Evidence {
        kind: EvidenceKind::SpeedAgreement,
        bearing,
        says: format!(
            "{} went {ratio:.2} times as fast as {} ({from})",
            one.trackway, other.trackway
        ),
        p: None,
    }
}

fn lines(crossings: usize) -> Evidence {
    let (bearing, says) = match crossings {
        0 => (Bearing::WeaklyFor, "their lines never cross".to_owned()),
        1 => (Bearing::Neutral, "their lines cross once".to_owned()),
        more => (Bearing::Neutral, format!("their lines cross {more} times")),
    };
    Evidence {
        kind: EvidenceKind::NoCrossing,
        bearing,
        says,
        p: None,
    }
}

fn overlain([one, other]: [&Label; 2], overlying: &[Overlying]) -> Option<Evidence> {
    let (bearing, says) = match treads(overlying, one, other) {
        [0, 0] => return None,
        [a, 0] => (Bearing::Neutral, comes_later(one, other, a)),
        [0, b] => (Bearing::Neutral, comes_later(other, one, b)),
        [a, b] => (
            Bearing::For,
            format!(
                "each treads on the other ({one} with {a} prints, {other} with {b}): both were there at about one time"
            ),
        ),
    };
    Some(Evidence {
        kind: EvidenceKind::Overlying,
        bearing,
        says,
        p: None,
    })
}

fn comes_later(upper: &Label, lower: &Label, prints: u32) -> String {
    format!(
        "{upper} treads on {lower} with {prints} prints and is never trodden on by it: it came later, or just behind"
    )
}
