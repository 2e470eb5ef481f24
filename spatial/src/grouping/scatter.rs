//! How a measure scatters about the mean of its row, by how many of the row's prints are known.

use std::f64::consts::TAU;

/// Count and sum of a measure over the prints of a row.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Mean {
    count: u32,
    sum: f64,
}

impl Mean {
    pub fn add(&mut self, value: f64) {
        self.count += 1;
        self.sum += value;
    }

    pub fn is_empty(self) -> bool {
        self.count == 0
    }
}

/// What is expected of a further value after so many.
#[derive(Debug, Clone, Copy)]
struct After {
    /// What the sum so far is multiplied by for the mean.
    per_weight: f64,
    /// Half of one over the variance, and the density at the mean.
    half_per_variance: f64,
    peak: f64,
}

/// Most rows are no longer than this; for longer ones the same is computed anew each time.
const MOST: usize = 48;

/// Minus the logarithm of a density that is no more than rounding.
const FAR: f64 = 45.0;

/// Single values vary by `sd` about a mean that is about zero itself or not known at all.
#[derive(Debug, Clone)]
pub(super) struct Scatter {
    pub sd: f64,
    /// How many values what is known beforehand of the mean stands for.
    weight: f64,
    after: Box<[After; MOST]>,
}

impl Scatter {
    /// About a mean that is zero, give or take `mean_sd`; `None` for a mean of which nothing is known.
    pub fn new(sd: f64, mean_sd: Option<f64>) -> Self {
        let weight = mean_sd.map_or(0.0, |mean_sd| (sd / mean_sd).powi(2));
        Self {
            sd,
            weight,
            after: Box::new(std::array::from_fn(|count| After::of(sd, count as f64 + weight))),
        }
    }

    /// The density of a further value.
    pub fn density(&self, so_far: Mean, value: f64) -> f64 {
        let after = match self.after.get(so_far.count as usize) {
            Some(after) => *after,
            None => After::of(self.sd, f64::from(so_far.count) + self.weight),
        };
        let off = value - so_far.sum * after.per_weight;
        let far = off * off * after.half_per_variance;
        // Beyond that nothing is left of it beside the part of measures that fit nothing.
        if far > FAR { 0.0 } else { (-far).exp() * after.peak }
    }
}

impl After {
    fn of(sd: f64, weight: f64) -> Self {
        let per_weight = 1.0 / weight;
        let per_variance = 1.0 / (sd * sd * (1.0 + per_weight));
        Self {
            per_weight,
            half_per_variance: per_variance / 2.0,
            peak: (per_variance / TAU).sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_density_adds_up_to_one_however_many_were_seen() {
        for (count, mean_sd) in [
            (0, Some(0.25)),
            (1, None),
            (47, None),
            (48, None),
            (200, Some(0.25)),
        ] {
            let scatter = Scatter::new(0.1, mean_sd);
            let mut mean = Mean::default();
            (0..count).for_each(|_| mean.add(0.3));
            let densities = (-3000..3000).map(|at| scatter.density(mean, f64::from(at) * 1e-3));
            let whole = densities.sum::<f64>() * 1e-3;
            assert!((whole - 1.0).abs() < 1e-6, "{whole} after {count}");
        }
    }

    #[test]
    fn what_was_seen_draws_what_is_expected_to_it() {
        let scatter = Scatter::new(0.1, Some(0.1));
        let mut mean = Mean::default();
        mean.add(0.4);
        // As well known as one value: half way between zero and what was seen.
        assert!(scatter.density(mean, 0.2) > scatter.density(mean, 0.19));
        assert!(scatter.density(mean, 0.2) > scatter.density(mean, 0.21));
    }
}
