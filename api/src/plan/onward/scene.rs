//! What the map shows: where trackways should go on, their last paces, and what of the surface lies there.

use super::super::midlines::{self, Midline};
use super::super::window::{Bounds, Window, print_square};
use super::super::{clip, here};
use super::Onward;
use geo::Polygon;
use spatial::index::SurfaceIndex;
use spatial::model::{Extent, Label, Print, Trackway};
use std::collections::HashSet;

/// What of the surface lies on the map.
pub(super) struct Scene<'a> {
    /// The prints that reach into the map.
    pub(super) prints: Vec<Print>,
    /// The parts of extents.
    pub(super) extents: Vec<Extent>,
    midlines: Vec<Midline<'a>>,
    /// How many of the midlines, the first ones, are of trackways that should go on.
    strong: usize,
}

/// How many paces before its end a trackway is shown.
const PACES: usize = 6;

impl<'a> Scene<'a> {
    /// Takes what lies in a window from the index.
    pub(super) fn of(index: &'a SurfaceIndex, onward: &Onward, window: &Window) -> Self {
        let prints = here::prints(index, window);
        let (strong, others) = trackways(index, onward, &prints);
        let mut midlines = midlines::midlines_of(index, strong.into_iter(), window);
        midlines.retain_mut(|midline| here::cut_to(midline, window));
        let strong = midlines.len();
        let others = midlines::midlines_of(index, others.into_iter(), window);
        midlines.extend(others.into_iter().filter_map(|mut midline| {
            let seen = here::cut_to(&mut midline, window);
            seen.then_some(midline)
        }));
        Self {
            prints,
            extents: here::extents(index, window),
            midlines,
            strong,
        }
    }

    /// All midlines; those of trackways that should go on come first.
    pub(super) fn midlines(&self) -> &[Midline<'a>] {
        &self.midlines
    }

    /// The midlines of trackways that should go on, and all others.
    pub(super) fn parted(&self) -> (&[Midline<'a>], &[Midline<'a>]) {
        self.midlines.split_at(self.strong)
    }
}

/// The trackways that have a print among these: those that should go on, and the others.
fn trackways<'a>(
    index: &'a SurfaceIndex,
    onward: &Onward,
    prints: &[Print],
) -> (Vec<&'a Trackway>, Vec<&'a Trackway>) {
    let here: HashSet<&Label> = prints.iter().map(|print| &print.label).collect();
    let met = index
        .trackways()
        .iter()
        .filter(|trackway| trackway.prints.iter().any(|label| here.contains(label)));
    met.partition(|trackway| onward.trackways.contains(&trackway.label))
}

/// What the map must show: the corridors, squares, predicted prints and candidates, and the last paces.
pub(super) fn bounds(index: &SurfaceIndex, onward: &Onward) -> Option<Bounds> {
    let place = |at: [f64; 2]| (at[0], at[1], 0.0);
    let mut places: Vec<(f64, f64, f64)> = outlines(onward).flat_map(corners).map(place).collect();
    if places.is_empty() {
        // Without a corridor the regions alone say how far to look.
        places.extend(
            onward
                .steps
                .iter()
                .flat_map(|step| corners(&step.region_95))
                .map(place),
        );
    }
    places.extend(onward.steps.iter().map(|step| place(step.at)));
    places.extend(onward.candidates.iter().copied().map(place));
    places.extend(last_prints(index, onward).into_iter().map(print_square));
    Bounds::around(places.into_iter()).or_else(|| Bounds::of(index))
}

fn outlines<'a>(onward: &'a Onward) -> impl Iterator<Item = &'a Polygon<f64>> {
    let squares = onward.squares.iter().map(|square| &square.outline);
    onward.corridors.iter().chain(squares)
}

fn corners(polygon: &Polygon<f64>) -> impl Iterator<Item = [f64; 2]> {
    clip::vertices(polygon.exterior())
}

/// An end of a trackway: its prints from the outermost inwards.
struct End<'a> {
    trackway: usize,
    prints: Vec<&'a Print>,
}

/// The prints at those ends of the trackways from which they should go on.
fn last_prints<'a>(index: &'a SurfaceIndex, onward: &Onward) -> Vec<&'a Print> {
    let ends = ends(index, onward);
    let goals = goals(onward);
    let mut taken: Vec<usize> = goals.iter().filter_map(|goal| nearest(&ends, goal)).collect();
    for (no, end) in ends.iter().enumerate().step_by(2) {
        // Both ends of a trackway stand side by side, its last print's first.
        let own = &ends[no..no + 2];
        if !taken.iter().any(|one| ends[*one].trackway == end.trackway) {
            let all: Vec<[f64; 2]> = goals.concat();
            taken.push(no + nearest(own, &all).unwrap_or(0));
        }
    }
    taken.sort_unstable();
    taken.dedup();
    let prints = taken
        .into_iter()
        .flat_map(|no| ends[no].prints.iter().take(PACES + 1));
    prints.copied().collect()
}

fn ends<'a>(index: &'a SurfaceIndex, onward: &Onward) -> Vec<End<'a>> {
    let mut ends = Vec::new();
    for (trackway, label) in onward.trackways.iter().enumerate() {
        let found = index.trackways().iter().find(|trackway| trackway.label == *label);
        let first: Vec<&Print> = found.map_or_else(Vec::new, |found| midlines::walked(index, found));
        if first.is_empty() {
            continue;
        }
        let last = first.iter().rev().copied().collect();
        ends.extend([last, first].map(|prints| End { trackway, prints }));
    }
    ends
}

/// Where the ways on begin: at the first steps, else in the corridors, else in the squares.
fn goals(onward: &Onward) -> Vec<Vec<[f64; 2]>> {
    let steps = super::steps::ways(&onward.steps).filter_map(|way| way.first());
    let steps: Vec<_> = steps.map(|step| vec![step.at]).collect();
    let of = |polygons: &mut dyn Iterator<Item = &Polygon<f64>>| {
        let corners = polygons.map(|polygon| corners(polygon).collect::<Vec<_>>());
        corners.collect::<Vec<_>>()
    };
    if !steps.is_empty() {
        steps
    } else if !onward.corridors.is_empty() {
        of(&mut onward.corridors.iter())
    } else {
        of(&mut onward.squares.iter().map(|square| &square.outline))
    }
}

/// The end nearest to one of some places; of equally near ones the first.
fn nearest(ends: &[End], places: &[[f64; 2]]) -> Option<usize> {
    let distance_m = |end: &End| {
        let outermost = end.prints.first()?;
        let apart = |at: &[f64; 2]| (at[0] - outermost.easting_m).hypot(at[1] - outermost.northing_m);
        let distances = places.iter().map(apart).filter(|metres| metres.is_finite());
        distances.min_by(f64::total_cmp)
    };
    let distances = ends
        .iter()
        .enumerate()
        .filter_map(|(no, end)| Some((no, distance_m(end)?)));
    distances.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(no, _)| no)
}
