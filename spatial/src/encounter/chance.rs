//! A statistic among those that chance gives, and false discoveries.

use rayon::prelude::*;
use serde::Serialize;

/// What stands against chance, and how well.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Chance {
    /// What was measured; the larger, the less like chance.
    pub statistic: f64,
    /// What chance gives.
    pub null_quantiles: Quantiles,
    /// The probability that chance gives a statistic at least as large.
    pub p: f64,
    /// The part of false discoveries among all findings with a p as small (Benjamini and Hochberg).
    pub p_corrected: f64,
    /// How many were tried.
    pub tried: usize,
}

/// Quantiles of what chance gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Quantiles {
    /// Half of it is smaller.
    pub q50: f64,
    /// 95 in 100 are smaller.
    pub q95: f64,
    /// 99 in 100 are smaller.
    pub q99: f64,
}

/// All statistics that chance gave, also those that were so small that nobody computed them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Null {
    /// Ascending.
    given: Vec<f64>,
    /// How many there are with those that are smaller than all that are given.
    all: usize,
}

impl Null {
    /// `given` are those that were computed, `all` counts the others too, which are `floor` at most.
    pub fn of(mut given: Vec<f64>, all: usize) -> Self {
        given.par_sort_unstable_by(f64::total_cmp);
        Self {
            all: all.max(given.len()),
            given,
        }
    }

    /// The probability of a statistic at least as large, the one that is asked about counted in.
    ///
    /// # Formula
    /// p = (1 + #{null ≥ t}) / (1 + N).
    ///
    /// # References
    /// Davison, A. C. & Hinkley, D. V. (1997), Bootstrap Methods and their Application, section 4.2.5 (from memory).
    pub fn p(&self, statistic: f64) -> f64 {
        let smaller = self.given.partition_point(|null| *null < statistic);
        (1 + self.given.len() - smaller) as f64 / (1 + self.all) as f64
    }

    /// The quantiles; what nobody computed counts as `floor`.
    pub fn quantiles(&self, floor: f64) -> Quantiles {
        let unseen = self.all - self.given.len();
        let at = |part: f64| {
            let rank = (part * self.all as f64).ceil().max(1.0) as usize - 1;
            rank.checked_sub(unseen)
                .map_or(floor, |place| self.given.get(place).copied().unwrap_or(floor))
        };
        Quantiles {
            q50: at(0.5),
            q95: at(0.95),
            q99: at(0.99),
        }
    }
}

/// The smallest part of false discoveries at which each finding would be told; `tried` counts those too that were
/// not looked at because their p is large.
///
/// # Formula
/// With the p in ascending order, qᵢ = min over j ≥ i of min(1, m pⱼ / j), m the number tried.
///
/// # References
/// Benjamini, Y. & Hochberg, Y. (1995), Controlling the false discovery rate, Journal of the Royal Statistical
/// Society B 57, 289-300.
pub(super) fn false_discoveries(p: &[f64], tried: usize) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|a, b| p[*b].total_cmp(&p[*a]));
    let (mut corrected, mut least) = (vec![1.0; p.len()], 1.0f64);
    for (from_last, place) in order.into_iter().enumerate() {
        let rank = p.len() - from_last;
        least = least.min(p[place] * tried.max(p.len()) as f64 / rank as f64);
        corrected[place] = least;
    }
    corrected
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn p_counts_what_nobody_computed() {
        let null = Null::of(vec![3.0, 1.0, 2.0], 9);
        assert_eq!(null.p(2.0), 0.3);
        assert_eq!(null.p(4.0), 0.1);
        assert_eq!(null.p(0.5), 0.4);
        let quantiles = null.quantiles(0.0);
        assert_eq!((quantiles.q50, quantiles.q95), (0.0, 3.0));
        assert_eq!(Null::of(Vec::new(), 0).p(1.0), 1.0);
    }

    /// The worked example of Benjamini & Hochberg (1995), section 3.2, fifteen hypotheses: at 0.05 the first four
    /// are rejected (values from memory).
    #[test]
    fn false_discoveries_of_the_worked_example() {
        let p = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
            0.6528, 0.7590, 1.0,
        ];
        let corrected = false_discoveries(&p, p.len());
        assert_eq!(corrected.iter().filter(|q| **q <= 0.05).count(), 4);
        assert!((corrected[0] - 0.0015).abs() < 1e-12);
        assert!(corrected.windows(2).all(|pair| pair[0] <= pair[1]));
        // Those not looked at make the others less sure.
        assert!((false_discoveries(&p[..1], 100)[0] - 0.01).abs() < 1e-12);
    }
}
