//! Tilted beds: a surface that dips, turned back to the horizontal about its strike.

use crate::angle::fold_deg;

/// The attitude of a bed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tilt {
    strike_rad: f64,
    dip_rad: f64,
}

/// Why a surface cannot be turned back.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TiltFault {
    /// The strike is no azimuth.
    #[error("a strike of {0} degrees makes no sense: expected a finite azimuth")]
    Strike(f64),
    /// The dip is out of range.
    #[error(
        "a dip of {0} degrees cannot be turned back: expected 0 to below 90; for an upright or overturned bed measure in the plane of the bed"
    )]
    Dip(f64),
}

/// Positions on a restored surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Restored {
    /// Easting and northing of each position as if the bed lay flat, metres, in the order given. The middle of
    /// the positions stays where it is.
    pub positions_m: Vec<[f64; 2]>,
    /// How many positions had no elevation, and were taken to lie in the plane itself.
    pub without_elevation: usize,
    /// Root mean square distance of the elevations from the plane, metres, where at least two are known: much
    /// more than the relief of the bed says that strike, dip or the elevations are wrong.
    pub off_plane_rms_m: Option<f64>,
}

impl Tilt {
    /// A bed by the right-hand rule: looking along the strike, it dips to the right.
    ///
    /// # Units
    /// Degrees; the strike is clockwise from the same north as the azimuths to be restored.
    ///
    /// # Errors
    /// A strike that is not finite; a dip below 0 or not below 90.
    pub fn new(strike_deg: f64, dip_deg: f64) -> Result<Self, TiltFault> {
        if !strike_deg.is_finite() {
            return Err(TiltFault::Strike(strike_deg));
        }
        if !(0.0..90.0).contains(&dip_deg) {
            return Err(TiltFault::Dip(dip_deg));
        }
        Ok(Self {
            strike_rad: strike_deg.to_radians(),
            dip_rad: dip_deg.to_radians(),
        })
    }

    /// How much longer lengths straight down the dip are in the bed than on the map, 1 / cos dip.
    #[must_use]
    pub fn stretch(&self) -> f64 {
        1.0 / self.dip_rad.cos()
    }

    /// Turns positions about the strike until the bed is horizontal.
    ///
    /// # Formula
    /// With u along strike and v horizontal down the dip, from the middle of all, and z above the middle of the
    /// plane: u′ = u, v′ = v cos δ − z sin δ. Where z is unknown it is that of the plane, −v tan δ, so that v′
    /// = v / cos δ.
    ///
    /// # Units
    /// Metres: easting, northing, and elevation where known.
    #[must_use]
    pub fn restore(&self, positions_m: &[([f64; 2], Option<f64>)]) -> Restored {
        let count = positions_m.len().max(1) as f64;
        let sum = (positions_m.iter()).fold([0.0, 0.0], |sum, (at, _)| [sum[0] + at[0], sum[1] + at[1]]);
        let middle = [sum[0] / count, sum[1] / count];
        let local: Vec<([f64; 2], Option<f64>)> = (positions_m.iter())
            .map(|(at, elevation)| {
                (
                    self.along_and_down([at[0] - middle[0], at[1] - middle[1]]),
                    *elevation,
                )
            })
            .collect();
        let plane = Plane::through(&local, self.dip_rad);
        let restored = local.iter().map(|&([along, down], elevation)| {
            let height = elevation.map_or(-down * self.dip_rad.tan(), |elevation| elevation - plane.middle_m);
            let flat = down * self.dip_rad.cos() - height * self.dip_rad.sin();
            let [east, north] = self.east_and_north([along, flat]);
            [middle[0] + east, middle[1] + north]
        });
        Restored {
            positions_m: restored.collect(),
            without_elevation: positions_m
                .iter()
                .filter(|(_, elevation)| elevation.is_none())
                .count(),
            off_plane_rms_m: plane.off_rms_m,
        }
    }

    /// The azimuth that a line in the bed had before tilting, from its azimuth on the map.
    ///
    /// # Formula
    /// tan(α′ − φ) = tan(α − φ) / cos δ, in the same quadrant, where φ is the strike and δ the dip.
    ///
    /// # Units
    /// Degrees, 0 to 360.
    #[must_use]
    pub fn restore_azimuth_deg(&self, map_azimuth_deg: f64) -> f64 {
        self.turned_deg(map_azimuth_deg, self.stretch())
    }

    /// The azimuth on the map of a line in the bed, from that before tilting: the way back.
    ///
    /// # Units
    /// Degrees, 0 to 360.
    #[must_use]
    pub fn map_azimuth_deg(&self, restored_azimuth_deg: f64) -> f64 {
        self.turned_deg(restored_azimuth_deg, self.dip_rad.cos())
    }

    fn turned_deg(&self, azimuth_deg: f64, across: f64) -> f64 {
        let (down, along) = (azimuth_deg.to_radians() - self.strike_rad).sin_cos();
        fold_deg((self.strike_rad + (down * across).atan2(along)).to_degrees())
    }

    fn along_and_down(&self, [east, north]: [f64; 2]) -> [f64; 2] {
        let (sine, cosine) = self.strike_rad.sin_cos();
        [east * sine + north * cosine, east * cosine - north * sine]
    }

    fn east_and_north(&self, [along, down]: [f64; 2]) -> [f64; 2] {
        let (sine, cosine) = self.strike_rad.sin_cos();
        [along * sine + down * cosine, along * cosine - down * sine]
    }
}

/// The dipping plane through the known elevations.
struct Plane {
    /// Its elevation at the middle of all positions.
    middle_m: f64,
    off_rms_m: Option<f64>,
}

