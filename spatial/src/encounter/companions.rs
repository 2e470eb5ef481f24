//! Trackways that run side by side.

use super::edge::with_edge;
use super::evidence::{Evidence, Overlying, foot_ratio, gather, speed_ratio};
use super::groups::{CompanionGroup, group};
use super::pairs::{PairChance, PairTrials, SurfaceChance};
use super::path::{Path, between_rad};
use super::stretch::{Bounds, Stretch, crossings, greatest_turn_rad};
use crate::model::Label;
use serde::Serialize;

/// Said wherever companions are given.
pub const COMPANIONS_CAUTION: &str = with_edge!(
    "Trackways run parallel for other reasons too: animals that use one path, a shore or \
    a slope at different times leave the same pattern. The p says only that the paths lie nearer and more alike than the same \
    paths laid down anew would; it does not say that the animals were there together. Read it with the separate evidence for \
    one time: spacing kept through bends, speeds that agree, prints of each over prints of the other. p_corrected holds for \
    the list as a whole, p for one pair that was named beforehand."
);

/// What counts as walking side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompanionOptions {
    /// Pairs are told whose p is this at most.
    pub up_to_p: f64,
    /// Pairs whose p_corrected is this at most make groups.
    pub group_level: f64,
    /// The largest distance between the two lines, metres; `None` takes the middle distance between paths.
    pub apart_m: Option<f64>,
    /// The largest difference of their headings, degrees.
    pub turned_deg: f64,
    /// The shortest stretch, metres; `None` takes two strides.
    pub least_stretch_m: Option<f64>,
}

impl Default for CompanionOptions {
    fn default() -> Self {
        Self {
            up_to_p: 0.05,
            group_level: 0.05,
            apart_m: None,
            turned_deg: 40.0,
            least_stretch_m: None,
        }
    }
}

/// Two trackways that run side by side for a stretch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Companion {
    /// The two, in the order of the paths given.
    pub trackways: [Label; 2],
    /// From where to where along the first, metres from its first print.
    pub on_first_m: [f64; 2],
    /// From where to where along the second.
    pub on_second_m: [f64; 2],
    /// The length of the stretch: the mean along both.
    pub length_m: f64,
    /// The line half way between the two; easting and northing, metres.
    pub line_m: Vec<[f64; 2]>,
    /// The mean difference of their headings along it, degrees; where they go opposite ways, from the reverse.
    pub heading_difference_mean_deg: f64,
    /// The largest.
    pub heading_difference_largest_deg: f64,
    /// The mean distance between their lines.
    pub spacing_mean_m: f64,
    /// Its standard deviation from place to place.
    pub spacing_sd_m: f64,
    /// The deviation over the mean; `None` for lines that are one.
    pub spacing_cv: Option<f64>,
    /// The one that walks on the left as the first goes; `None` for lines that are one.
    pub left: Option<Label>,
    /// The speed of the first over that of the second.
    pub speed_ratio: Option<f64>,
    /// The stride of the first over that of the second.
    pub stride_ratio: Option<f64>,
    /// The foot length of the first over that of the second.
    pub foot_ratio: Option<f64>,
    /// How often their lines cross, anywhere.
    pub crossings: usize,
    /// What bears on whether they were there at one time.
    pub evidence: Vec<Evidence>,
    /// How they stand against chance; `None` for opposite ways.
    pub chance: Option<PairChance>,
}

/// All trackways of a surface that run side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Companions {
    /// Pairs that go the same way, the one with the smallest p first.
    pub pairs: Vec<Companion>,
    /// Sets of two and more that such pairs connect, the largest first.
    pub groups: Vec<CompanionGroup>,
    /// Pairs that share a stretch in opposite ways: not companions.
    pub opposite: Vec<Companion>,
    /// The surface as a whole; `None` for fewer than two paths.
    pub surface: Option<SurfaceChance>,
    /// The largest distance between two lines that was looked at.
    pub apart_m: f64,
}

/// Tells trackways that run side by side, with what stands against chance ([`PairTrials::run`] of the same paths) and what
/// speaks for one time.
#[must_use]
pub fn companions(
    paths: &[Path],
    trials: &PairTrials,
    overlying: &[Overlying],
    options: &CompanionOptions,
) -> Companions {
    let apart_m = options.apart_m.unwrap_or(trials.beside_m);
    let bounds = |same_way| Bounds {
        apart_m,
        turned_rad: options.turned_deg.to_radians(),
        same_way,
    };
    let (mut pairs, mut linked) = (Vec::new(), Vec::new());
    for tried in &trials.beside {
        if tried.chance.chance.p > options.up_to_p {
            break;
        }
        let Some((companion, stretch)) = measured(
            paths,
            tried.paths,
            bounds(true),
            overlying,
            Some(tried.chance),
            options,
        ) else {
            continue;
        };
        if tried.chance.chance.p_corrected <= options.group_level {
            linked.push((tried.paths, tried.chance.chance.p_corrected, stretch));
        }
        pairs.push(companion);
    }
    let mut opposite: Vec<Companion> = (trials.opposite.iter())
        .filter_map(|pair| measured(paths, *pair, bounds(false), overlying, None, options))
        .map(|(companion, _)| companion)
        .collect();
    opposite.sort_by(|a, b| b.length_m.total_cmp(&a.length_m));
    Companions {
        pairs,
        groups: group(paths, &linked),
        opposite,
        surface: trials.surface_beside,
        apart_m,
    }
}

fn measured(
    paths: &[Path],
    pair: [usize; 2],
    bounds: Bounds,
    overlying: &[Overlying],
    chance: Option<PairChance>,
    options: &CompanionOptions,
) -> Option<(Companion, Stretch)> {
    let [one, other] = pair.map(|no| &paths[no]);
    let stretch = Stretch::longest(one, other, bounds)?;
    let two_strides_m = || 2.0 * one.stride_m().unwrap_or(0.0).max(other.stride_m().unwrap_or(0.0));
    let length_m = stretch.length_m();
    if length_m < options.least_stretch_m.unwrap_or_else(two_strides_m) {
        return None;
    }
    let (spacing_mean_m, spacing_sd_m) = stretch.mean_sd(|place| place.right_m.abs());
    let (right_m, _) = stretch.mean_sd(|place| place.right_m);
    let (turn_rad, _) = stretch.mean_sd(|place| between_rad(0.0, place.turn_rad));
    let crossings = crossings(one, other);
    let apart = spacing_mean_m > 1e-9;
    let companion = Companion {
        trackways: [one.trackway.clone(), other.trackway.clone()],
        on_first_m: stretch.along_one_m(),
        on_second_m: stretch.along_other_m(),
        length_m,
        line_m: stretch.line_m(),
        heading_difference_mean_deg: turn_rad.to_degrees(),
        heading_difference_largest_deg: greatest_turn_rad(&stretch).to_degrees(),
        spacing_mean_m,
        spacing_sd_m,
        spacing_cv: apart.then(|| spacing_sd_m / spacing_mean_m),
        left: apart.then(|| if right_m > 0.0 { one } else { other }.trackway.clone()),
        speed_ratio: speed_ratio(one, other),
        stride_ratio: one
            .stride_m()
            .zip(other.stride_m())
            .map(|(one, other)| one / other),
        foot_ratio: foot_ratio(one, other),
        crossings,
        evidence: if bounds.same_way {
            gather([one, other], &stretch, crossings, overlying)
        } else {
            Vec::new()
        },
        chance,
    };
    Some((companion, stretch))
}
