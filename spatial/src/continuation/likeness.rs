//! How much a print looks like one of a trackway's, beyond its place.

use super::answer::Term;
use super::plane::ln_normal;
use super::steps::Way;
use super::track::length_m;
use crate::angle::turn_rad;
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::{Limb, Print, Side};
use std::f64::consts::TAU;
use std::sync::Arc;

/// The part of measures that fit nothing: a broken print, a slip of the pen. Common practice: a few in a hundred.
const ASTRAY: f64 = 0.04;
/// The probability that a name (side, limb, morphotype) is recorded wrongly. Common practice, too.
const WRONG: f64 = 0.03;

/// What a row's prints have in common.
#[derive(Debug, Clone)]
pub(super) struct Likeness {
    pub size: Mean,
    pub shape: Mean,
    pub limb: Limb,
    pub kind: Option<Arc<str>>,
}

/// A mean and how many values it rests on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Mean {
    pub mean: f64,
    pub count: f64,
}

impl Mean {
    pub fn of(values: impl Iterator<Item = f64>) -> Self {
        let (count, sum) = values
            .filter(|value| value.is_finite())
            .fold((0.0, 0.0), |(count, sum), value| (count + 1.0, sum + value));
        Self {
            mean: sum / f64::max(count, 1.0),
            count,
        }
    }
}

impl Likeness {
    /// That of prints of one limb.
    pub fn of(index: &SurfaceIndex, prints: &[PrintNo], limb: Limb, kind: Option<&str>) -> Self {
        let each = || prints.iter().map(|no| index.print(*no));
        Self {
            size: Mean::of(each().map(|print| length_m(print).ln())),
            shape: Mean::of(each().filter_map(shape)),
            limb,
            kind: kind.map(Arc::from),
        }
    }
}

pub(super) fn shape(print: &Print) -> Option<f64> {
    let width = print.width_m.filter(|width| width.is_finite() && *width > 0.0)?;
    Some((width / length_m(print)).ln())
}

/// ln of (the density if it is the row's, a slip allowed for, over the density if it is any print's).
fn measured(value: f64, mean: f64, sd: f64, ln_common: f64) -> f64 {
    ((1.0 - ASTRAY) * (ln_normal(value - mean, sd) - ln_common).exp() + ASTRAY).ln()
}

/// ln of how much more often a name agrees if it is the row's.
pub(super) fn named(agrees: bool, common: f64) -> f64 {
    let common = common.clamp(0.02, 0.98);
    if agrees {
        ((1.0 - WRONG) / common).ln()
    } else {
        (WRONG / (1.0 - common)).ln()
    }
}

/// The size of a print or of another row against this row's.
pub(super) fn of_size(way: &Way, row: &Likeness, other: Mean) -> f64 {
    let sd = way.surroundings.habits.size_sd;
    let spread = sd
        * (1.0 / other.count.max(1.0) + 1.0 / row.size.count.max(1.0))
            .sqrt()
            .max(0.3);
    measured(
        other.mean,
        row.size.mean,
        spread,
        way.surroundings.sizes.ln_at(other.mean),
    )
}

/// The same for widths over lengths; these vary among kinds by about a quarter (common practice).
pub(super) fn of_shape(way: &Way, row: &Likeness, other: Mean) -> f64 {
    if row.shape.count == 0.0 || other.count == 0.0 {
        return 0.0;
    }
    let sd = way.surroundings.habits.shape_sd;
    let spread = sd * (1.0 / other.count + 1.0 / row.shape.count).sqrt().max(0.3);
    let common = ln_normal(other.mean - row.shape.mean, 0.25_f64.max(spread));
    measured(other.mean, row.shape.mean, spread, common)
}

/// What a single print's looks say of its being the step's next print of this limb.
pub(super) fn looks(
    way: &Way,
    row: &Likeness,
    print: &Print,
    azimuth_rad: f64,
    side: Option<(Side, f64)>,
) -> Vec<Term> {
    let mut terms = Vec::new();
    let mut put = |what, log_odds: f64| {
        if log_odds != 0.0 {
            terms.push(Term { what, log_odds });
        }
    };
    let one = |value: f64| Mean {
        mean: value,
        count: 1.0,
    };
    put("size", of_size(way, row, one(length_m(print).ln())));
    if let Some(shape) = shape(print) {
        put("width over length", of_shape(way, row, one(shape)));
    }
    if let Some((name, common)) = print
        .morphotype
        .as_deref()
        .zip(row.kind.as_deref())
        .map(|(name, kind)| (name == kind, way.kind_share))
    {
        put("morphotype", named(name, common));
    }
    if let Some(limb) = print.limb {
        let pes = way.surroundings.pes_share;
        let common = if row.limb == Limb::Pes { pes } else { 1.0 - pes };
        put("limb", named(limb == row.limb, common));
    }
    if let Some((recorded, (expected, sure))) = print.side.zip(side) {
        let agrees = if recorded == expected { sure } else { 1.0 - sure };
        put("side", (2.0 * (WRONG + (1.0 - 2.0 * WRONG) * agrees)).ln());
    }
    if let Some(azimuth) = print.azimuth_deg.filter(|azimuth| azimuth.is_finite()) {
        let off = turn_rad(azimuth_rad, azimuth.to_radians());
        let sd = (way.surroundings.habits.azimuth_sd_rad.powi(2) + 0.01).sqrt();
        put("azimuth of the foot", measured(off, 0.0, sd, -TAU.ln()));
    }
    terms
}

/// ln odds of the order in which a trackway stands, before its feet are looked at: whoever put it so had some reason.
pub(super) const STANDS: f64 = 2.2;

/// ln odds that a trackway was walked in the order in which it is read: by its feet, and for what was held of it.
pub(super) fn walked_so(index: &SurfaceIndex, track: &super::track::Track) -> f64 {
    let feet = track.feet.iter().enumerate().filter_map(|(at, foot)| {
        let azimuth = index.print(foot.no).azimuth_deg.filter(|a| a.is_finite())?;
        let way = track.way(at);
        let off = turn_rad(crate::angle::azimuth_rad(way[0], way[1]), azimuth.to_radians());
        Some(if off.abs() < TAU / 4.0 { 2.0 } else { -2.0 })
    });
    let says: f64 = feet.sum();
    says.clamp(-8.0, 8.0) + STANDS
}
