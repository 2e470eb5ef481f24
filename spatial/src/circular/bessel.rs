//! Bessel functions of the von Mises distribution and of random walks in the plane.

use std::f64::consts::{PI, TAU};

/// Above this κ the asymptotic series has reached the last digit of a double.
const ASYMPTOTIC_FROM: f64 = 50.0;

/// A(κ) = I₁(κ) / I₀(κ), the mean resultant length of a von Mises distribution.
///
/// # Formula
/// Up to κ = 50 Gauss's continued fraction 1/(2/κ + 1/(4/κ + 1/(6/κ + …))), from its far end; above, 1 − A by
/// the asymptotic series. Relative error below 1e-13.
///
/// # References
/// NIST Digital Library of Mathematical Functions, 10.33.1 and 10.40.1.
pub(super) fn ratio(kappa: f64) -> f64 {
    if kappa > ASYMPTOTIC_FROM {
        return 1.0 - one_minus_ratio(kappa);
    }
    if kappa <= 0.0 {
        return 0.0;
    }
    let depth = 40 + kappa as i32;
    let mut below = 0.0;
    for step in (1..=depth).rev() {
        below = 1.0 / (f64::from(2 * step) / kappa + below);
    }
    below
}

/// 1 − A(κ), with all its digits where A(κ) is near 1.
pub(super) fn one_minus_ratio(kappa: f64) -> f64 {
    if kappa <= ASYMPTOTIC_FROM {
        return 1.0 - ratio(kappa);
    }
    let (order_0, order_1) = (asymptotic_terms(kappa, 0.0), asymptotic_terms(kappa, 1.0));
    let difference: f64 = order_0.iter().zip(&order_1).map(|(zero, one)| zero - one).sum();
    difference / order_0.iter().sum::<f64>()
}

/// The slope of A(κ): 1 − A/κ − A². It is ½ at κ = 0.
pub(super) fn ratio_slope(kappa: f64) -> f64 {
    if kappa < 1e-4 {
        return 0.5;
    }
    if kappa > 1e4 {
        // The plain form cancels here. Derivative of 1 - 1/(2κ) - 1/(8κ²) - 1/(8κ³).
        return (0.5 + 0.25 / kappa + 0.375 / (kappa * kappa)) / (kappa * kappa);
    }
    let (ratio, rest) = (ratio(kappa), one_minus_ratio(kappa));
    // 1 - A² written with 1 - A.
    rest * (1.0 + ratio) - ratio / kappa
}

/// The natural logarithm of I₀(κ).
///
/// # References
/// NIST Digital Library of Mathematical Functions, 10.25.2 and 10.40.1.
pub(super) fn ln_i0(kappa: f64) -> f64 {
    if kappa > ASYMPTOTIC_FROM {
        let series: f64 = asymptotic_terms(kappa, 0.0).iter().sum();
        return kappa - 0.5 * (TAU * kappa).ln() + series.ln();
    }
    let quarter = 0.25 * kappa * kappa;
    let (mut term, mut sum, mut k) = (1.0, 0.0, 0.0);
    while term > 1e-17 * sum {
        k += 1.0;
        term *= quarter / (k * k);
        sum += term;
    }
    sum.ln_1p()
}

/// The terms (−1)ᵏ aₖ(ν) / κᵏ of the asymptotic series of a modified Bessel function of order ν.
fn asymptotic_terms(kappa: f64, order: f64) -> [f64; 24] {
    let mut terms = [1.0; 24];
    for k in 1..terms.len() {
        let odd = (2 * k - 1) as f64;
        terms[k] = -terms[k - 1] * (4.0 * order * order - odd * odd) / (8.0 * k as f64 * kappa);
    }
    terms
}

/// J₀(t)ⁿ: the characteristic function of a walk of n unit steps in random directions.
///
/// Near t = 0 the power is taken through the logarithm of the series, since rounding of J₀ would otherwise
/// grow n times.
pub(super) fn j0_power(t: f64, n: usize) -> f64 {
    if t < 0.5 {
        let quarter = 0.25 * t * t;
        // J0 - 1 by its series; eight terms reach 1e-20 at t = 0.5.
        let (mut term, mut below) = (1.0, 0.0);
        for k in 1..=8 {
            term *= -quarter / f64::from(k * k);
            below += term;
        }
        return (n as f64 * below.ln_1p()).exp();
    }
    let power = i32::try_from(n).unwrap_or(i32::MAX);
    libm::j0(t).powi(power)
}

