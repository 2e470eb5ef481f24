//! Each two of several groups beside each other.

use rayon::prelude::*;
use serde::Serialize;

use super::{Chance, Directions, Outcome, watson_two_sample};

/// Two groups, by their places in the list, and whether they share one distribution.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairTest {
    /// The one.
    pub first: usize,
    /// The other.
    pub second: usize,
    /// Watson's two-sample U².
    pub watson_two_sample: Outcome,
    /// Its p, corrected for the number of pairs that were tried.
    pub p_corrected: Option<f64>,
}

/// Watson's two-sample test of each two groups, with p corrected for their number.
///
/// # Formula
/// Holm: with the p in ascending order, pᵢ′ = max over j ≤ i of min(1, (m − j + 1) pⱼ), m the number of tests made.
///
/// # References
/// Holm, S. (1979), A simple sequentially rejective multiple test procedure, Scandinavian Journal of Statistics 6,
/// 65-70.
#[must_use]
pub fn pairs(groups: &[&Directions], chance: &Chance) -> Vec<PairTest> {
    let pairs: Vec<(usize, usize)> = (0..groups.len())
        .flat_map(|first| (first + 1..groups.len()).map(move |second| (first, second)))
        .collect();
    let mut tests: Vec<PairTest> = pairs
        .into_par_iter()
        .map(|(first, second)| PairTest {
            first,
            second,
            watson_two_sample: watson_two_sample(groups[first], groups[second], chance).into(),
            p_corrected: None,
        })
        .collect();
    let mut made: Vec<(usize, f64)> = tests
        .iter()
        .enumerate()
        .filter_map(|(place, test)| Some((place, test.watson_two_sample.p()?)))
        .collect();
    made.sort_by(|one, other| one.1.total_cmp(&other.1));
    let mut least = 0.0f64;
    for (rank, (place, p)) in made.iter().enumerate() {
        least = least.max(p * (made.len() - rank) as f64).min(1.0);
        tests[*place].p_corrected = Some(least);
    }
    tests
}

#[cfg(test)]
mod tests {
    use super::*;

    fn around(middle_deg: f64) -> Directions {
        let azimuths: Vec<f64> = (0..8)
            .map(|k| middle_deg + 3.0 * f64::from(k) + 0.1 * middle_deg)
            .collect();
        Directions::from_degrees(&azimuths).unwrap()
    }

    #[test]
    fn three_groups_have_three_pairs_and_corrected_p() {
        let (a, b, c) = (around(10.0), around(12.0), around(170.0));
        let one = Directions::from_degrees(&[5.0]).unwrap();
        let chance = Chance::default();
        let tests = pairs(&[&a, &b, &c, &one], &chance);
        let between: Vec<(usize, usize)> = tests.iter().map(|test| (test.first, test.second)).collect();
        assert_eq!(between, [(0, 1), (0, 2), (0, 3), (1, 2), (1, 3), (2, 3)]);
        // By hand: of three p, the smallest counts three times, the next twice, the largest once; none below the one before.
        let p: Vec<f64> = [0, 1, 3]
            .map(|place: usize| tests[place].watson_two_sample.p().unwrap())
            .into();
        assert!(p[0] > 0.05 && p[1] < 0.01 && p[2] < 0.01, "{p:?}");
        let (low, high) = (p[1].min(p[2]), p[1].max(p[2]));
        let first = (3.0 * low).min(1.0);
        let second = (2.0 * high).max(first);
        let corrected: Vec<f64> = [0, 1, 3]
            .map(|place: usize| tests[place].p_corrected.unwrap())
            .into();
        assert!((corrected[1].min(corrected[2]) - first).abs() < 1e-12);
        assert!((corrected[1].max(corrected[2]) - second).abs() < 1e-12);
        assert!((corrected[0] - p[0].max(second)).abs() < 1e-12);
        // One direction is no group: no test, and none that counts.
        assert_eq!(tests[2].p_corrected, None);
    }

    #[test]
    fn fewer_than_two_groups_have_no_pairs() {
        assert!(pairs(&[], &Chance::default()).is_empty());
        assert!(pairs(&[&around(1.0)], &Chance::default()).is_empty());
    }
}