impl Plane {
    fn through(local: &[([f64; 2], Option<f64>)], dip_rad: f64) -> Self {
        let levels: Vec<f64> = (local.iter())
            .filter_map(|&([_, down], elevation)| Some(elevation? + down * dip_rad.tan()))
            .collect();
        let count = levels.len() as f64;
        let middle_m = levels.iter().sum::<f64>() / count.max(1.0);
        let squares: f64 = levels.iter().map(|level| (level - middle_m).powi(2)).sum();
        Self {
            middle_m,
            off_rms_m: (levels.len() >= 2).then(|| (squares / count).sqrt() * dip_rad.cos()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
        (a[0] - b[0]).hypot(a[1] - b[1])
    }

    #[test]
    fn a_bed_that_dips_east_by_sixty_degrees() {
        // Strike north, dip to the right: east. Map distances east-west double, 1 / cos 60°.
        let tilt = Tilt::new(0.0, 60.0).unwrap();
        let flat = tilt.restore(&[
            ([100.0, 50.0], None),
            ([101.0, 50.0], None),
            ([100.0, 51.0], None),
        ]);
        assert!((distance(flat.positions_m[0], flat.positions_m[1]) - 2.0).abs() < 1e-9);
        assert!((distance(flat.positions_m[0], flat.positions_m[2]) - 1.0).abs() < 1e-9);
        assert_eq!((flat.without_elevation, flat.off_plane_rms_m), (3, None));
        // A line that runs north-east on the map ran at atan(2) = 63.435° before tilting.
        assert!((tilt.restore_azimuth_deg(45.0) - 63.434_948_822_922).abs() < 1e-9);
        assert!((tilt.restore_azimuth_deg(225.0) - 243.434_948_822_922).abs() < 1e-9);
        assert!((tilt.map_azimuth_deg(tilt.restore_azimuth_deg(123.0)) - 123.0).abs() < 1e-9);
    }

    #[test]
    fn elevations_against_the_dip_are_seen() {
        let tilt = Tilt::new(0.0, 45.0).unwrap();
        let good = tilt.restore(&[([0.0, 0.0], Some(10.0)), ([4.0, 0.0], Some(6.0))]);
        assert!(good.off_plane_rms_m.unwrap() < 1e-9);
        // The same bed with a dip to the other side.
        let wrong = tilt.restore(&[([0.0, 0.0], Some(6.0)), ([4.0, 0.0], Some(10.0))]);
        assert!(wrong.off_plane_rms_m.unwrap() > 2.0);
    }

    #[test]
    fn attitudes_that_make_no_sense_are_refused() {
        for dip in [-1.0, 90.0, 120.0, f64::NAN] {
            assert!(matches!(Tilt::new(10.0, dip), Err(TiltFault::Dip(_))), "{dip}");
        }
        assert!(matches!(Tilt::new(f64::INFINITY, 5.0), Err(TiltFault::Strike(_))));
        assert!(Tilt::new(0.0, 30.0).unwrap().restore(&[]).positions_m.is_empty());
    }

    prop_compose! {
        fn bed()(strike in 0.0..360.0f64, dip in 0.0..85.0f64) -> (f64, f64) { (strike, dip) }
    }

    proptest! {
        #[test]
        fn a_level_bed_stays(e in -1e3..1e3f64, n in -1e3..1e3f64, z in -9.0..9.0f64, strike in 0.0..360.0f64) {
            let tilt = Tilt::new(strike, 0.0).unwrap();
            let given = [([e, n], Some(z)), ([0.0, 0.0], None)];
            let flat = tilt.restore(&given).positions_m;
            prop_assert!(distance(flat[0], [e, n]) < 1e-9 && distance(flat[1], [0.0, 0.0]) < 1e-9);
            let turn = (tilt.restore_azimuth_deg(77.0) - 77.0).abs();
            prop_assert!(turn < 1e-9);
        }

        #[test]
        fn distances_in_the_plane_are_the_true_ones(
            (strike, dip) in bed(),
            places in prop::collection::vec((-50.0..50.0f64, -50.0..50.0f64, any::<bool>()), 2..9),
        ) {
            let tilt = Tilt::new(strike, dip).unwrap();
            // Points in the plane: z falls by tan(dip) along the dip's azimuth, strike + 90.
            let down = (strike + 90.0).to_radians();
            let height = |e: f64, n: f64| 20.0 - (e * down.sin() + n * down.cos()) * dip.to_radians().tan();
            let given: Vec<_> = places.iter().map(|&(e, n, known)| ([e, n], known.then(|| height(e, n)))).collect();
            let flat = tilt.restore(&given).positions_m;
            for (first, &(e, n, _)) in places.iter().enumerate() {
                let (e0, n0, _) = places[0];
                let rise = height(e, n) - height(e0, n0);
                let truth = ((e - e0).powi(2) + (n - n0).powi(2) + rise * rise).sqrt();
                prop_assert!((distance(flat[first], flat[0]) - truth).abs() < 1e-6 * (1.0 + truth));
            }
        }

        #[test]
        fn lengths_along_strike_stay_and_azimuths_follow_positions(
            (strike, dip) in bed(), length in 0.1..30.0f64, azimuth in 0.0..360.0f64,
        ) {
            let tilt = Tilt::new(strike, dip).unwrap();
            let step = |azimuth_deg: f64| {
                let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
                tilt.restore(&[([0.0, 0.0], None), ([length * sine, length * cosine], None)]).positions_m
            };
            let along = step(strike);
            prop_assert!((distance(along[0], along[1]) - length).abs() < 1e-9);
            let any = step(azimuth);
            let restored = (any[1][0] - any[0][0]).atan2(any[1][1] - any[0][1]).to_degrees();
            let off = (restored - tilt.restore_azimuth_deg(azimuth)).to_radians().sin().abs();
            prop_assert!(off < 1e-9);
        }
    }
}
