//! The V-test of uniformity against a named direction.

use std::f64::consts::PI;

use super::bessel::{j0_power, ln_i0, one_minus_ratio, ratio, ratio_slope};
use super::{CircularError, Directions, Kind, PMethod, Test, kappa};

/// Below this the sum's rounding would show, and the saddlepoint takes over.
const SMALLEST_SUMMED: f64 = 1e-10;

/// Terms of the exact series at most; only the smallest samples need so many.
const MOST_TERMS: usize = 5_000;

/// The V-test: do the directions gather about one that was named before they were seen?
///
/// # Units
/// The named azimuth is in degrees; for axes it is an axis.
///
/// # Formula
/// V = Σ cos(θ − μ₀), from −n to n. The exact one-sided p = ½ − (1/π) ∫₀^∞ sin(Vt)/t J₀(t)ⁿ dt. As V never
/// passes n, the integral is the sum (L − V)/(2L) − Σₖ sin(kπV/L) J₀(kπ/L)ⁿ / (kπ), with L = n, or 12√n where that
/// is less. Below p = 1e-10 the saddlepoint form of Lugannani and Rice is used, with A(s) = V/n,
/// w = √(2n(sA − ln I₀(s))), u = s √(n A′(s)): p = 1 − Φ(w) + φ(w) (1/u − 1/w).
/// Some programs give u = V √(2/n), or V / n, as the statistic; its normal p is up to three times too high.
///
/// # Errors
/// [`CircularError::TooFew`] below three directions; [`CircularError::NotFinite`] for the named azimuth.
///
/// # References
/// Greenwood, J. A. & Durand, D. (1955), Annals of Mathematical Statistics 26, 233-246; Lugannani, R. & Rice,
/// S. (1980), Advances in Applied Probability 12, 475-490.
pub fn v_test(sample: &Directions, named_azimuth_deg: f64) -> Result<Test, CircularError> {
    if !named_azimuth_deg.is_finite() {
        return Err(CircularError::NotFinite {
            position: 0,
            value: named_azimuth_deg,
        });
    }
    let n = sample.n();
    CircularError::unless_at_least(n, 3)?;
    let turns = if sample.kind() == Kind::Axes { 2.0 } else { 1.0 };
    let (sine, cosine) = (turns * crate::angle::fold_deg(named_azimuth_deg))
        .to_radians()
        .sin_cos();
    let (cosines, sines) = sample.resultant();
    let statistic = (cosines * cosine + sines * sine).clamp(-(n as f64), n as f64);
    let (p, p_method) = tail(n, statistic);
    Ok(Test {
        statistic,
        p: Some(p),
        p_method,
    })
}

fn tail(n: usize, along: f64) -> (f64, PMethod) {
    let size = n as f64;
    let longest = if n < 144 { size } else { 12.0 * size.sqrt() };
    if along <= -longest {
        return (1.0, PMethod::Exact);
    }
    if along < longest {
        let p = summed(n, along, longest);
        if p > SMALLEST_SUMMED {
            return (p.min(1.0), PMethod::Exact);
        }
    }
    match kappa(1.0 - along / size) {
        Some(tilt) => (saddlepoint(n, tilt), PMethod::Saddlepoint),
        None => (0.0, PMethod::Exact),
    }
}

fn summed(n: usize, along: f64, longest: f64) -> f64 {
    let mut beyond = (longest - along) / (2.0 * longest);
    let mut quiet = 0;
    for k in 1..=MOST_TERMS {
        let turn = k as f64 * PI;
        let size = j0_power(turn / longest, n) / turn;
        beyond -= size * (turn * along / longest).sin();
        quiet = if size.abs() < 1e-18 { quiet + 1 } else { 0 };
        if quiet == 8 {
            break;
        }
    }
    beyond
}

fn saddlepoint(n: usize, tilt: f64) -> f64 {
    let size = n as f64;
    let depth = size * (tilt * ratio(tilt) - ln_i0(tilt));
    let w = (2.0 * depth).sqrt();
    let u = tilt * (size * ratio_slope(tilt)).sqrt();
    let density = (-depth).exp() / (2.0 * PI).sqrt();
    // At the far end A is 1 to the last digit, and 1 - A decides whether anything is left.
    if one_minus_ratio(tilt) == 0.0 {
        return 0.0;
    }
    (0.5 * libm::erfc(w / std::f64::consts::SQRT_2) + density * (1.0 / u - 1.0 / w)).max(0.0)
}

/// p of a given V, for tests against tables.
#[cfg(test)]
pub(super) fn p_of(n: usize, along: f64) -> f64 {
    tail(n, along).0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exact_value_of_a_published_sample() {
        // Zar's sample of eight at 90 degrees; p by numerical integration of the formula above.
        let sample = Directions::from_degrees(&[45.0, 55.0, 81.0, 96.0, 110.0, 117.0, 132.0, 154.0]).unwrap();
        let test = v_test(&sample, 90.0).unwrap();
        assert!((test.statistic - 6.520_684).abs() < 1e-6);
        assert!((test.p.unwrap() - 1.785_329e-4).abs() < 1e-10);
        assert_eq!(test.p_method, PMethod::Exact);
    }

    #[test]
    fn opposite_names_share_the_whole_probability() {
        let sample = Directions::from_degrees(&[12.0, 40.0, 170.0, 181.0, 222.0]).unwrap();
        let along = v_test(&sample, 33.0).unwrap().p.unwrap();
        let against = v_test(&sample, 213.0).unwrap().p.unwrap();
        assert!((along + against - 1.0).abs() < 1e-9);
    }

    #[test]
    fn the_saddlepoint_meets_the_sum() {
        for (n, along) in [(5usize, 4.6), (22, 15.0), (100, 35.0), (2000, 180.0)] {
            let longest = (n as f64).min(12.0 * (n as f64).sqrt());
            let quick = saddlepoint(n, kappa(1.0 - along / n as f64).unwrap());
            let summed = summed(n, along, longest);
            assert!(
                (quick / summed - 1.0).abs() < 0.05,
                "n = {n}: {quick:e} beside {summed:e}"
            );
        }
    }

    #[test]
    fn bad_names_and_small_samples_are_refused() {
        let sample = Directions::from_degrees(&[1.0, 2.0]).unwrap();
        assert_eq!(
            v_test(&sample, 0.0),
            Err(CircularError::TooFew { n: 2, least: 3 })
        );
        assert!(matches!(
            v_test(&sample, f64::NAN),
            Err(CircularError::NotFinite { .. })
        ));
    }
}