/// The k-th positive zero of J₀ (k = 1, 2, …), by McMahon's expansion and Newton's method.
///
/// # References
/// NIST Digital Library of Mathematical Functions, 10.21.19.
pub(super) fn j0_zero(k: usize) -> f64 {
    let beta = (k as f64 - 0.25) * PI;
    let mut zero = beta + 1.0 / (8.0 * beta) - 124.0 / (3.0 * (8.0 * beta).powi(3));
    // The expansion is within 0.002 for k = 1 and far nearer above.
    let steps = if k < 4 { 3 } else { 1 };
    for _ in 0..steps {
        zero += libm::j0(zero) / libm::j1(zero);
    }
    zero
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ratio_agrees_with_thirty_digit_values() {
        // I1(κ)/I0(κ) by mpmath 1.4.1 at 40 digits.
        for (kappa, expected) in RATIOS {
            let error = (ratio(kappa) / expected - 1.0).abs();
            assert!(error < 1e-13, "A({kappa}) is off by {error:e}");
        }
    }

    #[test]
    fn one_minus_the_ratio_keeps_its_digits() {
        for (kappa, expected) in RESTS {
            let error = (one_minus_ratio(kappa) / expected - 1.0).abs();
            assert!(error < 1e-12, "1 - A({kappa}) is off by {error:e}");
        }
    }

    #[test]
    fn both_forms_of_the_logarithm_meet() {
        for (kappa, expected) in LOGARITHMS {
            let error = (ln_i0(kappa) - expected).abs() / expected;
            assert!(error < 1e-13, "ln I0({kappa}) is off by {error:e}");
        }
    }

    #[test]
    fn the_slope_is_the_slope() {
        for kappa in [1e-3, 0.5, 3.0, 49.9, 50.1, 900.0] {
            let step = 1e-4 * kappa;
            let by_difference =
                (one_minus_ratio(kappa - step) - one_minus_ratio(kappa + step)) / (2.0 * step);
            assert!((ratio_slope(kappa) / by_difference - 1.0).abs() < 1e-6, "{kappa}");
        }
        assert!((ratio_slope(9_999.0) / ratio_slope(10_001.0) - 1.0004).abs() < 1e-6);
    }

    #[test]
    fn zeros_of_j0_are_zeros() {
        // NIST Digital Library of Mathematical Functions, table 10.21 (first zero).
        assert!((j0_zero(1) - 2.404_825_557_695_773).abs() < 1e-14);
        for k in [2, 10, 500, 20_000] {
            assert!(libm::j0(j0_zero(k)).abs() < 1e-12);
        }
    }

    const RATIOS: [(f64, f64); 12] = [
        (1e-06, 4.999999999999375e-07),
        (0.1, 0.04993760398793892),
        (0.5, 0.24249961258080194),
        (1.0, 0.4463899658965345),
        (2.0, 0.697774657964008),
        (5.0, 0.8933831370440852),
        (10.0, 0.9485998259548459),
        (30.0, 0.9831895553653361),
        (49.9, 0.9899287204074461),
        (50.1, 0.9899691330985527),
        (100.0, 0.9949873730051688),
        (1000.0, 0.9994998748748043),
    ];

    const RESTS: [(f64, f64); 5] = [
        (20.0, 0.025329492110192874),
        (60.0, 0.008368649875791228),
        (200.0, 0.0025031407483564723),
        (10000.0, 5.000125012501954e-05),
        (1000000.0, 5.00000125000125e-07),
    ];

    const LOGARITHMS: [(f64, f64); 6] = [
        (0.01, 2.499984375173609e-05),
        (1.0, 0.23591435850717865),
        (20.0, 17.589610428244274),
        (49.9, 47.02858161680337),
        (50.1, 47.22657140757071),
        (300.0, 296.22958759300224),
    ];
}
