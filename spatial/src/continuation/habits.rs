//! What is held of the gaits on a surface.

use super::calibrating::Factors;
use super::following::kinds;
use super::motion::Unsteadiness;
use super::reading::Reader;
use super::track::Track;
use crate::angle::{azimuth_rad, turn_rad};
use crate::index::SurfaceIndex;
use std::collections::BTreeMap;
use std::f64::consts::{FRAC_PI_2, PI};
use std::sync::Arc;

/// A mean and a standard deviation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Normal {
    pub mean: f64,
    pub sd: f64,
}

/// What is expected of the trackways of one kind.
#[derive(Debug, Clone)]
pub(super) struct Habit {
    /// ln of the pace along the midline over the foot length.
    pub pace: Normal,
    /// Half the gauge in foot lengths.
    pub half_gauge: Normal,
    /// ln of the foot length, metres.
    pub size: Normal,
    /// How a foot points outward from the way, radians.
    pub rotation_rad: Normal,
    /// Where a manus stands from its pes, in pes lengths: ahead and outward; and ln of its length over that of the pes.
    pub manus: [Normal; 3],
    /// The part of trackways that show manus prints.
    pub with_manus: f64,
    /// The weight of each kind of unsteadiness.
    pub weights: Vec<f64>,
}

/// What is expected of the trackways of a surface.
#[derive(Debug, Clone)]
pub(super) struct Habits {
    pub kinds: Vec<Unsteadiness>,
    pub all: Habit,
    pub of_kind: BTreeMap<Arc<str>, Habit>,
    /// The part of the trackways of a known kind that are of each.
    pub shares: BTreeMap<Arc<str>, f64>,
    /// Standard deviations within a trackway: of ln length, of ln (width / length), of azimuths about the feet's own.
    pub size_sd: f64,
    pub shape_sd: f64,
    pub azimuth_sd_rad: f64,
    /// The part of prints that are missing inside trackways.
    pub missing: f64,
    /// The probability at each pace that a trackway ends.
    pub ends: f64,
    /// The probability at each pace that an animal turns aside.
    pub aside: f64,
    /// By how much the regions are wider than the model says.
    pub factors: Factors,
}

/// Broad beliefs before any trackway is seen. Common practice: paces of two to eight foot lengths; gauges of none to one and
/// a half foot lengths; feet that point within some 15 degrees of the way; a manus about a pes length ahead.
fn broad(weights: Vec<f64>) -> Habit {
    let normal = |mean, sd| Normal { mean, sd };
    Habit {
        pace: normal(3.5f64.ln(), 0.4),
        half_gauge: normal(0.25, 0.25),
        size: normal(0.25f64.ln(), 0.8),
        rotation_rad: normal(0.0, 0.25),
        manus: [normal(0.9, 0.5), normal(0.0, 0.3), normal(0.6f64.ln(), 0.3)],
        with_manus: 0.3,
        weights,
    }
}

/// The probability at each pace that an animal does what its trackway does not foretell: it turns aside, or changes its pace.
/// Common practice: about once in a hundred paces.
pub(super) const ASIDE: f64 = 0.01;
impl Habits {
    /// What holds on a surface without trackways.
    pub fn untaught() -> Self {
        let (kinds, weights) = kinds();
        Self {
            kinds,
            all: broad(weights),
            of_kind: BTreeMap::new(),
            shares: BTreeMap::new(),
            size_sd: 0.08,
            shape_sd: 0.1,
            azimuth_sd_rad: 0.2,
            missing: 0.12,
            ends: 0.06,
            aside: ASIDE,
            factors: Factors::default(),
        }
    }

    /// The part of the trackways that are of this kind.
    pub fn share_of(&self, kind: Option<&str>) -> f64 {
        kind.and_then(|kind| self.shares.get(kind))
            .copied()
            .unwrap_or(0.5)
    }

    /// What to read a row of this kind with.
    pub fn reader(&self, kind: Option<&str>) -> Reader {
        let habit = self.of(kind).clone();
        Reader {
            unsteadiness: self.typical(&habit),
            habit,
        }
    }

    /// What is expected of a trackway of this kind.
    pub fn of(&self, kind: Option<&str>) -> &Habit {
        kind.and_then(|kind| self.of_kind.get(kind)).unwrap_or(&self.all)
    }

    /// The kind of unsteadiness in the middle of a habit: that of least difference from the mean of each part.
    pub fn typical(&self, habit: &Habit) -> Unsteadiness {
        let mean = |part: fn(&Unsteadiness) -> f64| {
            let squares = self.kinds.iter().zip(&habit.weights);
            squares
                .map(|(kind, weight)| weight * part(kind).powi(2))
                .sum::<f64>()
                .sqrt()
        };
        Unsteadiness {
            pace: mean(|kind| kind.pace),
            heading_rad: mean(|kind| kind.heading_rad),
            place: mean(|kind| kind.place),
            drift: mean(|kind| kind.drift),
            turn_rad: mean(|kind| kind.turn_rad),
        }
    }
}

/// How each foot of known azimuth points outward from the way that was walked; feet that point across it were a slip.
pub(super) fn rotations_rad(index: &SurfaceIndex, track: &Track) -> Vec<f64> {
    let outward = track.even_left;
    let of_foot = |(at, foot): (usize, &super::track::Foot)| {
        let azimuth = index.print(foot.no).azimuth_deg.filter(|a| a.is_finite())?;
        let way = track.way(at);
        let walked = azimuth_rad(way[0], way[1]) + if track.reversed { PI } else { 0.0 };
        let right = turn_rad(walked, azimuth.to_radians());
        let stands_left = (foot.step.rem_euclid(2) == 0) == (outward > 0.0);
        let is_left = stands_left != track.reversed;
        (right.abs() < FRAC_PI_2).then_some(if is_left { -right } else { right })
    };
    track.feet.iter().enumerate().filter_map(of_foot).collect()
}
