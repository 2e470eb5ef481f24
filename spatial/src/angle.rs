//! Directions: azimuths in degrees clockwise from north, and their differences.

use std::f64::consts::{PI, TAU};

/// An azimuth folded into 0 (included) to 360 (excluded).
///
/// # Units
/// Degrees in, degrees out.
///
/// # Examples
/// ```
/// assert_eq!(spatial::angle::fold_deg(-30.0), 330.0);
/// assert_eq!(spatial::angle::fold_deg(360.0), 0.0);
/// ```
#[must_use]
pub fn fold_deg(azimuth_deg: f64) -> f64 {
    let folded = azimuth_deg.rem_euclid(360.0);
    // A tiny negative angle rounds up to the full circle itself.
    if folded >= 360.0 { 0.0 } else { folded }
}

/// The turn from one direction to another, folded into −π (excluded) to π (included); clockwise is positive.
///
/// # Units
/// Radians in, radians out.
#[must_use]
pub fn turn_rad(from_rad: f64, to_rad: f64) -> f64 {
    let turn = (to_rad - from_rad).rem_euclid(TAU);
    if turn > PI { turn - TAU } else { turn }
}

/// The azimuth of a step by its easting and northing parts: clockwise from grid north, 0 to 2π.
///
/// # Units
/// Metres in, radians out.
///
/// # Examples
/// ```
/// let east = spatial::angle::azimuth_rad(1.0, 0.0);
/// assert!((east.to_degrees() - 90.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn azimuth_rad(east_m: f64, north_m: f64) -> f64 {
    east_m.atan2(north_m).rem_euclid(TAU)
}

/// The mean direction of azimuths and their mean resultant length R̄ (0 to 1); `None` for no azimuths.
///
/// # Formula
/// C = Σ cos θ / n, S = Σ sin θ / n, R̄ = √(C² + S²), mean = atan2(S, C).
///
/// # Units
/// Radians in; radians (0 to 2π) and a plain number out.
///
/// # References
/// Fisher, N. I. (1993), Statistical Analysis of Circular Data, section 2.3.1.
#[must_use]
pub fn mean_direction_rad(azimuths_rad: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    let (mut sine, mut cosine, mut count) = (0.0, 0.0, 0usize);
    for azimuth in azimuths_rad {
        sine += azimuth.sin();
        cosine += azimuth.cos();
        count += 1;
    }
    (count > 0).then(|| {
        (
            sine.atan2(cosine).rem_euclid(TAU),
            sine.hypot(cosine) / count as f64,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_across_north_is_short() {
        let turn = turn_rad(350f64.to_radians(), 10f64.to_radians());
        assert!((turn.to_degrees() - 20.0).abs() < 1e-9);
        assert!((turn_rad(0.0, PI) - PI).abs() < 1e-15, "a half turn is positive");
    }

    #[test]
    fn folding_never_gives_the_full_circle() {
        for azimuth in [-1e-17, 359.999_999, 720.0, -360.0] {
            let folded = fold_deg(azimuth);
            assert!((0.0..360.0).contains(&folded), "{azimuth} folded to {folded}");
        }
    }

    #[test]
    fn mean_direction_of_a_published_sample() {
        // Fisher (1993), example 2.3.1 uses the same formula; here three azimuths by hand:
        // 0, 90 and 90 degrees: C = 1/3, S = 2/3, mean = atan2(2, 1) = 63.4349 degrees, R = sqrt(5)/3.
        let sample = [0.0, 90f64.to_radians(), 90f64.to_radians()];
        let (mean, r_bar) = mean_direction_rad(sample).unwrap();
        assert!((mean.to_degrees() - 63.434_948_822_922).abs() < 1e-9);
        assert!((r_bar - 5f64.sqrt() / 3.0).abs() < 1e-12);
        assert!(mean_direction_rad([]).is_none());
    }
}
