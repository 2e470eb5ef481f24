//! Kuiper's test of uniformity.

use super::{CircularError, Directions, PMethod, Test};

/// Largest sample whose p is summed exactly.
const EXACT_UP_TO: usize = 1000;

/// Below this the difference from 1 would show its rounding, and the tail formulas take over.
const SMALLEST_SUMMED: f64 = 1e-9;

/// Kuiper's test: does the distribution differ anywhere from the even one?
///
/// # Formula
/// V = max(i/n − uᵢ) + max(uᵢ − (i−1)/n), uᵢ the sorted directions over 360; the raw V, not √n V. For
/// n ≤ 1000, p is exact. Seen from the direction where i/n − u is least, V stays below v if and only if each
/// later direction y₍ᵢ₎ (in units of 360/n) lies between i + 1 − nv and i. The counts of a Poisson process
/// between these two borders make a chain over 2n steps, P(V ≤ v) = n P(within) / P(n − 1 in all). Where V is
/// over ½, Stephens' exact sum for the upper tail keeps the digits of the smallest p.
///
/// Below p = 1e-9 with V up to ½, p = 2 Σ (4j²V*² − 1) exp(−2j²V*²) with V* = V (√n + 0.155 + 0.24/√n). For
/// n > 1000, with z = √n V, p = Σ 2(4j²z² − 1) exp(−2j²z²) − (8V/3) Σ j²(4j²z² − 3) exp(−2j²z²), good to 0.1 % of
/// p down to p = 0.01.
///
/// # Errors
/// [`CircularError::TooFew`] below three directions.
///
/// # References
/// Kuiper, N. H. (1960), Indagationes Mathematicae 22, 38-47; Stephens, M. A. (1965), Biometrika 52, 309-321
/// (upper tail); Stephens (1970), Journal of the Royal Statistical Society B 32, 115-122 (V*); the turn to the
/// least point as in Vervaat, W. (1979), Annals of Probability 7, 143-149.
pub fn kuiper(sample: &Directions) -> Result<Test, CircularError> {
    let n = sample.n();
    CircularError::unless_at_least(n, 3)?;
    let statistic = range(sample.sorted_deg());
    let (p, p_method) = tail(n, statistic);
    Ok(Test {
        statistic,
        p: Some(p),
        p_method,
    })
}

fn range(sorted_deg: &[f64]) -> f64 {
    let n = sorted_deg.len() as f64;
    let (mut above, mut below) = (f64::MIN, f64::MIN);
    for (place, azimuth_deg) in sorted_deg.iter().enumerate() {
        let (part, rank) = (azimuth_deg / 360.0, place as f64);
        above = above.max((rank + 1.0) / n - part);
        below = below.max(part - rank / n);
    }
    above + below
}

fn tail(n: usize, range: f64) -> (f64, PMethod) {
    let scale = (n as f64).sqrt();
    if n > EXACT_UP_TO {
        return (limiting_tail(range * scale, range), PMethod::LargeSample);
    }
    if range > 0.5 {
        return (upper_tail(n, range), PMethod::Exact);
    }
    let quick = limiting_tail(range * (scale + 0.155 + 0.24 / scale), 0.0);
    if quick > SMALLEST_SUMMED {
        return ((1.0 - within(n, range)).clamp(0.0, 1.0), PMethod::Exact);
    }
    (quick, PMethod::LargeSample)
}

/// P(V ≤ range), by the chain of counts.
fn within(n: usize, range: f64) -> f64 {
    let border = n as f64 * range - 1.0;
    if border <= 0.0 {
        return 0.0;
    }
    if border >= (n - 1) as f64 {
        return 1.0;
    }
    let (whole, part) = (border.floor() as usize, border.fract());
    // weights[m] is the probability of m directions so far, none past a border.
    let mut weights = vec![0.0; n];
    weights[0] = 1.0;
    let (early, late) = (poisson(1.0 - part, whole + 2), poisson(part, whole + 2));
    for step in 0..n {
        let lowest = step.min(n - 1);
        let most = (step + whole).min(n - 1);
        advance(&mut weights, lowest, most, &early);
        let most = (step + whole + 1).min(n - 1);
        advance(&mut weights, lowest, most, &late);
        // Of the directions after the first, step + 1 must have come by now.
        if step + 1 < n {
            weights[step] = 0.0;
        }
    }
    let ln_in_all = (n - 1) as f64 * (n as f64).ln() - n as f64 - libm::lgamma(n as f64);
    n as f64 * weights[n - 1] / ln_in_all.exp()
}

