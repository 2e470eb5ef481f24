//! Vectors and their spreads on the surface.

use std::f64::consts::{FRAC_PI_2, TAU};

/// Easting and northing, metres.
pub(crate) type Vector = [f64; 2];

pub(crate) fn plus([a, b]: Vector, [c, d]: Vector) -> Vector {
    [a + c, b + d]
}

pub(crate) fn minus([a, b]: Vector, [c, d]: Vector) -> Vector {
    [a - c, b - d]
}

pub(crate) fn times([a, b]: Vector, factor: f64) -> Vector {
    [a * factor, b * factor]
}

pub(crate) fn dot([a, b]: Vector, [c, d]: Vector) -> f64 {
    a * c + b * d
}

pub(crate) fn length([a, b]: Vector) -> f64 {
    a.hypot(b)
}

/// The unit vector of an azimuth.
pub(crate) fn along(azimuth_rad: f64) -> Vector {
    let (sine, cosine) = azimuth_rad.sin_cos();
    [sine, cosine]
}

/// A quarter circle anticlockwise of a vector.
pub(crate) fn left_of([east, north]: Vector) -> Vector {
    [-north, east]
}

/// A covariance of two axes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Spread {
    pub ee: f64,
    pub en: f64,
    pub nn: f64,
}

/// The axes of a spread's ellipse: standard deviations and the azimuth of the longer one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Axes {
    pub major: f64,
    pub minor: f64,
    pub azimuth_rad: f64,
}

impl Spread {
    /// The same in each direction.
    pub fn round(variance: f64) -> Self {
        Self {
            ee: variance,
            en: 0.0,
            nn: variance,
        }
    }

    pub fn plus(self, other: Self) -> Self {
        Self {
            ee: self.ee + other.ee,
            en: self.en + other.en,
            nn: self.nn + other.nn,
        }
    }

    pub fn times(self, factor: f64) -> Self {
        Self {
            ee: self.ee * factor,
            en: self.en * factor,
            nn: self.nn * factor,
        }
    }

    /// What a displacement adds to a spread about the mean.
    pub fn of_offset([east, north]: Vector) -> Self {
        Self {
            ee: east * east,
            en: east * north,
            nn: north * north,
        }
    }

    /// The matrix times a vector.
    pub fn product(self, [east, north]: Vector) -> Vector {
        [self.ee * east + self.en * north, self.en * east + self.nn * north]
    }

    /// The inverse matrix.
    pub fn inverse(self) -> Self {
        let one = 1.0 / self.determinant();
        Self {
            ee: self.nn * one,
            en: -self.en * one,
            nn: self.ee * one,
        }
    }

    pub fn determinant(self) -> f64 {
        // Rounding may leave a flat ellipse with less than no width.
        (self.ee * self.nn - self.en * self.en).max(1e-18)
    }

    /// The squared distance of an offset, in standard deviations.
    pub fn distance_2(self, [east, north]: Vector) -> f64 {
        (self.nn * east * east - 2.0 * self.en * east * north + self.ee * north * north) / self.determinant()
    }

    /// The half axes, each at least a tenth of a millimetre.
    pub fn axes(self) -> Axes {
        let middle = (self.ee + self.nn) / 2.0;
        let apart = ((self.ee - self.nn) / 2.0).hypot(self.en);
        let turn = 0.5 * (2.0 * self.en).atan2(self.ee - self.nn);
        Axes {
            major: (middle + apart).max(1e-8).sqrt(),
            minor: (middle - apart).max(1e-8).sqrt(),
            azimuth_rad: (FRAC_PI_2 - turn).rem_euclid(std::f64::consts::PI),
        }
    }
}

/// How many corners an ellipse is drawn with.
const CORNERS: usize = 48;

impl Axes {
    /// The squared distance of an offset, in standard deviations.
    pub fn distance_2(&self, offset: Vector) -> f64 {
        let major = along(self.azimuth_rad);
        let (ahead, aside) = (dot(offset, major), dot(offset, left_of(major)));
        (ahead / self.major).powi(2) + (aside / self.minor).powi(2)
    }

    /// A place on the ellipse of this radius (in standard deviations), as an offset from its centre.
    pub fn rim(&self, radius: f64, angle_rad: f64) -> Vector {
        let major = along(self.azimuth_rad);
        let (sine, cosine) = angle_rad.sin_cos();
        plus(
            times(major, radius * self.major * cosine),
            times(left_of(major), radius * self.minor * sine),
        )
    }

    /// The corners of the ellipse of this radius, anticlockwise, the first not repeated. The polygon's area is that of the ellipse.
    pub fn corners(&self, centre: Vector, radius: f64) -> Vec<Vector> {
        let step = TAU / CORNERS as f64;
        let radius = radius * (step / step.sin()).sqrt();
        (0..CORNERS)
            .map(|corner| plus(centre, self.rim(radius, step * corner as f64)))
            .collect()
    }
}

