//! Permutations of group labels: all of them where they are few, else random ones.

use rand::seq::SliceRandom;

use super::{Chance, CircularError, Directions, PMethod};

/// Up to so many arrangements are all tried.
const MOST_TRIED: f64 = 200_000.0;

/// Several groups pooled: directions ascending, each with the number of its group.
pub(super) struct Pooled {
    /// Degrees, ascending.
    pub azimuths_deg: Vec<f64>,
    /// The group of each.
    pub labels: Vec<u16>,
    /// The size of each group.
    pub sizes: Vec<usize>,
}

impl Pooled {
    /// Pools two or more groups, each with at least `least` directions.
    pub fn new(groups: &[&Directions], least: usize) -> Result<Self, CircularError> {
        if groups.len() < 2 {
            return Err(CircularError::TooFewGroups { groups: groups.len() });
        }
        let kind = groups[0].kind();
        if groups.iter().any(|group| group.kind() != kind) {
            return Err(CircularError::MixedKinds);
        }
        for group in groups {
            CircularError::unless_at_least(group.n(), least)?;
        }
        let mut all: Vec<(f64, u16)> = Vec::new();
        for (label, group) in (0u16..).zip(groups) {
            all.extend(group.sorted_deg().iter().map(|deg| (*deg, label)));
        }
        all.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.cmp(&other.1)));
        Ok(Self {
            azimuths_deg: all.iter().map(|(deg, _)| *deg).collect(),
            labels: all.iter().map(|(_, label)| *label).collect(),
            sizes: groups.iter().map(|group| group.n()).collect(),
        })
    }

    /// The share of arrangements of the labels whose statistic is at least as great as the observed one.
    pub fn p(&self, statistic: impl Fn(&[u16]) -> f64 + Sync, chance: &Chance) -> (f64, PMethod) {
        let observed = statistic(&self.labels);
        // Arrangements that tie with the observed one differ from it by rounding only.
        let enough = observed - 1e-9 * observed.abs().max(1e-3);
        if self.ln_arrangements() <= MOST_TRIED.ln() {
            return self.over_all(|labels| statistic(labels) >= enough);
        }
        chance.permutation(
            || self.labels.clone(),
            |rng, labels| {
                labels.shuffle(rng);
                statistic(labels) >= enough
            },
        )
    }

    fn ln_arrangements(&self) -> f64 {
        let ln_factorial = |count: usize| libm::lgamma(count as f64 + 1.0);
        ln_factorial(self.labels.len()) - self.sizes.iter().map(|size| ln_factorial(*size)).sum::<f64>()
    }

    fn over_all(&self, reaches: impl Fn(&[u16]) -> bool) -> (f64, PMethod) {
        let mut labels = self.labels.clone();
        labels.sort_unstable();
        let (mut reached, mut arrangements) = (0u64, 0u64);
        loop {
            arrangements += 1;
            reached += u64::from(reaches(&labels));
            if !next_arrangement(&mut labels) {
                break;
            }
        }
        let method = PMethod::AllArrangements { arrangements };
        (reached as f64 / arrangements as f64, method)
    }
}

/// The next arrangement in the order of the alphabet; false after the last.
///
/// Knuth, D. E. (2011), The Art of Computer Programming 4A, algorithm 7.2.1.2 L.
fn next_arrangement(labels: &mut [u16]) -> bool {
    let Some(at) = labels.windows(2).rposition(|pair| pair[0] < pair[1]) else {
        return false;
    };
    let with = labels
        .iter()
        .rposition(|label| *label > labels[at])
        .expect("the next one is greater");
    labels.swap(at, with);
    labels[at + 1..].reverse();
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_arrangements_are_met_once() {
        let mut labels = [0, 0, 1, 1, 2];
        let mut seen = std::collections::HashSet::from([labels]);
        while next_arrangement(&mut labels) {
            assert!(seen.insert(labels));
        }
        assert_eq!(seen.len(), 30);
    }

    #[test]
    fn the_order_of_a_single_extreme_arrangement() {
        // Five against five, all of one group below: one of 252 arrangements in each direction.
        let low = Directions::from_degrees(&[1.0, 2.0, 3.0, 4.0, 5.0]).unwrap();
        let high = Directions::from_degrees(&[11.0, 12.0, 13.0, 14.0, 15.0]).unwrap();
        let pooled = Pooled::new(&[&low, &high], 1).unwrap();
        let rank_sum = |labels: &[u16]| {
            labels
                .iter()
                .zip(1..)
                .map(|(label, rank)| f64::from(*label) * f64::from(rank))
                .sum()
        };
        let (p, method) = pooled.p(rank_sum, &Chance::default());
        assert!((p - 1.0 / 252.0).abs() < 1e-15);
        assert_eq!(method, PMethod::AllArrangements { arrangements: 252 });
    }

    #[test]
    fn one_group_and_mixed_kinds_are_refused() {
        let group = Directions::from_degrees(&[1.0]).unwrap();
        let axes = Directions::axes_from_degrees(&[1.0]).unwrap();
        assert_eq!(
            Pooled::new(&[&group], 1).err(),
            Some(CircularError::TooFewGroups { groups: 1 })
        );
        assert_eq!(
            Pooled::new(&[&group, &axes], 1).err(),
            Some(CircularError::MixedKinds)
        );
        assert_eq!(
            Pooled::new(&[&group, &group], 2).err(),
            Some(CircularError::TooFew { n: 1, least: 2 })
        );
    }
}
