//! Are links given 0.8 right in about 80 of 100 cases?

use serde::Serialize;
use spatial::grouping::Grouping;
use spatial::simulate::Origin;
use std::collections::{BTreeMap, BTreeSet};

/// How many classes of probability there are, all of one width.
const CLASSES: usize = 10;

/// Probabilities beside what came true, by classes of probability.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Calibration {
    /// For each class: how many, the mean probability given, and the part that is right.
    pub bins: Vec<Bin>,
}

/// One class of probability.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Bin {
    /// From this probability.
    pub from: f64,
    /// To this one.
    pub to: f64,
    /// How many were given a probability between them.
    pub count: f64,
    /// The mean of these.
    pub given: f64,
    /// The part of them that is right.
    pub right: f64,
}

impl Calibration {
    /// Sorts cases of a probability and what came true into classes.
    #[must_use]
    pub fn of(cases: &[(f64, bool)]) -> Self {
        let width = 1.0 / CLASSES as f64;
        let class_of = |p: f64| ((p / width) as usize).min(CLASSES - 1);
        let bins = (0..CLASSES).map(|class| {
            let inside: Vec<&(f64, bool)> = cases.iter().filter(|(p, _)| class_of(*p) == class).collect();
            let count = inside.len() as f64;
            Bin {
                from: class as f64 * width,
                to: (class + 1) as f64 * width,
                count,
                given: inside.iter().map(|(p, _)| p).sum::<f64>() / count.max(1.0),
                right: inside.iter().filter(|(_, right)| *right).count() as f64 / count.max(1.0),
            }
        });
        let bins = bins.collect();
        Self { bins }
    }

    /// Classes of several kinds of surfaces together, as if all their cases had been sorted at once.
    #[must_use]
    pub fn together(all: &[&Self]) -> Self {
        let mut bins = Self::of(&[]).bins;
        for other in all.iter().flat_map(|one| &one.bins) {
            let class = bins.iter_mut().find(|bin| (bin.from - other.from).abs() < 1e-9);
            if let Some(bin) = class.filter(|_| other.count > 0.0) {
                let count = bin.count + other.count;
                bin.given = (bin.given * bin.count + other.given * other.count) / count;
                bin.right = (bin.right * bin.count + other.right * other.count) / count;
                bin.count = count;
            }
        }
        Self { bins }
    }

    /// The expected calibration error: the mean distance of what was given from what came true, each class by its count.
    #[must_use]
    pub fn error(&self) -> f64 {
        let all: f64 = self.bins.iter().map(|bin| bin.count).sum();
        self.bins
            .iter()
            .map(|bin| bin.count * (bin.given - bin.right).abs())
            .sum::<f64>()
            / all.max(1.0)
    }
}

/// Each link's probability, and whether its two prints truly follow one another.
///
/// Two prints of one limb do when no recorded print of their trackway and limb has a step between theirs; a pes and a manus
/// do when no recorded print of their trackway has, and those of one set follow each other.
#[must_use]
pub fn links(grouping: &Grouping, truth: &[Option<Origin>]) -> Vec<(f64, bool)> {
    let mut steps: BTreeMap<(u32, bool), BTreeSet<u32>> = BTreeMap::new();
    for origin in truth.iter().flatten() {
        let of_limb = steps.entry((origin.trackway, origin.fore)).or_default();
        of_limb.insert(origin.step);
    }
    let is_between = |trackway: u32, fore: bool, low: u32, high: u32| {
        let of_limb = steps.get(&(trackway, fore));
        of_limb.is_some_and(|steps| high > low && steps.range(low + 1..high).next().is_some())
    };
    let follows = |one: Option<Origin>, other: Option<Origin>| match (one, other) {
        (Some(a), Some(b)) if a.trackway == b.trackway => {
            let (low, high) = (a.step.min(b.step), a.step.max(b.step));
            [a.fore, b.fore]
                .into_iter()
                .all(|fore| !is_between(a.trackway, fore, low, high))
        }
        _ => false,
    };
    let mut cases = Vec::new();
    for trackway in &grouping.trackways {
        for (pair, probability) in trackway.prints.windows(2).zip(&trackway.link_probabilities) {
            cases.push((
                *probability,
                follows(truth[pair[0] as usize], truth[pair[1] as usize]),
            ));
        }
    }
    cases
}

/// Each trackway's direction probability, and whether most of its prints were trodden in the order given.
#[must_use]
pub fn directions(grouping: &Grouping, truth: &[Option<Origin>]) -> Vec<(f64, bool)> {
    let directed = grouping.trackways.iter().filter_map(|trackway| {
        let (mut rising, mut falling) = (0, 0);
        for pair in trackway.midline.windows(2) {
            if let (Some(a), Some(b)) = (truth[pair[0] as usize], truth[pair[1] as usize])
                && a.trackway == b.trackway
            {
                rising += u32::from(a.step < b.step);
                falling += u32::from(a.step > b.step);
            }
        }
        (rising != falling).then_some((trackway.direction_probability, rising > falling))
    });
    directed.collect()
}

/// Each trackway's probability, and whether all its prints are truly of one.
#[must_use]
pub fn wholes(grouping: &Grouping, truth: &[Option<Origin>]) -> Vec<(f64, bool)> {
    let pure = |prints: &[u32]| {
        let first = truth[prints[0] as usize].map(|origin| origin.trackway);
        first.is_some()
            && prints
                .iter()
                .all(|no| truth[*no as usize].map(|origin| origin.trackway) == first)
    };
    grouping
        .trackways
        .iter()
        .map(|trackway| (trackway.probability, pure(&trackway.prints)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_together_are_those_of_all_cases() {
        let cases = [
            (0.05, false),
            (0.05, true),
            (0.65, true),
            (1.0, true),
            (0.99, false),
        ];
        let all = Calibration::of(&cases);
        assert_eq!(all.bins.len(), 10);
        assert!((all.bins[9].right - 0.5).abs() < 1e-12 && all.bins[9].count == 2.0);
        let (one, other) = cases.split_at(2);
        let together = Calibration::together(&[&Calibration::of(one), &Calibration::of(other)]);
        assert!((together.error() - all.error()).abs() < 1e-12);
        // By hand: |0.05 − 0.5| · 2 + |0.65 − 1| + |0.995 − 0.5| · 2, over five.
        assert!((all.error() - (0.9 + 0.35 + 0.99) / 5.0).abs() < 1e-12);
    }
}
