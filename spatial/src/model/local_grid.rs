//! Local grids: a peg-and-tape grid, and how it lies in the site's CRS.

use crate::angle::fold_deg;
use serde::{Deserialize, Serialize};

/// A site's local grid, tied to its CRS by control points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LocalGrid {
    /// How its coordinates become those of the CRS.
    pub similarity: Similarity,
    /// Root mean square of the control points' residuals, metres.
    pub rms_m: f64,
    /// The tolerance that they were held against, metres.
    pub tolerance_m: f64,
    /// The control points that it was fitted to, so that it can be traced.
    pub control: Vec<ControlPoint>,
}

impl LocalGrid {
    /// How far each control point lies from where the grid puts it, in the order of the control points.
    pub fn residuals(&self) -> impl Iterator<Item = Residual> {
        self.control.iter().map(|point| self.similarity.residual(point))
    }
}

/// Turns, stretches and shifts a local grid into a projected CRS; shapes stay as they are.
///
/// # Formula
/// E = E₀ + M (x cos θ + y sin θ), N = N₀ + M (y cos θ − x sin θ), where (E₀, N₀) is the shift, M the scale and
/// θ the rotation.
///
/// # References
/// IOGP Geomatics Guidance Note 7-2, Similarity transformation (method 9621); the signs are the same.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Similarity {
    /// Easting of the local origin.
    pub east_shift_m: f64,
    /// Northing of the local origin.
    pub north_shift_m: f64,
    /// Metres of the CRS for a metre of the local grid.
    pub scale: f64,
    /// The azimuth of the local y axis, degrees clockwise from grid north; add it to local azimuths.
    pub rotation_deg: f64,
}

impl Similarity {
    /// The easting and northing of a local x and y.
    ///
    /// # Units
    /// Metres.
    #[must_use]
    pub fn forward(&self, [x_m, y_m]: [f64; 2]) -> [f64; 2] {
        let (sine, cosine) = self.rotation_deg.to_radians().sin_cos();
        [
            self.east_shift_m + self.scale * (x_m * cosine + y_m * sine),
            self.north_shift_m + self.scale * (y_m * cosine - x_m * sine),
        ]
    }

    /// The local x and y of an easting and northing.
    ///
    /// # Units
    /// Metres.
    #[must_use]
    pub fn inverse(&self, [easting_m, northing_m]: [f64; 2]) -> [f64; 2] {
        let (sine, cosine) = self.rotation_deg.to_radians().sin_cos();
        let east = (easting_m - self.east_shift_m) / self.scale;
        let north = (northing_m - self.north_shift_m) / self.scale;
        [east * cosine - north * sine, east * sine + north * cosine]
    }

    /// The grid azimuth of a local one, 0 to 360.
    ///
    /// # Units
    /// Degrees.
    #[must_use]
    pub fn grid_azimuth_deg(&self, local_azimuth_deg: f64) -> f64 {
        fold_deg(local_azimuth_deg + self.rotation_deg)
    }

    /// How far a control point lies from where this puts it.
    #[must_use]
    pub fn residual(&self, point: &ControlPoint) -> Residual {
        let [easting_m, northing_m] = self.forward([point.local_x_m, point.local_y_m]);
        let (east_m, north_m) = (point.easting_m - easting_m, point.northing_m - northing_m);
        Residual {
            name: point.name.clone(),
            east_m,
            north_m,
            length_m: east_m.hypot(north_m),
        }
    }
}

/// A peg that was measured in the local grid and in the CRS.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ControlPoint {
    /// Its name.
    pub name: String,
    /// Local x, metres.
    pub local_x_m: f64,
    /// Local y, metres.
    pub local_y_m: f64,
    /// Easting in the CRS, metres.
    pub easting_m: f64,
    /// Northing in the CRS, metres.
    pub northing_m: f64,
}

/// How far a control point lies from where the transformation puts it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Residual {
    /// The point's name.
    pub name: String,
    /// Measured minus computed easting, metres.
    pub east_m: f64,
    /// Measured minus computed northing, metres.
    pub north_m: f64,
    /// The length of both together, metres.
    pub length_m: f64,
}
