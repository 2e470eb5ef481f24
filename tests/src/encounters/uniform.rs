//! Whether p are spread evenly where chance alone is at work.

use serde::Serialize;
use std::fmt;

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
    /// Tests them. They are multiples of `step`, which is 1 / (B + 1) of p that rest on B permutations, and 0 where p can
    /// be any number.
    ///
    /// # Formula
    /// D = max |F(p) − p| over the values that p can have; below p the next of them is p − step.
    ///
    /// # References
    /// Conover, W. J. (1972), Journal of the American Statistical Association 67, 591-596 (from memory): of values that come in
    /// steps, D is sought at the steps.
    #[must_use]
    pub fn of(mut p: Vec<f64>, step: f64) -> Self {
        p.sort_by(f64::total_cmp);
        let count = p.len() as f64;
        let mut below = 0.0;
        let off = (p.chunk_by(|one, next| next - one < step / 2.0 || one == next))
            .map(|equal| {
                let (at, before) = (equal[0], below / count);
                below += equal.len() as f64;
                (at - step - before).abs().max((at - below / count).abs())
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

/// Many tests of even spread taken together: of so many, some show by chance alone what one would hardly.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Family {
    /// How many.
    pub count: usize,
    /// The least of their KS p.
    pub least_ks_p: f64,
    /// How often the least of so many is as small where all are even.
    pub as_small: f64,
    /// How many have fewer than 3 or more than 7 % of p within 0.05.
    pub uneven_at_5: usize,
}

impl Family {
    /// # Formula
    /// 1 − (1 − least)^n.
    ///
    /// # References
    /// Šidák, Z. (1967), Journal of the American Statistical Association 62, 626-633 (from memory).
    pub fn of<'u>(all: impl IntoIterator<Item = &'u Uniform>) -> Self {
        let (mut count, mut least_ks_p, mut uneven_at_5) = (0, 1.0f64, 0);
        for one in all {
            count += 1;
            least_ks_p = least_ks_p.min(one.ks_p);
            uneven_at_5 += usize::from(!(0.03..=0.07).contains(&one.at_most_5));
        }
        Self {
            count,
            least_ks_p,
            as_small: 1.0 - (1.0 - least_ks_p).powi(i32::try_from(count).unwrap_or(i32::MAX)),
            uneven_at_5,
        }
    }
}

impl fmt::Display for Family {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            out,
            "of {} tests of even spread the least KS p is {:.4}; the least of so many even ones is as small in {:.0} % of runs; {} have a \
             part within 0.05 outside 0.03 to 0.07",
            self.count,
            self.least_ks_p,
            100.0 * self.as_small,
            self.uneven_at_5
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_p_pass_and_others_do_not() {
        let even: Vec<f64> = (0..500).map(|no| (f64::from(no) + 0.5) / 500.0).collect();
        assert!(Uniform::of(even.clone(), 0.0).ks_p > 0.99);
        let small = Uniform::of(even.iter().map(|p| p * p).collect(), 0.0);
        assert!(small.ks_p < 1e-6 && small.at_most_5 > 0.2, "{small:?}");
        // As many of each of the values that nine permutations can give.
        let steps: Vec<f64> = (0..500).map(|no| f64::from(no % 10 + 1) / 10.0).collect();
        assert!(Uniform::of(steps.clone(), 0.1).ks_p > 0.999);
        assert!(
            Uniform::of(steps.clone(), 0.0).ks_p < 1e-3,
            "were they any numbers"
        );
        let none_small = steps.into_iter().map(|p| p.max(0.3)).collect();
        assert!(Uniform::of(none_small, 0.1).ks_p < 1e-6);
        // 1.358 is the 5 % point of Kolmogorov's distribution (from memory).
        assert!((ks_p(1.358 / 1e4, 1e8) - 0.05).abs() < 2e-4);
    }

    #[test]
    fn the_least_of_many_is_no_wonder() {
        let even: Vec<f64> = (0..500).map(|no| (f64::from(no) + 0.5) / 500.0).collect();
        let one = |ks_p| Uniform {
            ks_p,
            ..Uniform::of(even.clone(), 0.0)
        };
        let many: Vec<Uniform> = (0..60).map(|no| one(if no == 7 { 0.01 } else { 0.5 })).collect();
        let family = Family::of(&many);
        assert_eq!((family.count, family.uneven_at_5), (60, 0));
        // 1 - 0.99^60 = 0.4528.
        assert!((family.as_small - 0.4528).abs() < 1e-4, "{family}");
        assert!((Family::of(&many[7..8]).as_small - 0.01).abs() < 1e-9);
    }
}
