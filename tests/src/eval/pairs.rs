//! Pairs of prints: are those put into one trackway truly of one animal, and in the right order?

use serde::Serialize;
use spatial::index::PrintNo;
use spatial::simulate::Origin;
use std::collections::BTreeMap;

/// How far groups of prints agree with the truth on one surface.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Agreement {
    /// Of pairs put into one trackway, the part that truly are of one.
    pub precision: f64,
    /// Of pairs truly of one trackway, the part put into one.
    pub recall: f64,
    /// The harmonic mean of precision and recall.
    pub f1: f64,
    /// Of pairs rightly put together and of different steps, the part in the right order, read in the better direction.
    pub order: f64,
    /// Of trackways, the part walked in the direction given.
    pub direction: f64,
}

impl Agreement {
    /// Compares groups, each in walking order, with the truth.
    #[must_use]
    pub fn of(groups: &[Vec<PrintNo>], truth: &[Option<Origin>]) -> Self {
        let (mut right, mut put) = (0.0, 0.0);
        for group in groups {
            put += pairs(group.len());
            let mut shares: BTreeMap<u32, usize> = BTreeMap::new();
            for origin in group.iter().filter_map(|no| truth[*no as usize]) {
                *shares.entry(origin.trackway).or_default() += 1;
            }
            right += shares.into_values().map(pairs).sum::<f64>();
        }
        let precision = ratio(right, put);
        let recall = ratio(right, true_pairs(truth));
        let (order, direction) = order_and_direction(groups, truth);
        Self {
            precision,
            recall,
            f1: ratio(2.0 * precision * recall, precision + recall),
            order,
            direction,
        }
    }
}

fn pairs(count: usize) -> f64 {
    (count * count.saturating_sub(1) / 2) as f64
}

fn ratio(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { part / whole } else { 0.0 }
}

fn true_pairs(truth: &[Option<Origin>]) -> f64 {
    let mut sizes: BTreeMap<u32, usize> = BTreeMap::new();
    for origin in truth.iter().flatten() {
        *sizes.entry(origin.trackway).or_default() += 1;
    }
    sizes.into_values().map(pairs).sum()
}

fn order_and_direction(groups: &[Vec<PrintNo>], truth: &[Option<Origin>]) -> (f64, f64) {
    let (mut in_order, mut all, mut forward, mut judged) = (0.0, 0.0, 0.0, 0.0);
    for group in groups {
        let (mut rising, mut falling) = (0.0, 0.0);
        for (at, one) in group.iter().enumerate() {
            for other in &group[at + 1..] {
                let (Some(a), Some(b)) = (truth[*one as usize], truth[*other as usize]) else {
                    continue;
                };
                if a.trackway == b.trackway && a.step != b.step {
                    if a.step < b.step {
                        rising += 1.0
                    } else {
                        falling += 1.0
                    }
                }
            }
        }
        if rising + falling > 0.0 {
            in_order += f64::max(rising, falling);
            all += rising + falling;
            forward += f64::from(rising > falling);
            judged += 1.0;
        }
    }
    (ratio(in_order, all), ratio(forward, judged))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn origin(trackway: u32, step: u32) -> Option<Origin> {
        Some(Origin {
            trackway,
            step,
            fore: false,
        })
    }

    #[test]
    fn a_small_case_by_hand() {
        // Two trackways of three and two prints, one single print; one group takes the single print in, one print is left out.
        let truth = [
            origin(0, 0),
            origin(0, 1),
            origin(0, 2),
            origin(1, 0),
            origin(1, 1),
            None,
        ];
        let agreement = Agreement::of(&[vec![2, 1, 5], vec![3, 4]], &truth);
        // Put together: 3 + 1 pairs, right: 1 + 1; truly together: 3 + 1.
        assert!((agreement.precision - 0.5).abs() < 1e-12);
        assert!((agreement.recall - 0.5).abs() < 1e-12);
        assert!((agreement.order - 1.0).abs() < 1e-12);
        assert!((agreement.direction - 0.5).abs() < 1e-12);
    }

    #[test]
    fn nothing_grouped_is_no_success() {
        let agreement = Agreement::of(&[], &[origin(0, 0), origin(0, 1)]);
        assert_eq!(
            (agreement.precision, agreement.recall, agreement.f1),
            (0.0, 0.0, 0.0)
        );
    }
}
