//! Rao's spacing test of uniformity.

use super::{CircularError, Directions, PMethod, Test};

/// Largest sample whose p is summed exactly.
const EXACT_UP_TO: usize = 200;

/// Rao's spacing test: are the gaps between neighbours as even as chance would have them? It sees several
/// modes that Rayleigh's test misses.
///
/// # Formula
/// U = ½ Σ |Tᵢ − 360/n| in degrees, Tᵢ the gaps between neighbours around the circle. For n ≤ 200 p is exact:
/// u = U/360 has the density (n−1)! Σₖ C(n,k) n^(1−k) hₖ(nu) u^(n−k−1) / (n−k−1)!, k = 1 … n−1, where k gaps are
/// shorter than the mean and hₖ is the density of the sum of k uniform numbers. All terms are positive, so
/// nothing cancels; p is its integral by Gauss's rule. For larger n, u is normal with mean (1 − 1/n)ⁿ ≈ 1/e,
/// with the exact mean and variance of the uncovered part of the circle.
///
/// # Errors
/// [`CircularError::TooFew`] below three directions.
///
/// # References
/// Rao, J. S. (1976), Sankhya B 38, 329-338; Russell, G. S. & Levitin, D. J. (1995), Communications in
/// Statistics: Simulation and Computation 24, 879-888 (the density); Sherman, B. (1950), Annals of
/// Mathematical Statistics 21, 339-361 (moments and the normal limit).
pub fn rao_spacing(sample: &Directions) -> Result<Test, CircularError> {
    let n = sample.n();
    CircularError::unless_at_least(n, 3)?;
    let uncovered = uncovered(sample.sorted_deg());
    let (p, p_method) = tail(n, uncovered);
    Ok(Test {
        statistic: 360.0 * uncovered,
        p: Some(p),
        p_method,
    })
}

fn tail(n: usize, uncovered: f64) -> (f64, PMethod) {
    if n <= EXACT_UP_TO {
        (exact_tail(n, uncovered), PMethod::Exact)
    } else {
        (normal_tail(n, uncovered), PMethod::LargeSample)
    }
}

/// The part of the circle left bare by arcs of 1/n that start at each direction.
fn uncovered(sorted_deg: &[f64]) -> f64 {
    let n = sorted_deg.len();
    let even_deg = 360.0 / n as f64;
    let around_deg = sorted_deg[0] + 360.0 - sorted_deg[n - 1];
    let inner: f64 = sorted_deg
        .windows(2)
        .map(|pair| (pair[1] - pair[0] - even_deg).abs())
        .sum();
    0.5 * (inner + (around_deg - even_deg).abs()) / 360.0
}

/// Nodes and weights of Gauss's rule of eight points on −1 to 1 (the positive half).
///
/// Abramowitz & Stegun (1964), table 25.4.
const GAUSS: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_5),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_3),
];

/// P(u > uncovered), piece by piece between the knots j/n of the density.
fn exact_tail(n: usize, uncovered: f64) -> f64 {
    let size = n as f64;
    let density = Density::new(n);
    let end = 1.0 - 1.0 / size;
    let mut from = uncovered;
    let (mut tail, mut knot) = (0.0, (size * uncovered).floor() + 1.0);
    while from < end {
        let to = (knot / size).min(end);
        let piece = gauss(from, to, |u| density.at(u));
        tail += piece;
        // Past the mode the pieces only shrink.
        if piece < 1e-17 * tail && from > 0.5 {
            break;
        }
        from = to;
        knot += 1.0;
    }
    tail.min(1.0)
}

fn gauss(from: f64, to: f64, density: impl Fn(f64) -> f64) -> f64 {
    // A width left by rounding carries nothing.
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    let pairs = GAUSS
        .iter()
        .map(|(node, weight)| weight * (density(middle - half * node) + density(middle + half * node)));
    half * pairs.sum::<f64>()
}

/// The density of the uncovered part for one n.
struct Density {
    n: usize,
    /// Logarithms of (n−1)! C(n,k) n^(1−k) / (n−k−1)! for k = 1 … n−1.
    ln_factors: Vec<f64>,
}

