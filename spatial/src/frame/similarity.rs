//! Local grids: a peg-and-tape grid tied to the site's CRS by control points.

use crate::angle::fold_deg;
use serde::{Deserialize, Serialize};

/// Points nearer to each other than this are one point.
const SAME_PLACE_M: f64 = 0.001;
/// A mirrored grid is recognised where its reflection fits this many times better.
const MIRRORED_FITS_BETTER: f64 = 3.0;

/// Points whose fit leaves more than this part of their own spread do not fit at all.
const NO_FIT: f64 = 0.5;

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

/// A local grid tied to a CRS, and how well.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tie {
    /// The transformation.
    pub similarity: Similarity,
    /// Each control point's residual, in the order given.
    pub residuals: Vec<Residual>,
    /// Root mean square of the residuals' lengths, metres.
    pub rms_m: f64,
    /// Measured coordinates more than needed, 2n − 4: with 0 every residual is zero and nothing is checked.
    pub redundancy: usize,
    /// The tolerance that points were held against, metres.
    pub tolerance_m: f64,
    /// The names of the points whose residual is over it.
    pub over_tolerance: Vec<String>,
}

/// Why a local grid cannot be tied.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TieFault {
    /// Too few control points.
    #[error("{0} control points are too few: at least two are needed, three or more to check them")]
    TooFew(usize),
    /// A coordinate is no number.
    #[error("control point {0:?} has a coordinate that is not a finite number")]
    NotFinite(String),
    /// Two points are one.
    #[error("control points {first:?} and {second:?} lie at the same {place} place")]
    Coincident {
        /// One point.
        first: String,
        /// The other.
        second: String,
        /// Where: `local` or `grid`.
        place: &'static str,
    },
    /// The local grid is a mirror image.
    #[error(
        "the control points fit only as a mirror image (RMS {mirrored_rms_m:.3} m, against {rms_m:.3} m): \
         are x and y, or easting and northing, exchanged, or an axis counted the wrong way?"
    )]
    Mirrored {
        /// RMS of the fit without mirroring.
        rms_m: f64,
        /// RMS of the mirrored fit.
        mirrored_rms_m: f64,
    },
    /// The two sets of points are not of one shape.
    #[error(
        "the control points of the local grid and of the CRS are not of one shape (RMS {rms_m:.3} m, where the points themselves \
         lie {spread_m:.3} m about their middle): are names exchanged, or is a column in another unit?"
    )]
    Shape {
        /// RMS of the fit.
        rms_m: f64,
        /// RMS distance of the points from their middle in the CRS.
        spread_m: f64,
    },
    /// The tolerance makes no sense.
    #[error("a tolerance of {0} m makes no sense: expected a length above zero")]
    Tolerance(f64),
}

impl Tie {
    /// Fits the similarity transformation with the least sum of squared residuals.
    ///
    /// With two points the fit is exact and can check nothing: neither a blunder nor a mirrored grid is seen.
    /// Points in one line do not show a mirrored grid either.
    ///
    /// # Formula
    /// With coordinates from their means: M cos θ = Σ(xE + yN) / Σ(x² + y²), M sin θ = Σ(yE − xN) / Σ(x² + y²).
    ///
    /// # Units
    /// Metres.
    ///
    /// # Errors
    /// Fewer than two points, coincident or mirrored ones, points of another shape, a coordinate that is not
    /// finite.
    pub fn fit(points: &[ControlPoint], tolerance_m: f64) -> Result<Self, TieFault> {
        if !(tolerance_m > 0.0 && tolerance_m.is_finite()) {
            return Err(TieFault::Tolerance(tolerance_m));
        }
        check(points)?;
        let similarity = least_squares(points, 1.0);
        let residuals = residuals(points, |point| {
            similarity.forward([point.local_x_m, point.local_y_m])
        });
        let rms_m = rms_m(&residuals);
        if rms_m > tolerance_m {
            refuse_mirrored(points, rms_m)?;
            refuse_other_shape(points, rms_m)?;
        }
        let over = residuals
            .iter()
            .filter(|residual| residual.length_m > tolerance_m);
        Ok(Self {
            similarity,
            over_tolerance: over.map(|residual| residual.name.clone()).collect(),
            residuals,
            rms_m,
            redundancy: 2 * points.len() - 4,
            tolerance_m,
        })
    }
}