/// Lets some more directions come, up to `most` in all; states below `lowest` are empty.
fn advance(weights: &mut [f64], lowest: usize, most: usize, arrivals: &[f64]) {
    for count in (lowest..=most).rev() {
        let first = lowest.max((count + 1).saturating_sub(arrivals.len()));
        weights[count] = (first..=count)
            .map(|before| weights[before] * arrivals[count - before])
            .sum();
    }
}

/// The first probabilities of a Poisson count.
fn poisson(mean: f64, terms: usize) -> Vec<f64> {
    let mut probabilities = vec![(-mean).exp(); terms];
    for count in 1..terms {
        probabilities[count] = probabilities[count - 1] * mean / count as f64;
    }
    probabilities
}

/// Stephens' exact upper tail, for V over ½.
fn upper_tail(n: usize, range: f64) -> f64 {
    let size = n as f64;
    let term = |t: f64| {
        let y = range + t / size;
        let polynomial = y.powi(3) * size - y * y * t * (3.0 - 2.0 / size)
            + y * t * (t - 1.0) * (3.0 - 2.0 / size) / size
            - t * (t - 1.0) * (t - 2.0) / (size * size);
        let ln_choose = libm::lgamma(size + 1.0) - libm::lgamma(t + 1.0) - libm::lgamma(size - t + 1.0);
        let rest = (1.0 - y).max(0.0).powf(size - t - 1.0);
        ln_choose.exp() * rest * polynomial * y.powf(t - 3.0)
    };
    let last = (size * (1.0 - range)).floor() as u32;
    (0..=last)
        .map(|t| term(f64::from(t)))
        .sum::<f64>()
        .clamp(0.0, 1.0)
}

/// The limiting upper tail of √n V, less its next term in the raw V.
fn limiting_tail(scaled: f64, range: f64) -> f64 {
    // The series turns unsteady where p is 1 to all digits.
    if scaled < 0.4 {
        return 1.0;
    }
    let term = |j: u32| {
        let (step, square) = (f64::from(j * j), f64::from(j * j) * scaled * scaled);
        let next = 8.0 / 3.0 * range * step * (4.0 * square - 3.0);
        (2.0 * (4.0 * square - 1.0) - next) * (-2.0 * square).exp()
    };
    (1..=20).map(term).sum::<f64>().clamp(0.0, 1.0)
}

/// p of a given V, for tests against tables.
#[cfg(test)]
pub(super) fn p_of(n: usize, range: f64) -> f64 {
    tail(n, range).0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_directions_by_hand() {
        // V = 1 - s with s, the shorter gap over 360, even from 0 to 1/2: P(V ≤ v) = 2v - 1.
        for v in [0.55, 0.7, 0.95] {
            assert!((within(2, v) - (2.0 * v - 1.0)).abs() < 1e-12);
        }
    }

    #[test]
    fn the_lowest_piece_has_a_closed_form() {
        // Stephens (1965): P(V ≤ v) = n! (v - 1/n)^(n-1) for 1/n ≤ v ≤ 2/n.
        for n in [3usize, 5, 9] {
            let v = 1.7 / n as f64;
            let factorial: f64 = (1..=n).map(|k| k as f64).product();
            let closed = factorial * (v - 1.0 / n as f64).powi(n as i32 - 1);
            assert!((within(n, v) / closed - 1.0).abs() < 1e-12, "n = {n}");
        }
    }

    #[test]
    fn the_chain_meets_the_exact_upper_tail() {
        for (n, v) in [(4, 0.6), (8, 0.55), (10, 0.7), (22, 0.52), (30, 0.51)] {
            let (chain, sum) = (1.0 - within(n, v), upper_tail(n, v));
            assert!((chain - sum).abs() < 1e-11, "n = {n}: {chain} beside {sum}");
        }
    }

    #[test]
    fn the_chain_meets_the_large_sample_formula() {
        for scaled in [1.0, 1.4, 1.75, 2.0] {
            let v = scaled / 1000f64.sqrt();
            let (chain, series) = (1.0 - within(1000, v), limiting_tail(scaled, v));
            assert!(
                (series / chain - 1.0).abs() < 0.001,
                "{scaled}: {chain} beside {series}"
            );
        }
    }

    #[test]
    fn published_critical_value() {
        // Stephens (1970), table 1A: V* = 1.747 at 5 %.
        assert!((limiting_tail(1.747, 0.0) - 0.05).abs() < 2e-4);
    }

    #[test]
    fn p_falls_from_one_to_zero() {
        for n in [3, 10, 60, 1001] {
            let mut last = 1.0;
            for step in 0..=60 {
                let p = tail(n, f64::from(step) / 60.0).0;
                assert!(
                    (0.0..=1.0).contains(&p) && p <= last + 1e-9,
                    "n = {n}, step {step}: {p}"
                );
                last = p;
            }
        }
    }
}