impl Density {
    fn new(n: usize) -> Self {
        let ln_factorial = |count: usize| libm::lgamma(count as f64 + 1.0);
        let ln_n = (n as f64).ln();
        let ln_factor = |k: usize| {
            let choices = ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k);
            ln_factorial(n - 1) + choices + (1.0 - k as f64) * ln_n - ln_factorial(n - k - 1)
        };
        Self {
            n,
            ln_factors: (1..n).map(ln_factor).collect(),
        }
    }

    fn at(&self, u: f64) -> f64 {
        let x = self.n as f64 * u;
        let cell = x.floor();
        let (whole, part) = (cell as usize, x - cell);
        // sums[j] is the density of the sum of k uniform numbers at part + j.
        let mut sums = vec![0.0; whole + 1];
        sums[0] = 1.0;
        let mut total = 0.0;
        for k in 1..self.n {
            if k > 1 {
                add_one_uniform(&mut sums, k, part);
            }
            if sums[whole] > 0.0 {
                let power = (self.n - k - 1) as f64 * u.ln();
                total += (self.ln_factors[k - 1] + power).exp() * sums[whole];
            }
        }
        total
    }
}

/// From the densities of k − 1 summed uniform numbers to those of k, at part, part + 1, …:
/// hₖ(x) = (x hₖ₋₁(x) + (k − x) hₖ₋₁(x − 1)) / (k − 1).
fn add_one_uniform(sums: &mut [f64], k: usize, part: f64) {
    for j in (0..sums.len()).rev() {
        let x = part + j as f64;
        let below = if j > 0 { sums[j - 1] } else { 0.0 };
        sums[j] = (x * sums[j] + (k as f64 - x).max(0.0) * below) / (k - 1) as f64;
    }
}

/// Sherman's mean and variance of the uncovered part, and the normal tail beyond it.
fn normal_tail(n: usize, uncovered: f64) -> f64 {
    let size = n as f64;
    // Powers of 1 - 1/n and 1 - 2/n through logarithms, to keep their digits for a million directions.
    let bare = |arcs: f64, power: f64| (power * (-arcs / size).ln_1p()).exp();
    let mean = bare(1.0, size);
    let second = (2.0 * bare(1.0, size + 1.0) + (size - 1.0) * bare(2.0, size + 1.0)) / (size + 1.0);
    let sd = (second - mean * mean).sqrt();
    0.5 * libm::erfc((uncovered - mean) / (sd * std::f64::consts::SQRT_2))
}

/// p of a given U, for tests against tables.
#[cfg(test)]
pub(super) fn p_of(n: usize, degrees: f64) -> f64 {
    tail(n, degrees / 360.0).0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_density_holds_the_whole_probability() {
        for n in [3, 4, 8, 30, 100, 200] {
            let whole = exact_tail(n, 0.0);
            assert!((whole - 1.0).abs() < 1e-10, "n = {n}: {whole}");
        }
    }

    #[test]
    fn the_normal_limit_meets_the_exact_tail() {
        for degrees in [128.0, 132.0, 138.0, 142.0] {
            let (exact, normal) = (
                exact_tail(200, degrees / 360.0),
                normal_tail(200, degrees / 360.0),
            );
            assert!(
                (exact - normal).abs() < 0.01,
                "{degrees}: {exact} beside {normal}"
            );
        }
    }

    #[test]
    fn even_directions_have_no_spread_of_gaps_and_equal_ones_have_all() {
        let even: Vec<f64> = (0..9).map(|k| 40.0 * f64::from(k)).collect();
        let test = rao_spacing(&Directions::from_degrees(&even).unwrap()).unwrap();
        assert!(test.statistic.abs() < 1e-9 && (test.p.unwrap() - 1.0).abs() < 1e-9);
        let equal = rao_spacing(&Directions::from_degrees(&[77.0; 5]).unwrap()).unwrap();
        assert!((equal.statistic - 288.0).abs() < 1e-9);
        assert!(equal.p.unwrap() < 1e-9);
    }
}
