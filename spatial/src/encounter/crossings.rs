//! Where two paths cross, at what angle, and which came first.

use super::order::{First, Overprints};
use super::path::{Path, between_rad, distance_m};
use crate::index::{PrintNo, SurfaceIndex};
use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{Coord, Line};
use rayon::prelude::*;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::collections::BTreeMap;

/// Contacts nearer to each other than this are one.
const SAME_PLACE_M: f64 = 0.002;
/// So far before and after a contact at a corner the paths are looked at, to tell crossing from touching, metres.
const BESIDE_M: f64 = 0.02;
/// Overprints within so many paces of a crossing are told with it.
const NEAR_PACES: f64 = 2.0;

/// Said wherever crossings are given.
pub const CROSSINGS_CAUTION: &str = "Paths cross by chance wherever animals share ground: a crossing is no meeting. Which came \
    first is told only where prints were recorded to cut into others.";

/// What two paths do where they meet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Contact {
    /// One goes from one side of the other to its other side.
    Crosses,
    /// They share a place, and neither changes sides; also where one begins or ends on the other.
    Touches,
    /// They share a stretch.
    Shares,
}

/// A place that two paths share.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// The two paths, by their places in the list that was given.
    pub paths: [usize; 2],
    /// What they do there.
    pub contact: Contact,
    /// Where; easting and northing, metres. Of a shared stretch its middle.
    pub place_m: [f64; 2],
    /// How far along each path that is, metres.
    pub along_m: [f64; 2],
    /// How long the shared stretch is along the first path, metres; 0 for a place.
    pub shared_m: f64,
    /// The direction of each path there, radians from grid north.
    pub azimuths_rad: [f64; 2],
    /// The angle between the two directions, 0 to π: 0 is the same way, π the opposite one.
    pub angle_rad: f64,
    /// The prints of each path next before and after the place, where it lies between prints.
    pub between: [[Option<PrintNo>; 2]; 2],
    /// What prints that cut into others tell within two paces of the place, of the first and the second path.
    pub first: First,
    /// Those overprints: the upper print and the lower one.
    pub overprints: Vec<[PrintNo; 2]>,
}

/// Finds every place that two paths share, by the order of the paths, then along the first. `index` gives the paths'
/// prints their places.
///
/// Nothing is held against chance here: that two paths cross is seen, not inferred, and says nothing of a meeting.
///
/// # Units
/// Metres on the grid, radians from grid north.
#[must_use]
pub fn crossings(index: &SurfaceIndex, paths: &[Path], overprints: &Overprints) -> Vec<Crossing> {
    let tree = RTree::bulk_load(
        paths
            .iter()
            .enumerate()
            .flat_map(|(no, path)| segments(no, path))
            .collect(),
    );
    let mut crossings: Vec<Crossing> = (0..paths.len())
        .into_par_iter()
        .flat_map_iter(|no| of_path(paths, &tree, no))
        .collect();
    for crossing in &mut crossings {
        tell_first(index, paths, overprints, crossing);
    }
    crossings
}

type Segment = GeomWithData<Rectangle<[f64; 2]>, (usize, usize)>;

fn segments(no: usize, path: &Path) -> Vec<Segment> {
    (path.line_m.windows(2).enumerate())
        .map(|(leg, pair)| Segment::new(Rectangle::from_corners(pair[0], pair[1]), (no, leg)))
        .collect()
}

/// The contacts of a path with all later ones.
fn of_path(paths: &[Path], tree: &RTree<Segment>, no: usize) -> Vec<Crossing> {
    let mut met: BTreeMap<usize, Vec<Met>> = BTreeMap::new();
    for (leg, pair) in paths[no].line_m.windows(2).enumerate() {
        let reach = AABB::from_corners(pair[0], pair[1]);
        for near in tree.locate_in_envelope_intersecting(reach) {
            let (other, other_leg) = near.data;
            if other > no {
                let here = meet(&paths[no], leg, &paths[other], other_leg);
                met.entry(other).or_default().extend(here);
            }
        }
    }
    let told = |(other, met): (usize, Vec<Met>)| {
        let whole = joined(met).into_iter();
        whole
            .map(move |met| crossing(paths, [no, other], &met))
            .collect::<Vec<_>>()
    };
    met.into_iter().flat_map(told).collect()
}

/// What two legs share: from where to where along each path, metres; the same twice for one place.
#[derive(Debug, Clone, Copy)]
struct Met {
    along_m: [[f64; 2]; 2],
    /// Whether they cross within both legs, so that there is no doubt what they do.
    within: bool,
}

