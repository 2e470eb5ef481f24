//! What the record loses of the truth.

use super::walker::{Footfall, any_side, normal};
use crate::model::{Label, Limb, Print, Side};
use rand::{Rng, RngExt};
use std::sync::Arc;

/// How prints are lost, measured and named. Rates are probabilities for each print on its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blur {
    /// The print is missing.
    pub missing: f64,
    /// Standard deviation of the recorded position, each axis, metres.
    pub position_sd_m: f64,
    /// Standard deviation of the recorded length, as a part of it.
    pub length_sd: f64,
    /// Standard deviation of the recorded width, as a part of it.
    pub width_sd: f64,
    /// Standard deviation of the recorded azimuth, degrees.
    pub azimuth_sd_deg: f64,
    /// The width is unknown.
    pub width_unknown: f64,
    /// The azimuth is unknown.
    pub azimuth_unknown: f64,
    /// The side is unknown.
    pub side_unknown: f64,
    /// The side is known, but recorded wrongly.
    pub side_wrong: f64,
    /// The limb is unknown.
    pub limb_unknown: f64,
    /// The morphotype is unknown.
    pub morphotype_unknown: f64,
}

impl Blur {
    /// Good prints and a careful party.
    #[must_use]
    pub fn careful() -> Self {
        Self {
            missing: 0.03,
            position_sd_m: 0.008,
            length_sd: 0.04,
            width_sd: 0.05,
            azimuth_sd_deg: 6.0,
            width_unknown: 0.05,
            azimuth_unknown: 0.1,
            side_unknown: 0.1,
            side_wrong: 0.005,
            limb_unknown: 0.05,
            morphotype_unknown: 0.1,
        }
    }

    /// Prints of mixed quality.
    #[must_use]
    pub fn usual() -> Self {
        Self {
            missing: 0.12,
            position_sd_m: 0.015,
            length_sd: 0.06,
            width_sd: 0.08,
            azimuth_sd_deg: 10.0,
            width_unknown: 0.2,
            azimuth_unknown: 0.3,
            side_unknown: 0.4,
            side_wrong: 0.02,
            limb_unknown: 0.3,
            morphotype_unknown: 0.3,
        }
    }

    /// Poor prints: most say little more than where and how long.
    #[must_use]
    pub fn poor() -> Self {
        Self {
            missing: 0.25,
            position_sd_m: 0.02,
            length_sd: 0.08,
            width_sd: 0.10,
            azimuth_sd_deg: 14.0,
            width_unknown: 0.4,
            azimuth_unknown: 0.6,
            side_unknown: 0.75,
            side_wrong: 0.04,
            limb_unknown: 0.6,
            morphotype_unknown: 0.7,
        }
    }

    /// The record of a true print; `None` where it is missing.
    pub fn record<R: Rng + ?Sized>(
        &self,
        rng: &mut R,
        footfall: &Footfall,
        morphotype: &Arc<str>,
        label: Label,
    ) -> Option<Print> {
        if rng.random_bool(self.missing) {
            return None;
        }
        let easting_m = footfall.position[0] + normal(rng, self.position_sd_m);
        let northing_m = footfall.position[1] + normal(rng, self.position_sd_m);
        let length_m = footfall.length_m * normal(rng, self.length_sd).exp();
        let width_m = footfall.width_m * normal(rng, self.width_sd).exp();
        let azimuth_deg = footfall.azimuth_rad.to_degrees() + normal(rng, self.azimuth_sd_deg);
        let mut known = |unknown: f64| !rng.random_bool(unknown);
        let mut print = Print::new(label, easting_m, northing_m, length_m);
        print.position_sd_m = Some(self.position_sd_m);
        print.width_m = known(self.width_unknown).then_some(width_m);
        print.azimuth_deg = known(self.azimuth_unknown).then(|| crate::angle::fold_deg(azimuth_deg));
        print.limb = known(self.limb_unknown).then_some(footfall.limb);
        print.morphotype = known(self.morphotype_unknown).then(|| Arc::clone(morphotype));
        print.side = known(self.side_unknown).then_some(footfall.side);
        print.side = print.side.map(|side| self.as_written(rng, side));
        Some(print)
    }

    fn as_written<R: Rng + ?Sized>(&self, rng: &mut R, side: Side) -> Side {
        match (rng.random_bool(self.side_wrong), side) {
            (false, side) => side,
            (true, Side::Left) => Side::Right,
            (true, Side::Right) => Side::Left,
        }
    }
}

/// A true print of no trackway, as large as any on the surface and pointing anywhere.
pub(super) fn stray<R: Rng + ?Sized>(rng: &mut R, position: [f64; 2], length_m: f64) -> Footfall {
    Footfall {
        position,
        azimuth_rad: rng.random_range(0.0..std::f64::consts::TAU),
        side: any_side(rng),
        limb: if rng.random_bool(0.7) {
            Limb::Pes
        } else {
            Limb::Manus
        },
        length_m,
        width_m: length_m * rng.random_range(0.6..1.1),
        step: 0,
    }
}
