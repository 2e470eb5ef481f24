//! More than two that walk side by side.

use super::path::{Path, distance_m};
use super::stretch::{Stretch, mean_sd};
use crate::angle::mean_direction_rad;
use crate::model::Label;
use serde::Serialize;

/// Trackways that pairs of companions connect.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CompanionGroup {
    /// The members from left to right as they walk.
    pub trackways: Vec<Label>,
    /// The mean heading along the shared stretches, degrees from grid north.
    pub heading_deg: f64,
    /// The mean distance from one member's line to the next, across the heading, metres.
    pub spacing_mean_m: f64,
    /// The standard deviation of those distances over their mean; small for an even rank. `None` for two members.
    pub spacing_cv: Option<f64>,
    /// The largest p_corrected of the pairs that connect them.
    pub p_corrected_largest: f64,
}

/// A pair that connects two paths: their numbers, its p_corrected, and where they run side by side.
pub(super) type Link = ([usize; 2], f64, Stretch);

/// The sets that links connect, the largest first.
pub(super) fn group(paths: &[Path], links: &[Link]) -> Vec<CompanionGroup> {
    let mut set_of: Vec<usize> = (0..paths.len()).collect();
    for ([one, other], ..) in links {
        let [keep, join] = [set_of[*one].min(set_of[*other]), set_of[*one].max(set_of[*other])];
        for set in set_of.iter_mut().filter(|set| **set == join) {
            *set = keep;
        }
    }
    let mut sets: Vec<usize> = links.iter().map(|([one, _], ..)| set_of[*one]).collect();
    sets.sort_unstable();
    sets.dedup();
    let mut groups: Vec<CompanionGroup> = (sets.into_iter())
        .map(|set| {
            let members: Vec<usize> = (0..paths.len()).filter(|no| set_of[*no] == set).collect();
            let own: Vec<&Link> = links
                .iter()
                .filter(|([one, _], ..)| set_of[*one] == set)
                .collect();
            ranked(paths, &members, &own)
        })
        .collect();
    groups.sort_by_key(|group| std::cmp::Reverse(group.trackways.len()));
    groups
}

fn ranked(paths: &[Path], members: &[usize], links: &[&Link]) -> CompanionGroup {
    let places = || links.iter().flat_map(|(_, _, stretch)| &stretch.places);
    // Each stretch is told along its own first path; all paths of a group lead nearly the same way.
    let along = links.iter().flat_map(|([one, _], _, stretch)| {
        stretch
            .places
            .iter()
            .map(|place| paths[*one].azimuth_at_rad(place.one_m))
    });
    let heading_rad = mean_direction_rad(along).map_or(0.0, |mean| mean.0);
    let count = places().count().max(1) as f64;
    let centre = [0, 1].map(|axis| {
        places()
            .map(|place| (place.at[axis] + place.beside[axis]) / 2.0)
            .sum::<f64>()
            / count
    });
    let (sine, cosine) = heading_rad.sin_cos();
    let mut across: Vec<(f64, usize)> = (members.iter())
        .map(|no| {
            let at = nearest_to(&paths[*no], centre);
            ((at[0] - centre[0]) * cosine - (at[1] - centre[1]) * sine, *no)
        })
        .collect();
    across.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let (mean_m, sd_m) = mean_sd(across.windows(2).map(|pair| pair[1].0 - pair[0].0));
    CompanionGroup {
        trackways: across.iter().map(|(_, no)| paths[*no].trackway.clone()).collect(),
        heading_deg: heading_rad.to_degrees(),
        spacing_mean_m: mean_m,
        spacing_cv: (members.len() > 2 && mean_m > 0.0).then(|| sd_m / mean_m),
        p_corrected_largest: links.iter().map(|(_, p, _)| *p).fold(0.0, f64::max),
    }
}

/// The place of a path that is nearest to another place.
fn nearest_to(path: &Path, to: [f64; 2]) -> [f64; 2] {
    let mut nearest = path.line_m[0];
    for leg in path.line_m.windows(2) {
        let (east, north) = (leg[1][0] - leg[0][0], leg[1][1] - leg[0][1]);
        let part = ((to[0] - leg[0][0]) * east + (to[1] - leg[0][1]) * north) / (east * east + north * north);
        let part = part.clamp(0.0, 1.0);
        let at = [leg[0][0] + part * east, leg[0][1] + part * north];
        if distance_m(at, to) < distance_m(nearest, to) {
            nearest = at;
        }
    }
    nearest
}
