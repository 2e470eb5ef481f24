//! Why two trackways cannot be one animal's.

use super::PathSummary;
use crate::gait::Summary;
use geo::{BoundingRect, Distance, Euclidean, LineString};
use serde::Serialize;

/// The least scatter believed of lengths within a trackway, as a part of them. Common practice.
const LEAST_CV: f64 = 0.05;
/// The scatter believed where a trackway shows none, having one print or one stride. Common practice.
const LONE_CV: f64 = 0.10;

/// When two trackways are apart. The figures are common practice; all can be replaced.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Sizes and strides are different beyond this many standard deviations.
    pub deviations: f64,
    /// How much ground and preservation change the mean print length of one animal from trackway to trackway,
    /// as a part of it (one standard deviation).
    pub size_cv: f64,
    /// How much one animal's stride changes from one passage to the next in the same gait, in the same way.
    pub stride_cv: f64,
    /// Headings are different beyond this, degrees.
    pub turn_deg: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            deviations: 3.0,
            size_cv: 0.05,
            stride_cv: 0.10,
            turn_deg: 45.0,
        }
    }
}

/// Why two trackways are apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "reason", rename_all = "snake_case")]
pub enum Reason {
    /// Their prints are of two kinds.
    Kind {
        /// One kind.
        first: String,
        /// The other.
        second: String,
    },
    /// Their feet are of two sizes.
    Size {
        /// Mean foot length of the one.
        first_m: f64,
        /// Mean foot length of the other.
        second_m: f64,
        /// How many standard deviations lie between.
        deviations: f64,
    },
    /// Each treads on prints of the other, so both animals were there together.
    Together,
    /// They lie in one place, with strides too different for one gait.
    GaitInPlace {
        /// Mean stride of the one.
        first_m: f64,
        /// Mean stride of the other.
        second_m: f64,
        /// How many standard deviations lie between.
        deviations: f64,
    },
    /// They lie in one place and lead in different directions.
    DirectionInPlace {
        /// The angle between the headings, degrees.
        turn_deg: f64,
    },
}

impl Reason {
    /// Whether it is something that an animal cannot change, or only unlikely of one animal.
    #[must_use]
    pub fn is_sure(&self) -> bool {
        matches!(self, Self::Kind { .. } | Self::Size { .. } | Self::Together)
    }
}

/// All reasons for which two trackways are apart; none if they may be one animal's.
pub(super) fn reasons(first: &PathSummary, second: &PathSummary, limits: &Limits) -> Vec<Reason> {
    let mut reasons = Vec::new();
    reasons.extend(by_kind(first, second));
    reasons.extend(by_size(first, second, limits));
    if first.overlies.contains(&second.id) && second.overlies.contains(&first.id) {
        reasons.push(Reason::Together);
    }
    let gait = by_gait(first, second, limits);
    let direction = by_direction(first, second, limits);
    // The place is costly to compare, so last.
    if (gait.is_some() || direction.is_some()) && in_one_place(first, second) {
        reasons.extend(gait);
        reasons.extend(direction);
    }
    reasons
}

fn by_kind(first: &PathSummary, second: &PathSummary) -> Option<Reason> {
    let (a, b) = (first.morphotype.as_deref()?, second.morphotype.as_deref()?);
    (a != b).then(|| Reason::Kind {
        first: a.to_owned(),
        second: b.to_owned(),
    })
}

pub(super) fn by_size(first: &PathSummary, second: &PathSummary, limits: &Limits) -> Option<Reason> {
    let (first_m, second_m, deviations) =
        difference(&first.foot_length_m, &second.foot_length_m, limits.size_cv)?;
    (deviations > limits.deviations).then_some(Reason::Size {
        first_m,
        second_m,
        deviations,
    })
}

fn by_gait(first: &PathSummary, second: &PathSummary, limits: &Limits) -> Option<Reason> {
    let (first_m, second_m, deviations) = difference(&first.stride_m, &second.stride_m, limits.stride_cv)?;
    (deviations > limits.deviations).then_some(Reason::GaitInPlace {
        first_m,
        second_m,
        deviations,
    })
}

fn by_direction(first: &PathSummary, second: &PathSummary, limits: &Limits) -> Option<Reason> {
    let off = (first.heading_deg? - second.heading_deg?).rem_euclid(360.0);
    let turn_deg = off.min(360.0 - off);
    // A heading that is no number makes no reason.
    (turn_deg > limits.turn_deg).then_some(Reason::DirectionInPlace { turn_deg })
}

/// The mean foot length, if there is one.
pub(super) fn length_m(path: &PathSummary) -> Option<f64> {
    positive_mean(&path.foot_length_m)
}

fn positive_mean(summary: &Summary) -> Option<f64> {
    summary.mean.filter(|mean| *mean > 0.0 && mean.is_finite())
}

/// Two means and how many standard deviations lie between their logarithms.
///
/// # Formula
/// |ln(a / b)| / √(cv_a² / n_a + cv_b² / n_b + 2 c²), c the change from trackway to trackway of one animal.
fn difference(first: &Summary, second: &Summary, change_cv: f64) -> Option<(f64, f64, f64)> {
    let (a, b) = (positive_mean(first)?, positive_mean(second)?);
    let spread = (variance(first, a) + variance(second, b) + 2.0 * change_cv * change_cv).sqrt();
    Some((a, b, (a / b).ln().abs() / spread))
}

fn variance(summary: &Summary, mean: f64) -> f64 {
    let seen = summary
        .sd
        .map(|sd| (sd / mean).max(LEAST_CV))
        .filter(|cv| cv.is_finite());
    seen.unwrap_or(LONE_CV).powi(2) / summary.n.max(1) as f64
}

/// Whether two paths cross, or come nearer than the longer of their strides.
fn in_one_place(first: &PathSummary, second: &PathSummary) -> bool {
    let reach = [first, second]
        .into_iter()
        .filter_map(|path| positive_mean(&path.stride_m))
        .fold(0.0, f64::max);
    let (Some(a), Some(b)) = (line(first), line(second)) else {
        return false;
    };
    let (Some(box_a), Some(box_b)) = (a.bounding_rect(), b.bounding_rect()) else {
        return false;
    };
    let apart =
        |low_a: f64, high_a: f64, low_b: f64, high_b: f64| low_a > high_b + reach || low_b > high_a + reach;
    if apart(box_a.min().x, box_a.max().x, box_b.min().x, box_b.max().x)
        || apart(box_a.min().y, box_a.max().y, box_b.min().y, box_b.max().y)
    {
        return false;
    }
    Euclidean.distance(&a, &b) <= reach
}

/// A path as a line; one print is a line of no length.
fn line(path: &PathSummary) -> Option<LineString<f64>> {
    let sound = !path.path_m.is_empty() && path.path_m.iter().flatten().all(|part| part.is_finite());
    sound.then(|| match path.path_m[..] {
        [only] => LineString::from(vec![only, only]),
        _ => LineString::from(path.path_m.clone()),
    })
}
