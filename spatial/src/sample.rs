//! What a row of measures tells of their mean and spread, and a belief that it is drawn towards.

/// Count, sum and sum of squares.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Sample {
    pub count: f64,
    pub sum: f64,
    sum_2: f64,
}

impl Sample {
    /// Adds a value, if it is one.
    pub fn add(&mut self, value: f64) {
        if value.is_finite() {
            self.count += 1.0;
            self.sum += value;
            self.sum_2 += value * value;
        }
    }

    /// Adds the deviations from the mean of values, widened as befits a sample.
    pub fn add_deviations(&mut self, values: impl Iterator<Item = f64>) {
        let values: Vec<f64> = values.filter(|value| value.is_finite()).collect();
        let count = values.len() as f64;
        if count < 2.0 {
            return;
        }
        let mean = values.iter().sum::<f64>() / count;
        for value in values {
            self.add((value - mean) * (count / (count - 1.0)).sqrt());
        }
    }

    /// This one and another.
    pub fn with(self, other: Self) -> Self {
        Self {
            count: self.count + other.count,
            sum: self.sum + other.sum,
            sum_2: self.sum_2 + other.sum_2,
        }
    }

    /// Mean and variance, as if `weight` values of a belief of this mean and standard deviation had been seen too.
    pub fn drawn_to(self, mean: f64, sd: f64, weight: f64) -> (f64, f64) {
        let count = self.count + weight;
        let drawn = (self.sum + weight * mean) / count;
        let mean_2 = (self.sum_2 + weight * (mean * mean + sd * sd)) / count;
        (drawn, mean_2 - drawn * drawn)
    }
}
