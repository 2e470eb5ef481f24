//! What of a surface lies in a window.

use super::clip;
use super::midlines::{self, Midline};
use super::outlines::LONGEST_M;
use super::window::{Bounds, Window};
use crate::catalogue::Indexed;
use geo::Polygon;
use spatial::index::SurfaceIndex;
use spatial::model::{Extent, Print};
use std::borrow::Cow;

/// What is drawn on a map.
pub(super) struct Here<'a> {
    /// The prints that reach into the map.
    pub(super) prints: Cow<'a, [Print]>,
    /// The extents, or their parts.
    pub(super) extents: Cow<'a, [Extent]>,
    /// The trackways that are not rejected.
    pub(super) midlines: Vec<Midline<'a>>,
}

/// How far beyond the frame things are still written, so that no cut end shows; px.
const BEYOND: f64 = 40.0;

impl<'a> Here<'a> {
    /// All of a surface.
    pub(super) fn whole(index: &'a SurfaceIndex, window: &Window) -> Self {
        Self {
            prints: index.prints().into(),
            extents: index.extents().into(),
            midlines: midlines::midlines(index, window),
        }
    }

    /// What lies in the window.
    pub(super) fn part(index: &'a Indexed, window: &Window) -> Self {
        let about = beyond(window.shown, BEYOND / window.px_per_m);
        let (lower, upper) = ([about.west_m, about.south_m], [about.east_m, about.north_m]);
        let trackways = index.overview().trackways_about(index, lower, upper);
        let mut midlines = midlines::midlines_of(index, trackways.into_iter(), window);
        midlines.retain_mut(|midline| cut_to(midline, window));
        Self {
            prints: prints(index, window).into(),
            extents: extents(index, window).into(),
            midlines,
        }
    }
}

/// The prints that reach into a window.
pub(super) fn prints(index: &SurfaceIndex, window: &Window) -> Vec<Print> {
    let reach = beyond(window.shown, 0.5 * LONGEST_M);
    let numbers = index.in_box([reach.west_m, reach.south_m], [reach.east_m, reach.north_m]);
    let near = numbers.into_iter().map(|no| index.print(no));
    near.filter(|print| window.shown.meets(print)).cloned().collect()
}

/// The parts of extents in a window and a little around it.
pub(super) fn extents(index: &SurfaceIndex, window: &Window) -> Vec<Extent> {
    let parts = index.extents().iter().filter_map(|extent| {
        clip::to_bounds(&extent.polygon, &window.shown)?;
        Some(Extent {
            polygon: seen(&extent.polygon, window)?,
            ..extent.clone()
        })
    });
    parts.collect()
}

/// A polygon cut to a little beyond the map.
pub(super) fn seen(polygon: &Polygon<f64>, window: &Window) -> Option<Polygon<f64>> {
    clip::to_bounds(polygon, &beyond(window.shown, BEYOND / window.px_per_m))
}

/// Cuts a midline to where it runs through the window and one vertex beyond; whether anything is left.
pub(super) fn cut_to(midline: &mut Midline, window: &Window) -> bool {
    let meets = |pair: &[[f64; 2]]| {
        let within = |k: usize, from: f64, to: f64| {
            pair[0][k].max(pair[1][k]) >= from - BEYOND && pair[0][k].min(pair[1][k]) <= to + BEYOND
        };
        within(0, window.left, window.right()) && within(1, window.top, window.bottom())
    };
    let line = &mut midline.line;
    let Some(last) = line.windows(2).rposition(meets) else {
        return false;
    };
    line.truncate(last + 2);
    let first = line.windows(2).position(meets).unwrap_or(0);
    line.drain(..first);
    true
}

fn beyond(bounds: Bounds, by_m: f64) -> Bounds {
    Bounds {
        west_m: bounds.west_m - by_m,
        south_m: bounds.south_m - by_m,
        east_m: bounds.east_m + by_m,
        north_m: bounds.north_m + by_m,
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::busy_surface;
    use super::*;
    use spatial::model::Status;

    #[test]
    fn a_part_has_the_trackways_that_a_look_at_all_of_them_finds() {
        let index = busy_surface();
        let mut found = 0;
        for step in 0..60 {
            let (east_m, north_m) = (
                512_336.0 + 0.3 * f64::from(step),
                4_835_108.0 + 0.1 * f64::from(step),
            );
            let bounds = Bounds::between([[east_m, north_m], [east_m + 0.8, north_m + 0.5]]);
            let window = Window::fit(bounds, 100.0, 100.0, 800.0, 500.0);
            let here = Here::part(&index, &window);
            let mut all = midlines::midlines(&index, &window);
            all.retain_mut(|midline| cut_to(midline, &window));
            let labels = |lines: &[Midline]| {
                lines
                    .iter()
                    .map(|one| one.trackway.label.clone())
                    .collect::<Vec<_>>()
            };
            assert_eq!(labels(&here.midlines), labels(&all), "step {step}");
            found += all.len();
            let meets = index.prints().iter().filter(|print| window.shown.meets(print));
            assert_eq!(here.prints.len(), meets.count(), "step {step}");
        }
        assert!(found > 10, "{found}");
        assert_eq!(index.overview().trackways, [2, 1, 1]);
        // Of four trackways with 28 prints each one is rejected, and its prints are in no trackway drawn.
        assert_eq!(
            (index.overview().limbs, index.overview().outside),
            ([56, 56, 0], 28)
        );
        assert!(
            index
                .trackways()
                .iter()
                .any(|trackway| trackway.status == Status::Rejected)
        );
    }
}
