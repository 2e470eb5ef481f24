//! Means with their spread.

/// A mean, its standard deviation and how many values it rests on.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Summary {
    /// The mean; `None` where there is no value.
    pub mean: Option<f64>,
    /// The sample standard deviation (n − 1 below); `None` with fewer than two values.
    pub sd: Option<f64>,
    /// How many values there are.
    pub n: usize,
}

impl Summary {
    /// Sums up values, in two passes so that large means do not swallow small spreads.
    pub(super) fn of(values: impl Iterator<Item = f64> + Clone) -> Self {
        let n = values.clone().count();
        if n == 0 {
            return Self::default();
        }
        let mean = values.clone().sum::<f64>() / n as f64;
        let squares: f64 = values.map(|value| (value - mean).powi(2)).sum();
        Self {
            mean: Some(mean),
            sd: (n > 1).then(|| (squares / (n - 1) as f64).sqrt()),
            n,
        }
    }

    /// Shifts the mean, the spread staying as it is.
    pub(super) fn shifted(self, by: f64) -> Self {
        Self {
            mean: self.mean.map(|mean| mean + by),
            ..self
        }
    }
}

/// The middle value, or the mean of the two middle ones; `None` for no values.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() {
        0 => None,
        count if count % 2 == 1 => Some(values[middle]),
        _ => Some((values[middle - 1] + values[middle]) / 2.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_none_of_one_and_of_three() {
        assert_eq!(Summary::of([].into_iter()), Summary::default());
        let one = Summary::of([4.0].into_iter());
        assert_eq!((one.mean, one.sd, one.n), (Some(4.0), None, 1));
        let three = Summary::of([1.0, 2.0, 3.0].into_iter());
        assert_eq!((three.mean, three.sd, three.n), (Some(2.0), Some(1.0), 3));
        let alike = Summary::of([7.5; 9].into_iter());
        assert_eq!(alike.sd, Some(0.0));
    }

    #[test]
    fn the_middle_of_even_and_odd() {
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [4.0, 1.0]), Some(2.5));
    }
}
