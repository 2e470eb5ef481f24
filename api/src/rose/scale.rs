//! The scale: how far out a count lies, and the rings that let a reader read it off.

/// What rings count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Measure {
    /// Directions.
    Count,
    /// Hundredths of a group.
    Percent,
}

impl Measure {
    /// The amount that a sector shows.
    pub(super) fn amount(self, count: usize, n: usize) -> f64 {
        match self {
            Self::Count => count as f64,
            Self::Percent => 100.0 * count as f64 / n.max(1) as f64,
        }
    }

    /// What stands behind a number.
    pub(super) fn unit(self) -> &'static str {
        match self {
            Self::Count => "",
            Self::Percent => "%",
        }
    }
}

/// A scale that all roses of a figure share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    pub(super) measure: Measure,
    step: usize,
    rings: usize,
}

impl Scale {
    /// The scale whose outermost ring, the rim, is the least round amount that no sector passes; it has no more than
    /// so many rings. `None` where no sector holds anything.
    pub(super) fn of(measure: Measure, largest: f64, most_rings: usize) -> Option<Self> {
        // At the edge of a percent rounding must not open another ring.
        let needed = |step: usize| (largest / step as f64 - 1e-9).ceil() as usize;
        let mut steps = (0..18).flat_map(|decade| [1, 2, 5].map(|digit| digit * 10usize.pow(decade)));
        let step = steps.find(|step| needed(*step) <= most_rings)?;
        (largest > 0.0).then(|| Self {
            measure,
            step,
            rings: needed(step).max(1),
        })
    }

    /// The radius of an amount where the rim has a radius: areas grow with amounts, so radii with their roots.
    pub(super) fn radius(&self, amount: f64, rim: f64) -> f64 {
        rim * (amount / self.at_rim() as f64).sqrt()
    }

    /// The amount of the rim.
    pub(super) fn at_rim(&self) -> usize {
        self.step * self.rings
    }

    /// The amounts of the rings, the innermost first, with the rim's.
    pub(super) fn rings(&self) -> impl DoubleEndedIterator<Item = usize> {
        let step = self.step;
        (1..=self.rings).map(move |ring| ring * step)
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::config;
    use super::*;
    use proptest::prelude::*;

    fn rings(measure: Measure, largest: f64, most: usize) -> Vec<usize> {
        Scale::of(measure, largest, most).map_or(Vec::new(), |scale| scale.rings().collect())
    }

    #[test]
    fn rings_are_few_and_round_and_the_rim_is_not_passed() {
        assert_eq!(rings(Measure::Count, 1.0, 5), [1]);
        assert_eq!(rings(Measure::Count, 5.0, 5), [1, 2, 3, 4, 5]);
        assert_eq!(rings(Measure::Count, 7.0, 5), [2, 4, 6, 8]);
        assert_eq!(rings(Measure::Count, 26.0, 4), [10, 20, 30]);
        assert_eq!(
            rings(Measure::Count, 1e6, 5),
            [200_000, 400_000, 600_000, 800_000, 1_000_000]
        );
        assert_eq!(rings(Measure::Percent, 100.0, 4), [50, 100]);
        assert_eq!(rings(Measure::Percent, 100.0 * 0.07 / 0.07, 4), [50, 100]);
        assert_eq!(rings(Measure::Percent, 0.6, 4), [1]);
        assert!(rings(Measure::Count, 0.0, 5).is_empty());
    }

    proptest! {
        #![proptest_config(config(200))]

        #[test]
        fn areas_grow_with_amounts(largest in 1usize..2_000_000, part in 1usize..1000, most in 3usize..6) {
            let scale = Scale::of(Measure::Count, largest as f64, most).unwrap();
            let area = |amount: f64| scale.radius(amount, 150.0).powi(2);
            let part = part.min(largest) as f64;
            prop_assert!((area(part) / area(1.0) / part - 1.0).abs() < 1e-9);
            prop_assert!(scale.rings().count() <= most);
            prop_assert!((scale.radius(scale.at_rim() as f64, 150.0) - 150.0).abs() < 1e-9);
            prop_assert!(scale.radius(largest as f64, 150.0) < 150.0 + 1e-9);
            prop_assert!(largest as f64 / scale.at_rim() as f64 > 0.3, "the rim is not far out");
        }
    }
}
