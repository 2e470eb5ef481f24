//! Places: longitude and latitude, what a projection does to directions and lengths, and the frames that
//! field parties measure in.
//!
//! The projections themselves are computed by the CRS library, which reads a database; it stands in
//! `api`. Here are only the values that it gives, and what follows from them.

pub mod magnetic;
pub mod similarity;
pub mod tilt;

use crate::angle::fold_deg;

/// A place in longitude and latitude (CRS84 order), degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LonLat {
    /// Longitude, degrees, east positive.
    pub lon_deg: f64,
    /// Latitude, degrees, north positive.
    pub lat_deg: f64,
}

/// What a projection does at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Factors {
    /// Grid convergence, degrees: the angle from true north to grid north, clockwise positive, so
    /// that a true azimuth is the grid azimuth plus the convergence.
    pub convergence_deg: f64,
    /// Point scale factor: grid distance over ground distance.
    pub scale: f64,
}

impl Factors {
    /// The true azimuth of a grid azimuth, 0 to 360.
    ///
    /// # Units
    /// Degrees.
    #[must_use]
    pub fn true_from_grid_deg(&self, grid_azimuth_deg: f64) -> f64 {
        fold_deg(grid_azimuth_deg + self.convergence_deg)
    }

    /// The grid azimuth of a true azimuth, 0 to 360.
    ///
    /// # Units
    /// Degrees.
    #[must_use]
    pub fn grid_from_true_deg(&self, true_azimuth_deg: f64) -> f64 {
        fold_deg(true_azimuth_deg - self.convergence_deg)
    }

    /// The distance on the ground of a distance on the grid.
    ///
    /// The scale is that of one place; over a surface of a few hundred metres it hardly changes. The height
    /// above the ellipsoid is not allowed for: a kilometre of it shortens grid distances by a further 0.016 %.
    ///
    /// # Units
    /// Metres.
    #[must_use]
    pub fn ground_m(&self, grid_m: f64) -> f64 {
        grid_m / self.scale
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_published_grid_bearing_and_its_azimuth() {
        // GDA Technical Manual, Buninyong to Flinders Peak in MGA zone 55: azimuth 127°10′25.07″, grid bearing
        // 125°17′41.86″, grid convergence −1°52′43.22″ and scale 1.00050567. The manual's convergence has the
        // opposite sign to ours (its grid bearing is the azimuth plus the convergence).
        let dms = |d: f64, m: f64, s: f64| d + m / 60.0 + s / 3600.0;
        let factors = Factors {
            convergence_deg: dms(1.0, 52.0, 43.22),
            scale: 1.000_505_67,
        };
        let grid = factors.grid_from_true_deg(dms(127.0, 10.0, 25.07));
        // The manual's bearing is of the plane line; the arc-to-chord correction over 54 km is some 20″.
        assert!((grid - dms(125.0, 17.0, 41.86)).abs() < 25.0 / 3600.0, "{grid}");
        assert!((factors.true_from_grid_deg(grid) - dms(127.0, 10.0, 25.07)).abs() < 1e-9);
        assert!((factors.ground_m(1_000.505_67) - 1000.0).abs() < 1e-9);
    }
}
