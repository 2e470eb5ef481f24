//! Whether p are spread evenly where chance alone is at work.

use serde::Serialize;

/// Some p of surfaces without encounters, and whether they are spread evenly between 0 and 1.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Uniform {
    /// How many.
    pub count: usize,
    /// The part of them that is 0.05 or less; 0.05 is right.
    pub at_most_5: f64,
    /// The p of Kolmogorov's and Smirnov's test of their even spread.
    pub ks_p: f64,
    /// The part of them in each tenth from 0 to 1; 0.1 each is right.
    pub tenths: [f64; 10],
}

impl Uniform {
    /// Tests them.
    #[must_use]
    pub fn of(mut p: Vec<f64>) -> Self {
        p.sort_by(f64::total_cmp);
        let count = p.len() as f64;
        let off = (p.iter().enumerate())
            .map(|(no, p)| {
                (p - no as f64 / count)
                    .abs()
                    .max(((no + 1) as f64 / count - p).abs())
            })
            .fold(0.0, f64::max);
        Self {
            count: p.len(),
            at_most_5: p.iter().filter(|p| **p <= 0.05).count() as f64 / count,
            ks_p: ks_p(off, count),
            tenths: std::array::from_fn(|tenth| {
                let inside = |p: &&f64| (**p * 10.0).ceil() as usize == tenth + 1;
                p.iter().filter(inside).count() as f64 / count
            }),
        }
    }
}

/// # Formula
/// Q(λ) = 2 Σ (−1)^(k−1) exp(−2 k² λ²), λ = (√n + 0.12 + 0.11 / √n) D.
///
/// # References
/// Stephens, M. A. (1970), Journal of the Royal Statistical Society B 32, 115-122 (from memory).
fn ks_p(off: f64, count: f64) -> f64 {
    let lambda = (count.sqrt() + 0.12 + 0.11 / count.sqrt()) * off;
    if lambda < 0.2 {
        return 1.0;
    }
    let term = |k: i32| -2.0 * (-1f64).powi(k) * (-2.0 * (f64::from(k) * lambda).powi(2)).exp();
    (1..=100).map(term).sum::<f64>().clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_p_pass_and_others_do_not() {
        let even: Vec<f64> = (0..500).map(|no| (f64::from(no) + 0.5) / 500.0).collect();
        assert!(Uniform::of(even.clone()).ks_p > 0.99);
        let small = Uniform::of(even.iter().map(|p| p * p).collect());
        assert!(small.ks_p < 1e-6 && small.at_most_5 > 0.2, "{small:?}");
        // 1.358 is the 5 % point of Kolmogorov's distribution (from memory).
        assert!((ks_p(1.358 / 1e4, 1e8) - 0.05).abs() < 2e-4);
    }
}
