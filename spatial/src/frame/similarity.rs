//! Local grids: a peg-and-tape grid tied to the site's CRS by control points.

use crate::angle::fold_deg;
use crate::model::LocalGrid;
pub use crate::model::{ControlPoint, Residual, Similarity};
use serde::Serialize;

/// Points nearer to each other than this are one point.
const SAME_PLACE_M: f64 = 0.001;
/// A mirrored grid is recognised where its reflection fits this many times better.
const MIRRORED_FITS_BETTER: f64 = 3.0;

/// Points whose fit leaves more than this part of their own spread do not fit at all.
const NO_FIT: f64 = 0.5;

/// A local grid tied to a CRS, and how well.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tie {
    /// The transformation.
    pub similarity: Similarity,
    /// Each control point's residual, in the order given.
    pub residuals: Vec<Residual>,
    /// Root mean square of the residuals' lengths, metres.
    pub rms_m: f64,
    /// Root mean square where the local grid is taken for a mirror image, metres: where this is within the
    /// tolerance too, as with two points or points in one line, a mirrored grid would not be seen.
    pub mirrored_rms_m: f64,
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
    #[error("too few control points ({0}): at least two are needed, three or more to check them")]
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
        let (similarity, residuals, rms_m) = fitted(points);
        let (.., mirrored_rms_m) = fitted(&mirrored(points));
        if rms_m > tolerance_m {
            refuse_mirrored(rms_m, mirrored_rms_m)?;
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
            mirrored_rms_m,
            redundancy: 2 * points.len() - 4,
            tolerance_m,
        })
    }

    /// The local grid as a site keeps it, with the control points that this was fitted to.
    #[must_use]
    pub fn local_grid(&self, control: Vec<ControlPoint>) -> LocalGrid {
        LocalGrid {
            similarity: self.similarity,
            rms_m: self.rms_m,
            tolerance_m: self.tolerance_m,
            control,
        }
    }
}

/// The one control point without which all others fit within the tolerance: most likely the one that was
/// misread (common practice). A blunder of one point leaves residuals at its neighbours too, so that the
/// residuals alone do not tell. `None` where no point is such or several are, or where fewer than three would be
/// left, which check nothing.
#[must_use]
pub fn suspect(points: &[ControlPoint], tolerance_m: f64) -> Option<&str> {
    const LEFT: usize = 3;
    if points.len() <= LEFT {
        return None;
    }
    let mut suspects = points.iter().enumerate().filter(|(no, _)| {
        let others = [&points[..*no], &points[no + 1..]].concat();
        Tie::fit(&others, tolerance_m).is_ok_and(|tie| tie.over_tolerance.is_empty())
    });
    match (suspects.next(), suspects.next()) {
        (Some((_, point)), None) => Some(&point.name),
        _ => None,
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

/// The points with the local y axis counted the other way.
fn mirrored(points: &[ControlPoint]) -> Vec<ControlPoint> {
    let mirror = |point: &ControlPoint| ControlPoint {
        local_y_m: -point.local_y_m,
        ..point.clone()
    };
    points.iter().map(mirror).collect()
}

/// The best fit, its residuals, and their root mean square in metres.
fn fitted(points: &[ControlPoint]) -> (Similarity, Vec<Residual>, f64) {
    let similarity = least_squares(points);
    let residuals: Vec<Residual> = (points.iter()).map(|point| similarity.residual(point)).collect();
    let squares: f64 = residuals.iter().map(|r| r.length_m * r.length_m).sum();
    let rms_m = (squares / points.len() as f64).sqrt();
    (similarity, residuals, rms_m)
}

fn least_squares(points: &[ControlPoint]) -> Similarity {
    let count = points.len() as f64;
    let mean = |part: fn(&ControlPoint) -> f64| points.iter().map(part).sum::<f64>() / count;
    let (x0, y0) = (mean(|p| p.local_x_m), mean(|p| p.local_y_m));
    let (e0, n0) = (mean(|p| p.easting_m), mean(|p| p.northing_m));
    let (mut along, mut across, mut squares) = (0.0, 0.0, 0.0);
    for point in points {
        let (x, y) = (point.local_x_m - x0, point.local_y_m - y0);
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

/// A mirrored grid is one whose reflection fits much better.
fn refuse_mirrored(rms_m: f64, mirrored_rms_m: f64) -> Result<(), TieFault> {
    if mirrored_rms_m * MIRRORED_FITS_BETTER < rms_m {
        return Err(TieFault::Mirrored {
            rms_m,
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