/// ln of the density of a bivariate Student's t with this covariance and more than two degrees of freedom.
///
/// # Formula
/// f(x) = (1 + d² / (ν − 2))^(−ν/2 − 1) · ν / (ν − 2) / (2π √|C|), d² the squared distance by the covariance C.
pub(crate) fn ln_student(spread: Spread, offset: Vector, freedom: f64) -> f64 {
    let inner = freedom - 2.0;
    -(freedom / 2.0 + 1.0) * (spread.distance_2(offset) / inner).ln_1p() + (freedom / inner).ln()
        - TAU.ln()
        - 0.5 * spread.determinant().ln()
}

/// The probability that a bivariate Student's t of unit covariance lies within this squared distance.
pub(crate) fn student_within(distance_2: f64, freedom: f64) -> f64 {
    1.0 - (-(freedom / 2.0) * (distance_2 / (freedom - 2.0)).ln_1p()).exp()
}

/// ln of the density of a normal distribution.
pub(crate) fn ln_normal(off: f64, sd: f64) -> f64 {
    -0.5 * (off / sd).powi(2) - sd.ln() - 0.918_938_533_204_672_7
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, BooleanOps, LineString, Polygon};
    use serde_json::Value;

    #[test]
    fn axes_of_a_turned_ellipse() {
        // 3 along azimuth 30, 1 across.
        let (major, minor) = (along(30f64.to_radians()), left_of(along(30f64.to_radians())));
        let spread = Spread::of_offset(times(major, 3.0)).plus(Spread::of_offset(minor));
        let axes = spread.axes();
        assert!((axes.major - 3.0).abs() < 1e-9 && (axes.minor - 1.0).abs() < 1e-9);
        assert!((axes.azimuth_rad.to_degrees() - 30.0).abs() < 1e-9);
        assert!((spread.distance_2(times(major, 6.0)) - 4.0).abs() < 1e-9);
        for corner in axes.corners([0.0, 0.0], 2.0) {
            assert!((spread.distance_2(corner) - 4.0).abs() < 0.1);
        }
    }

    #[test]
    fn student_is_a_density_of_its_distribution() {
        // The mass between two near radii is the density times the ring's area.
        for freedom in [5.0, 8.0, 40.0] {
            for radius in [0.1f64, 1.0, 3.0] {
                let ring = student_within((radius + 1e-4).powi(2), freedom)
                    - student_within((radius - 1e-4).powi(2), freedom);
                let density = ln_student(Spread::round(1.0), [radius, 0.0], freedom).exp();
                assert!((ring / (TAU * radius * 2e-4) - density).abs() < 1e-5 * (1.0 + density));
            }
        }
    }

    /// How far ellipses overlap and what lies in them, as GEOS finds it; `fixtures/reference/ellipses.json` names its version. The
    /// polygons have 48 corners and the ellipses' own areas; theirs have 2,048.
    #[test]
    fn ellipses_overlap_as_geos_has_them() {
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference/ellipses.json");
        let fixture: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
        let (mut overlapping, mut inside) = (0, 0);
        for case in fixture["cases"].as_array().unwrap() {
            let numbers = |name: &str| -> Vec<f64> { serde_json::from_value(case[name].clone()).unwrap() };
            let (off, radius) = (numbers("off"), case["radius"].as_f64().unwrap());
            let axes = ["one", "other"].map(|name| {
                let covariance = numbers(name);
                Spread {
                    ee: covariance[0],
                    en: covariance[1],
                    nn: covariance[2],
                }
                .axes()
            });
            let [one, other] = [(axes[0], [0.0; 2]), (axes[1], [off[0], off[1]])].map(|(axes, centre)| {
                let corners = axes.corners(centre, radius).into_iter().map(geo::Coord::from);
                Polygon::new(LineString::from_iter(corners), Vec::new())
            });
            let areas = numbers("areas");
            for (polygon, area) in [&one, &other].into_iter().zip(&areas) {
                assert!((polygon.unsigned_area() / area - 1.0).abs() < 1e-4, "{case}");
            }
            let wanted = case["overlap"].as_f64().unwrap();
            let found = one.intersection(&other).unsigned_area();
            let smaller = areas[0].min(areas[1]);
            assert!(
                (found - wanted).abs() < 0.005 * smaller,
                "{found} instead of {wanted}: {case}"
            );
            overlapping += usize::from(wanted > 0.01 * smaller);
            let places: Vec<[f64; 2]> = serde_json::from_value(case["places"].clone()).unwrap();
            let are_inside: Vec<bool> = serde_json::from_value(case["inside"].clone()).unwrap();
            for (place, is_inside) in places.into_iter().zip(are_inside) {
                assert_eq!(
                    axes[0].distance_2(place) <= radius * radius,
                    is_inside,
                    "{place:?} {case}"
                );
                inside += usize::from(is_inside);
            }
        }
        assert!(overlapping > 30 && inside > 30, "{overlapping} {inside}");
    }
}
