//! Rayleigh's test of uniformity against one mode.

use super::bessel::{j0_power, j0_zero, ln_i0, one_minus_ratio, ratio, ratio_slope};
use super::{CircularError, Directions, PMethod, Test, kappa};

/// Below this the sum's rounding would show, and the saddlepoint takes over.
const SMALLEST_SUMMED: f64 = 1e-9;

/// Terms of the exact series at most; only n = 4 needs so many.
const MOST_TERMS: usize = 4_000;

/// Rayleigh's test: is there one preferred direction? It is blind to two opposite modes.
///
/// # Formula
/// z = n R̄². The exact p = 1 − R ∫₀^∞ J₁(Rt) J₀(t)ⁿ dt with R = n R̄. As R never passes n, the integral is the
/// sum Σₖ 2R J₁(jₖR/L) J₀(jₖ/L)ⁿ / (L jₖ J₁(jₖ)²) over the zeros jₖ of J₀, with L = n, or 12√n where that is
/// less (a walk is longer with odds below e⁻¹⁴⁴). Below p = 1e-9 the saddlepoint form
/// p = √(A(κ) / (κ A′(κ))) exp(n (ln I₀(κ) − κ A(κ))), A(κ) = R̄, is used; it is within a few per cent.
/// If all directions are equal, p is 0: directions without rounding never coincide by chance.
///
/// The usual four-term series turns negative for strong samples of n = 10, and exp(−z) is far too high there.
///
/// # Errors
/// [`CircularError::TooFew`] below three directions.
///
/// # References
/// Greenwood, J. A. & Durand, D. (1955), Annals of Mathematical Statistics 26, 233-246 (the integral);
/// Mardia, K. V. & Jupp, P. E. (2000), Directional Statistics, section 6.3.1.
pub fn rayleigh(sample: &Directions) -> Result<Test, CircularError> {
    let n = sample.n();
    CircularError::unless_at_least(n, 3)?;
    let r_bar = sample.r_bar();
    let statistic = n as f64 * r_bar * r_bar;
    let (p, p_method) = tail(n, r_bar, sample.variance());
    Ok(Test {
        statistic,
        p: Some(p),
        p_method,
    })
}

fn tail(n: usize, r_bar: f64, variance: f64) -> (f64, PMethod) {
    let Some(kappa) = kappa(variance) else {
        return (0.0, PMethod::Exact);
    };
    let size = n as f64;
    let longest = if n < 144 { size } else { 12.0 * size.sqrt() };
    let resultant = size * r_bar;
    if resultant < longest {
        let p = if n == 3 {
            three_steps(resultant)
        } else {
            summed(n, resultant, longest)
        };
        if p > SMALLEST_SUMMED {
            return (p.min(1.0), PMethod::Exact);
        }
    }
    (saddlepoint(n, kappa), PMethod::Saddlepoint)
}

/// P(R > r) of a walk of n ≥ 4 unit steps.
fn summed(n: usize, resultant: f64, longest: f64) -> f64 {
    let mut within = 0.0;
    let mut quiet = 0;
    for k in 1..=MOST_TERMS {
        let zero = j0_zero(k);
        let slope = libm::j1(zero);
        let size = j0_power(zero / longest, n) / (zero * slope * slope);
        within += 2.0 * resultant / longest * libm::j1(zero * resultant / longest) * size;
        // One small term may be a zero of J0 passing by; a run of them is the end.
        quiet = if size.abs() < 1e-16 { quiet + 1 } else { 0 };
        if quiet == 8 {
            break;
        }
    }
    1.0 - within
}

/// P(R > r) of a walk of three unit steps, where the series converges too slowly.
///
/// Two steps reach s = 2 cos ψ with ψ even over 0 to π/2; the third step then passes r where the cosine of
/// its angle is over (r² − s² − 1) / (2s). The mean over ψ is taken at midpoints, to about six decimals.
fn three_steps(resultant: f64) -> f64 {
    const MIDPOINTS: u32 = 20_000;
    let beyond = |step: u32| {
        let psi = (f64::from(step) + 0.5) / f64::from(MIDPOINTS) * std::f64::consts::FRAC_PI_2;
        let reached = 2.0 * psi.cos();
        let cosine = (resultant * resultant - reached * reached - 1.0) / (2.0 * reached);
        cosine.clamp(-1.0, 1.0).acos() / std::f64::consts::PI
    };
    (0..MIDPOINTS).map(beyond).sum::<f64>() / f64::from(MIDPOINTS)
}

fn saddlepoint(n: usize, kappa: f64) -> f64 {
    // κ A - ln I0 loses digits for large κ; with 1 - A it does not: κ - ln I0 is a slow logarithm there.
    let exponent = n as f64 * (ln_i0(kappa) - kappa + kappa * one_minus_ratio(kappa));
    (ratio(kappa) / (kappa * ratio_slope(kappa))).sqrt() * exponent.exp()
}

/// p of a given z, for tests against tables.
#[cfg(test)]
pub(super) fn p_of(n: usize, z: f64) -> f64 {
    let r_bar = (z / n as f64).sqrt();
    tail(n, r_bar, 1.0 - r_bar).0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn p(n: usize, r_bar: f64) -> f64 {
        tail(n, r_bar, 1.0 - r_bar).0
    }

    #[test]
    fn published_critical_values() {
        // Zar, Biostatistical Analysis, table B.34 (critical z at 5 %; from memory, three decimals).
        for (n, z) in [(10, 2.919), (20, 2.958), (30, 2.971), (100, 2.989)] {
            let p = p(n, (z / n as f64).sqrt());
            assert!((p - 0.05).abs() < 2e-4, "n = {n}: {p}");
        }
    }

    #[test]
    fn more_steps_approach_the_exponential() {
        let z: f64 = 3.0;
        for n in [10_000, 1_000_000] {
            let size = n as f64;
            // Second-order term: Mardia & Jupp (2000), equation 6.3.5.
            let series = (-z).exp() * (1.0 + (2.0 * z - z * z) / (4.0 * size));
            assert!((p(n, (z / size).sqrt()) - series).abs() < 1e-9, "n = {n}");
        }
    }

    #[test]
    fn p_falls_from_one_to_zero() {
        for n in [3, 4, 5, 10, 143, 144, 1000] {
            let mut last = 1.0 + 1e-6;
            for step in 0..=50 {
                let now = p(n, f64::from(step) / 50.0);
                assert!(
                    now <= last + 1e-6 && (0.0..=1.0).contains(&now),
                    "n = {n}, step {step}: {now}"
                );
                last = now;
            }
            assert!(p(n, 1.0) == 0.0);
        }
    }

    #[test]
    fn the_saddlepoint_meets_the_sum() {
        for (n, r_bar) in [(8, 0.93), (22, 0.8), (100, 0.4), (2000, 0.09)] {
            let summed = summed(n, n as f64 * r_bar, (n as f64).min(12.0 * (n as f64).sqrt()));
            let quick = saddlepoint(n, kappa(1.0 - r_bar).unwrap());
            assert!(
                (quick / summed - 1.0).abs() < 0.05,
                "n = {n}: {quick:e} beside {summed:e}"
            );
        }
    }

    #[test]
    fn two_directions_are_too_few() {
        let sample = Directions::from_degrees(&[1.0, 2.0]).unwrap();
        assert_eq!(rayleigh(&sample), Err(CircularError::TooFew { n: 2, least: 3 }));
    }
}