fn meet(one: &Path, leg: usize, other: &Path, other_leg: usize) -> Option<Met> {
    let line =
        |path: &Path, leg: usize| Line::new(Coord::from(path.line_m[leg]), Coord::from(path.line_m[leg + 1]));
    let found = line_intersection(line(one, leg), line(other, other_leg))?;
    let (from, to, within) = match found {
        LineIntersection::SinglePoint {
            intersection,
            is_proper,
        } => (intersection, intersection, is_proper),
        LineIntersection::Collinear { intersection } => (intersection.start, intersection.end, false),
    };
    let along = |path: &Path, leg: usize| {
        let [a, b] = [from, to].map(|at: Coord| path.walked_m[leg] + distance_m(path.line_m[leg], at.into()));
        [a.min(b), a.max(b)]
    };
    Some(Met {
        along_m: [along(one, leg), along(other, other_leg)],
        within,
    })
}

/// A corner belongs to two legs, and a stretch may go on from leg to leg: what hangs together is one.
fn joined(mut met: Vec<Met>) -> Vec<Met> {
    met.sort_by(|a, b| {
        a.along_m[0][0]
            .total_cmp(&b.along_m[0][0])
            .then(a.along_m[1][0].total_cmp(&b.along_m[1][0]))
    });
    let mut whole: Vec<Met> = Vec::with_capacity(met.len());
    for one in met {
        let hangs = |before: &&mut Met| {
            (0..2).all(|path| {
                let ([from, to], [other_from, other_to]) = (before.along_m[path], one.along_m[path]);
                other_from <= to + SAME_PLACE_M && other_to >= from - SAME_PLACE_M
            })
        };
        match whole.iter_mut().rev().find(hangs) {
            Some(before) => {
                for path in 0..2 {
                    let [from, to] = one.along_m[path];
                    before.along_m[path] =
                        [before.along_m[path][0].min(from), before.along_m[path][1].max(to)];
                }
                before.within |= one.within;
            }
            None => whole.push(one),
        }
    }
    whole
}

fn crossing(paths: &[Path], numbers: [usize; 2], met: &Met) -> Crossing {
    let both = numbers.map(|no| &paths[no]);
    let along_m = met.along_m.map(|[from, to]| (from + to) / 2.0);
    let shared_m = met.along_m[0][1] - met.along_m[0][0];
    let azimuths_rad = [0, 1].map(|one| both[one].azimuth_at_rad(along_m[one]));
    let contact = if shared_m > SAME_PLACE_M {
        Contact::Shares
    } else if met.within {
        Contact::Crosses
    } else {
        at_corner(both, along_m)
    };
    Crossing {
        paths: numbers,
        contact,
        place_m: both[0].at_m(along_m[0]),
        along_m,
        shared_m,
        azimuths_rad,
        angle_rad: between_rad(azimuths_rad[0], azimuths_rad[1]),
        between: [0, 1].map(|one| both[one].prints_beside(along_m[one])),
        first: First::Unknown,
        overprints: Vec::new(),
    }
}

/// Whether the second path changes sides of the first where one of them has a corner.
fn at_corner(paths: [&Path; 2], along_m: [f64; 2]) -> Contact {
    let inside = |one: usize| along_m[one] > BESIDE_M && along_m[one] < paths[one].length_m() - BESIDE_M;
    if !(inside(0) && inside(1)) {
        return Contact::Touches;
    }
    let [before, at, after] = [-BESIDE_M, 0.0, BESIDE_M].map(|off| paths[0].at_m(along_m[0] + off));
    let is_left = |off: f64| {
        let place = paths[1].at_m(along_m[1] + off);
        let turn = |from: [f64; 2], to: [f64; 2], place: [f64; 2]| {
            (to[0] - from[0]) * (place[1] - from[1]) - (to[1] - from[1]) * (place[0] - from[0])
        };
        let (came, goes) = (turn(before, at, place) > 0.0, turn(at, after, place) > 0.0);
        // Left of a left bend is left of both legs; left of a right bend is left of either.
        if turn(before, at, after) > 0.0 {
            came && goes
        } else {
            came || goes
        }
    };
    if is_left(-BESIDE_M) == is_left(BESIDE_M) {
        Contact::Touches
    } else {
        Contact::Crosses
    }
}

fn tell_first(index: &SurfaceIndex, paths: &[Path], overprints: &Overprints, crossing: &mut Crossing) {
    let [one, other] = crossing.paths.map(|no| &paths[no]);
    let reach_m = NEAR_PACES * one.pace_m().max(other.pace_m());
    let near = |pair: &&[PrintNo; 2]| {
        let upper = index.print(pair[0]);
        distance_m([upper.easting_m, upper.northing_m], crossing.place_m) <= reach_m
    };
    let by = |upper: &Path, lower: &Path| -> Vec<[PrintNo; 2]> {
        let all = overprints.by(&upper.trackway, &lower.trackway);
        all.iter().filter(near).copied().collect()
    };
    let (over, under) = (by(one, other), by(other, one));
    crossing.first = match (over.is_empty(), under.is_empty()) {
        (true, true) => First::Unknown,
        (false, true) => First::Other,
        (true, false) => First::One,
        (false, false) => First::Both,
    };
    crossing.overprints = [over, under].concat();
}

#[cfg(test)]
#[path = "crossings_tests.rs"]
mod tests;
