//! Which interrupted ends of a surface belong together, all weighed at once.

use super::answer::{Direction, Link, Term};
use super::assignment::{Edge, best_set, probabilities};
use super::candidates::first_seen;
use super::ends::end_hypothesis;
use super::options::{ContinuationFault, ContinuationOptions};
use super::steps::{Extent, Way};
use super::surroundings::{Surroundings, Terminal};
use super::terminal::Far;
use crate::index::SurfaceIndex;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Links of lower odds than this are not thought of.
const LEAST_LOG_ODDS: f64 = -6.0;

/// How well one end leads to another.
struct Seen {
    log_odds: f64,
    missing: usize,
    terms: Vec<Term>,
}

/// Finds the links between the ends of all standing trackways of a surface.
///
/// Every end is weighed against every other one within reach, from both sides; then all are solved together, so that no end is
/// linked twice. The most probable first.
///
/// # Errors
/// Options that make no sense. Trackways that cannot be continued are passed over.
pub fn link_ends(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    options: &ContinuationOptions,
) -> Result<Vec<Link>, ContinuationFault> {
    options.check()?;
    let terminals = surroundings.all_terminals();
    let number: BTreeMap<Terminal, usize> = (terminals.iter().enumerate())
        .map(|(number, (terminal, _))| (*terminal, number))
        .collect();
    let fars: Vec<Option<Far>> = (terminals.par_iter())
        .map(|(terminal, _)| Far::of(index, surroundings, *terminal))
        .collect();
    let seen: Vec<BTreeMap<usize, Seen>> = (0..terminals.len())
        .into_par_iter()
        .map(|one| onward_to(index, surroundings, options, &fars, &number, one))
        .collect();
    let mut edges = Vec::new();
    for (one, found) in seen.iter().enumerate() {
        for (other, here) in found.iter().filter(|(other, _)| **other > one) {
            // Each side is a judge of its own; together they are as good as the mean.
            if let Some(there) = seen[*other].get(&one) {
                let log_odds = (here.log_odds + there.log_odds) / 2.0;
                if log_odds > LEAST_LOG_ODDS {
                    edges.push(Edge {
                        ends: [one, *other],
                        log_odds,
                    });
                }
            }
        }
    }
    let chosen = best_set(terminals.len(), &edges);
    let probable = probabilities(terminals.len(), &edges);
    let mut links: Vec<Link> = (edges.iter().zip(chosen).zip(probable))
        .filter(|((_, chosen), probability)| *chosen || *probability >= options.least_probability)
        .filter_map(|((edge, chosen), probability)| {
            let [one, other] = edge.ends;
            let ends = [fars[one].as_ref()?, fars[other].as_ref()?];
            let here = &seen[one][&other];
            Some(link(index, surroundings, ends, here, probability, chosen))
        })
        .filter(|link| link.probability >= options.least_probability)
        .collect();
    links.sort_by(|a, b| {
        (b.probability.total_cmp(&a.probability))
            .then(a.from.cmp(&b.from))
            .then(a.to.cmp(&b.to))
    });
    Ok(links)
}

/// What one end thinks of each other end within reach.
fn onward_to(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    options: &ContinuationOptions,
    fars: &[Option<Far>],
    number: &BTreeMap<Terminal, usize>,
    one: usize,
) -> BTreeMap<usize, Seen> {
    let mut seen = BTreeMap::new();
    let Some(own) = &fars[one] else {
        return seen;
    };
    let place = own.end();
    let reach_m = options.widest_gap_m;
    let near = surroundings.terminals_in(place.map(|part| part - reach_m), place.map(|part| part + reach_m));
    let near: Vec<&Far> = (near.iter())
        .filter(|(terminal, _)| terminal.trackway != own.terminal.trackway)
        .filter_map(|(terminal, _)| fars[number[terminal]].as_ref())
        .filter(|far| own.could_lead_to(far, reach_m))
        .collect();
    if near.is_empty() {
        return seen;
    }
    let direction = if own.terminal.is_end {
        Direction::After
    } else {
        Direction::Before
    };
    let prints = &surroundings.prints[own.terminal.trackway as usize];
    let Ok(way) = Way::of(
        index,
        surroundings,
        prints,
        direction,
        options,
        Extent::Gap(reach_m),
    ) else {
        return seen;
    };
    let (chances, none) = first_seen(&way.seen, surroundings.habits.ends);
    for far in near {
        if let Some((stage, terms, weight)) = end_hypothesis(&way, &chances, far) {
            let log_odds = (weight.max(1e-300) / none).ln();
            let found = Seen {
                log_odds,
                missing: stage,
                terms,
            };
            seen.insert(number[&far.terminal], found);
        }
    }
    seen
}

/// A link in the words of the interface: from the trackway that comes first.
fn link(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    ends: [&Far; 2],
    seen: &Seen,
    probability: f64,
    chosen: bool,
) -> Link {
    let [one, other] = ends;
    // An end that is a last print comes first; of two alike that of the first trackway.
    let (from, to) = match (one.terminal.is_end, other.terminal.is_end) {
        (false, true) => (other, one),
        _ => (one, other),
    };
    let label = |far: &Far| surroundings.labels[far.terminal.trackway as usize].clone();
    let prints = [from.track.last().no, to.track.last().no];
    let [a, b] = prints.map(|no| index.print(no));
    Link {
        from: label(from),
        from_reversed: !from.terminal.is_end,
        to: label(to),
        to_reversed: to.terminal.is_end,
        prints,
        distance_m: (b.easting_m - a.easting_m).hypot(b.northing_m - a.northing_m),
        missing: seen.missing,
        probability,
        chosen,
        terms: seen.terms.clone(),
    }
}