fn check(points: &[ControlPoint]) -> Result<(), TieFault> {
    if points.len() < 2 {
        return Err(TieFault::TooFew(points.len()));
    }
    for point in points {
        let coordinates = [
            point.local_x_m,
            point.local_y_m,
            point.easting_m,
            point.northing_m,
        ];
        if coordinates.iter().any(|coordinate| !coordinate.is_finite()) {
            return Err(TieFault::NotFinite(point.name.clone()));
        }
    }
    for (number, first) in points.iter().enumerate() {
        for second in &points[number + 1..] {
            let local = (first.local_x_m - second.local_x_m).hypot(first.local_y_m - second.local_y_m);
            let grid = (first.easting_m - second.easting_m).hypot(first.northing_m - second.northing_m);
            if local.min(grid) < SAME_PLACE_M {
                return Err(TieFault::Coincident {
                    first: first.name.clone(),
                    second: second.name.clone(),
                    place: if local < SAME_PLACE_M { "local" } else { "grid" },
                });
            }
        }
    }
    Ok(())
}

/// The best fit of (x, y · `y_sign`).
fn least_squares(points: &[ControlPoint], y_sign: f64) -> Similarity {
    let count = points.len() as f64;
    let mean = |part: fn(&ControlPoint) -> f64| points.iter().map(part).sum::<f64>() / count;
    let (x0, y0) = (mean(|p| p.local_x_m), y_sign * mean(|p| p.local_y_m));
    let (e0, n0) = (mean(|p| p.easting_m), mean(|p| p.northing_m));
    let (mut along, mut across, mut squares) = (0.0, 0.0, 0.0);
    for point in points {
        let (x, y) = (point.local_x_m - x0, y_sign * point.local_y_m - y0);
        let (e, n) = (point.easting_m - e0, point.northing_m - n0);
        along += x * e + y * n;
        across += y * e - x * n;
        squares += x * x + y * y;
    }
    // No two points coincide, so the squares are not zero.
    let (cosine, sine) = (along / squares, across / squares);
    Similarity {
        east_shift_m: e0 - (cosine * x0 + sine * y0),
        north_shift_m: n0 - (cosine * y0 - sine * x0),
        scale: cosine.hypot(sine),
        rotation_deg: fold_deg(sine.atan2(cosine).to_degrees()),
    }
}

fn residuals(points: &[ControlPoint], computed: impl Fn(&ControlPoint) -> [f64; 2]) -> Vec<Residual> {
    (points.iter())
        .map(|point| {
            let [easting, northing] = computed(point);
            let (east_m, north_m) = (point.easting_m - easting, point.northing_m - northing);
            Residual {
                name: point.name.clone(),
                east_m,
                north_m,
                length_m: east_m.hypot(north_m),
            }
        })
        .collect()
}

fn rms_m(residuals: &[Residual]) -> f64 {
    let squares: f64 = residuals.iter().map(|r| r.length_m * r.length_m).sum();
    (squares / residuals.len() as f64).sqrt()
}

/// A mirrored grid is one whose reflection fits much better.
fn refuse_mirrored(points: &[ControlPoint], rms: f64) -> Result<(), TieFault> {
    let mirrored = least_squares(points, -1.0);
    let fits = residuals(points, |point| {
        mirrored.forward([point.local_x_m, -point.local_y_m])
    });
    let mirrored_rms_m = rms_m(&fits);
    if mirrored_rms_m * MIRRORED_FITS_BETTER < rms {
        return Err(TieFault::Mirrored {
            rms_m: rms,
            mirrored_rms_m,
        });
    }
    Ok(())
}

fn refuse_other_shape(points: &[ControlPoint], rms_m: f64) -> Result<(), TieFault> {
    let count = points.len() as f64;
    let east = points.iter().map(|p| p.easting_m).sum::<f64>() / count;
    let north = points.iter().map(|p| p.northing_m).sum::<f64>() / count;
    let squares: f64 = (points.iter())
        .map(|p| (p.easting_m - east).powi(2) + (p.northing_m - north).powi(2))
        .sum();
    let spread_m = (squares / count).sqrt();
    if rms_m > NO_FIT * spread_m {
        return Err(TieFault::Shape { rms_m, spread_m });
    }
    Ok(())
}

#[cfg(test)]
#[path = "similarity_tests.rs"]
mod tests;
