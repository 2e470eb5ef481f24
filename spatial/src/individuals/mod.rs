//! How many animals at least made the trackways of a surface.
//!
//! There is no standard formula; published practice gives a range, and so does this. Two trackways that cannot
//! be one animal's are *apart*. As many animals as the largest set of trackways that are all apart from each
//! other must have been there. Two readings are given: one by what an animal cannot change (kind, size, being
//! in two places at once), and one that also holds that no animal came back over its own track in another gait
//! or direction.

mod apart;
mod clique;

pub use apart::{Limits, Reason};
pub use clique::SearchEnd;

use crate::gait::Summary;
use crate::model::Label;
use apart::reasons;
use clique::Graph;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Said wherever a number of animals is given.
pub const INDIVIDUALS_CAUTION: &str = "The least number, not the likely one: animals alike in kind and size count once. \
    Ground and preservation change a print's size and shape, so a kind or size wrongly told apart counts one animal twice. \
    Whether the trackways were made at one time is not known from this.";

/// What is known of one trackway.
#[derive(Debug, Clone, PartialEq)]
pub struct PathSummary {
    /// The trackway's label on its surface.
    pub id: Label,
    /// The kind of its prints.
    pub morphotype: Option<Arc<str>>,
    /// Foot length of its pes prints, metres.
    pub foot_length_m: Summary,
    /// Stride of its pes prints, metres.
    pub stride_m: Summary,
    /// The direction in which it leads, degrees.
    pub heading_deg: Option<f64>,
    /// Where it runs: easting and northing of its prints in walking order, metres.
    pub path_m: Vec<[f64; 2]>,
    /// The trackways of which it treads on some print.
    pub overlies: Vec<Label>,
}

/// Two trackways, and why they are not one animal's.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// One.
    pub first: Label,
    /// The other.
    pub second: Label,
    /// Why.
    pub reasons: Vec<Reason>,
}

/// One reading of how many animals there were.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Count {
    /// So many animals at least.
    pub least: usize,
    /// So many suffice to have made all the trackways: the true least number lies between, both included.
    pub suffice: usize,
    /// Whether `least` is the largest set there is, or the largest found when the search was stopped.
    pub search: SearchEnd,
    /// One set of trackways that are all apart, in the order given.
    pub trackways: Vec<Label>,
    /// The reasoning: each two of them, and why they are apart.
    pub pairs: Vec<Pair>,
}

/// Trackways of one morphotype and size.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeClass {
    /// The kind; `None` where it is unknown.
    pub morphotype: Option<Arc<str>>,
    /// The class of this kind, counted from the smallest, 1 upwards; `None` where no foot length is known.
    pub size_class: Option<usize>,
    /// The shortest and longest mean foot length in it.
    pub foot_length_m: Option<[f64; 2]>,
    /// Its trackways, from the smallest.
    pub trackways: Vec<Label>,
    /// The least number of animals in it, by what an animal cannot change.
    pub least: usize,
    /// The same if no animal came back over its own track in another gait or direction.
    pub least_if_none_came_back: usize,
}

/// How many animals there were.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Individuals {
    /// By what an animal cannot change.
    pub surely: Count,
    /// If, besides, no animal came back over its own track in another gait or direction.
    pub if_none_came_back: Count,
    /// Each trackway an animal of its own.
    pub most: usize,
    /// By morphotype and size.
    pub classes: Vec<SizeClass>,
    /// Trackways of which no foot length is known.
    pub without_length: usize,
}

/// Counts the animals of a surface's trackways.
///
/// # References
/// A largest clique bounds the number of colours of a graph from below, any colouring from above (textbook
/// graph theory). What counts as apart is common practice; see [`Limits`] for the figures.
#[must_use]
pub fn count(paths: &[PathSummary], limits: &Limits) -> Individuals {
    let mut surely = Graph::new(paths.len());
    let mut in_place = Graph::new(paths.len());
    for second in 1..paths.len() {
        for first in 0..second {
            let reasons = reasons(&paths[first], &paths[second], limits);
            if !reasons.is_empty() {
                in_place.join(first, second);
            }
            if reasons.iter().any(Reason::is_sure) {
                surely.join(first, second);
            }
        }
    }
    Individuals {
        surely: counted(paths, limits, &surely, Reason::is_sure),
        if_none_came_back: counted(paths, limits, &in_place, |_| true),
        most: paths.len(),
        classes: classes(paths, limits, &surely, &in_place),
        without_length: paths
            .iter()
            .filter(|path| apart::length_m(path).is_none())
            .count(),
    }
}

fn counted(paths: &[PathSummary], limits: &Limits, graph: &Graph, counts: fn(&Reason) -> bool) -> Count {
    let (clique, search) = graph.largest_clique();
    let pairs = (clique.iter().enumerate()).flat_map(|(number, &second)| {
        clique[..number].iter().map(move |&first| Pair {
            first: paths[first].id.clone(),
            second: paths[second].id.clone(),
            reasons: reasons(&paths[first], &paths[second], limits)
                .into_iter()
                .filter(counts)
                .collect(),
        })
    });
    Count {
        least: clique.len(),
        suffice: graph.colours(),
        search,
        pairs: pairs.collect(),
        trackways: clique.iter().map(|&no| paths[no].id.clone()).collect(),
    }
}

fn classes(paths: &[PathSummary], limits: &Limits, surely: &Graph, in_place: &Graph) -> Vec<SizeClass> {
    let mut kinds: BTreeMap<Option<&str>, Vec<usize>> = BTreeMap::new();
    for (no, path) in paths.iter().enumerate() {
        kinds.entry(path.morphotype.as_deref()).or_default().push(no);
    }
    let length = |no: usize| apart::length_m(&paths[no]);
    let class = |(group, size_class): (Vec<usize>, Option<usize>)| SizeClass {
        morphotype: paths[group[0]].morphotype.clone(),
        size_class,
        foot_length_m: length(group[0])
            .zip(length(group[group.len() - 1]))
            .map(<[f64; 2]>::from),
        least: surely.among(&group).largest_clique().0.len(),
        least_if_none_came_back: in_place.among(&group).largest_clique().0.len(),
        trackways: group.iter().map(|&no| paths[no].id.clone()).collect(),
    };
    kinds
        .into_values()
        .flat_map(|kind| by_size(paths, limits, kind))
        .map(class)
        .collect()
}

/// The trackways of one kind in groups of one size, the smallest first, each with its number; those of unknown size last.
///
/// A group begins where a trackway is apart by size from the smallest of the group before.
fn by_size(paths: &[PathSummary], limits: &Limits, kind: Vec<usize>) -> Vec<(Vec<usize>, Option<usize>)> {
    let length = |no: usize| apart::length_m(&paths[no]);
    let (mut measured, unmeasured): (Vec<usize>, Vec<usize>) =
        kind.into_iter().partition(|&no| length(no).is_some());
    measured.sort_by(|&a, &b| length(a).partial_cmp(&length(b)).expect("lengths are finite"));
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for no in measured {
        match groups.last_mut() {
            Some(group) if apart::by_size(&paths[group[0]], &paths[no], limits).is_none() => group.push(no),
            _ => groups.push(vec![no]),
        }
    }
    let unknown = (!unmeasured.is_empty()).then_some((unmeasured, None));
    let numbered = groups
        .into_iter()
        .zip(1..)
        .map(|(group, number)| (group, Some(number)));
    numbered.chain(unknown).collect()
}

#[cfg(test)]
#[path = "individuals_tests.rs"]
mod tests;
