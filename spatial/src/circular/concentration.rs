//! The concentration κ of a von Mises distribution.

use super::bessel::{one_minus_ratio, ratio, ratio_slope};

/// Largest sample whose κ is corrected.
const CORRECTED_UP_TO: usize = 15;

/// κ by maximum likelihood, from the circular variance; `None` where it is infinite (no spread).
///
/// # Formula
/// A(κ) = R̄ = 1 − variance, with A(κ) = I₁(κ) / I₀(κ), solved to the last digits; no piecewise approximation.
///
/// # Units
/// The variance 1 − R̄ is 0 to 1; κ has no unit and is 0 or more.
///
/// # Examples
/// ```
/// let kappa = spatial::circular::kappa(1.0 - 0.825_217_745).unwrap();
/// assert!((kappa - 3.223_136).abs() < 1e-5);
/// assert_eq!(spatial::circular::kappa(0.0), None);
/// ```
///
/// # References
/// Fisher, N. I. (1993), Statistical Analysis of Circular Data, section 4.5.5.
#[must_use]
pub fn kappa(circular_variance: f64) -> Option<f64> {
    // Below this, all directions are equal but for rounding.
    if circular_variance.is_nan() || circular_variance <= 1e-28 {
        return None;
    }
    if circular_variance >= 1.0 {
        return Some(0.0);
    }
    let concentrated = circular_variance < 0.02;
    Some(if concentrated {
        by_scaling(circular_variance)
    } else {
        by_newton(1.0 - circular_variance)
    })
}

/// κ (1 − A(κ)) hardly changes where κ is large, so scaling κ closes the gap some 4κ times a step.
fn by_scaling(circular_variance: f64) -> f64 {
    let mut kappa = 0.5 / circular_variance;
    for _ in 0..12 {
        kappa *= one_minus_ratio(kappa) / circular_variance;
    }
    kappa
}

/// Newton's method from Fisher's approximation (1993, equation 4.40), which is within 1 %.
fn by_newton(r_bar: f64) -> f64 {
    let mut kappa = if r_bar < 0.53 {
        2.0 * r_bar + r_bar.powi(3) + 5.0 / 6.0 * r_bar.powi(5)
    } else if r_bar < 0.85 {
        -0.4 + 1.39 * r_bar + 0.43 / (1.0 - r_bar)
    } else {
        1.0 / (r_bar.powi(3) - 4.0 * r_bar.powi(2) + 3.0 * r_bar)
    };
    for _ in 0..6 {
        kappa = (kappa - (ratio(kappa) - r_bar) / ratio_slope(kappa)).max(0.0);
    }
    kappa
}

/// κ corrected for the bias that maximum likelihood has in small samples.
///
/// # Formula
/// For n ≤ 15: max(κ − 2/(nκ), 0) where κ < 2, and (n − 1)³ κ / (n³ + n) where κ ≥ 2. Larger samples need no
/// correction and keep κ.
///
/// # References
/// Best, D. J. & Fisher, N. I. (1981), Communications in Statistics B 10, 493-502; Fisher (1993), equation
/// 4.41.
#[must_use]
pub fn kappa_corrected(kappa: f64, n: usize) -> f64 {
    let size = n as f64;
    if n > CORRECTED_UP_TO || n == 0 {
        kappa
    } else if kappa >= 2.0 {
        (size - 1.0).powi(3) * kappa / (size.powi(3) + size)
    } else if kappa > 0.0 {
        (kappa - 2.0 / (size * kappa)).max(0.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ratio_of_kappa_gives_the_variance_back() {
        for exponent in -270..0 {
            let variance = 10f64.powf(f64::from(exponent) / 10.0);
            let kappa = kappa(variance).unwrap();
            let error = (one_minus_ratio(kappa) / variance - 1.0).abs();
            assert!(error < 1e-12, "variance {variance}: κ {kappa}, off by {error:e}");
        }
    }

    #[test]
    fn no_spread_has_no_kappa_and_no_concentration_has_zero() {
        assert_eq!(kappa(0.0), None);
        assert_eq!(kappa(f64::NAN), None);
        assert_eq!(kappa(1.0), Some(0.0));
        assert!(kappa(1.0 - 1e-9).unwrap() < 3e-9);
    }

    #[test]
    fn the_correction_follows_its_three_branches() {
        assert_eq!(kappa_corrected(0.1, 10), 0.0);
        assert!((kappa_corrected(1.0, 10) - 0.8).abs() < 1e-15);
        assert!((kappa_corrected(4.0, 10) - 729.0 * 4.0 / 1010.0).abs() < 1e-15);
        assert_eq!(kappa_corrected(4.0, 16), 4.0);
        assert_eq!(kappa_corrected(0.0, 10), 0.0);
    }
}
