//! Predicted prints: crosses with their numbers, and the regions in which they lie.

use super::super::extents::trace;
use super::super::here::seen;
use super::super::window::Window;
use super::{Onward, Step};
use crate::ink::{Path, Px};
use geo::Polygon;

/// Half the size of a cross.
pub(super) const ARM: f64 = 5.5;
/// Steps nearer than this on the page crowd: only some of them are drawn.
const CROWDED: f64 = 34.0;
/// The ink of all that is predicted.
pub(super) const INK: &str = "#0b5345";
/// Attributes of a corridor.
pub(super) const CORRIDOR: &str = "fill=\"none\" stroke=\"#0b5345\" stroke-width=\"1.1\"";
/// Attributes of the region of 50 %.
pub(super) const REGION_50: &str =
    "fill=\"#0b5345\" fill-opacity=\".1\" stroke=\"#0b5345\" stroke-width=\"1.7\"";
/// Attributes of the region of 95 %.
pub(super) const REGION_95: &str =
    "fill=\"none\" stroke=\"#0b5345\" stroke-width=\"1\" stroke-dasharray=\"5 3\"";

/// The steps of each way on: numbers rise along it.
pub(super) fn ways(steps: &[Step]) -> impl Iterator<Item = &[Step]> {
    steps.chunk_by(|before, after| before.number < after.number)
}

/// The steps that are drawn, and how many are left out because they crowd.
pub(super) fn drawn<'a>(onward: &'a Onward, window: &Window) -> (Vec<&'a Step>, usize) {
    let mut kept: Vec<&Step> = Vec::new();
    for way in ways(&onward.steps) {
        let way: Vec<&Step> = way.iter().filter(|step| is_somewhere(step)).collect();
        let apart = |pair: &[&Step]| {
            let [a, b] = [window.at(pair[0].at), window.at(pair[1].at)];
            (b[0] - a[0]).hypot(b[1] - a[1])
        };
        let crowded = way.windows(2).any(|pair| apart(pair) < CROWDED);
        kept.extend(way.iter().filter(|step| !crowded || is_round(step.number)));
    }
    let all = onward.steps.iter().filter(|step| is_somewhere(step)).count();
    let left_out = all - kept.len();
    (kept, left_out)
}

fn is_somewhere(step: &Step) -> bool {
    step.at.iter().all(|metres| metres.is_finite())
}

/// 1, 2, 5, 10, 20, 50, 100 …
fn is_round(number: usize) -> bool {
    let mut rest = number;
    while rest > 0 && rest.is_multiple_of(10) {
        rest /= 10;
    }
    matches!(rest, 1 | 2 | 5)
}

/// The corridors and the regions, to be drawn below the prints.
pub(super) fn draw_regions(onward: &Onward, steps: &[&Step], window: &Window) -> String {
    let of = |look: &str, polygons: &mut dyn Iterator<Item = &Polygon<f64>>| {
        let paths: String = polygons
            .filter_map(|polygon| seen(polygon, window))
            .map(|polygon| format!("<path d=\"{}\"/>", outline(&polygon, window)))
            .collect();
        format!("<g {look} fill-rule=\"evenodd\" stroke-linejoin=\"round\">{paths}</g>")
    };
    of(CORRIDOR, &mut onward.corridors.iter())
        + &of(REGION_95, &mut steps.iter().map(|step| &step.region_95))
        + &of(REGION_50, &mut steps.iter().map(|step| &step.region_50))
}

/// All rings of a polygon.
pub(super) fn outline(polygon: &Polygon<f64>, window: &Window) -> Path {
    let mut path = Path::default();
    let rings = std::iter::once(polygon.exterior()).chain(polygon.interiors());
    rings.for_each(|ring| trace(&mut path, ring, window));
    path
}

/// The crosses, to be drawn above the prints.
pub(super) fn draw_crosses(steps: &[&Step], window: &Window) -> String {
    crosses(steps.iter().map(|step| window.at(step.at)))
}

/// Upright crosses with a rim of paper, heavier than those of the grid.
pub(super) fn crosses(places: impl Iterator<Item = [f64; 2]>) -> String {
    let mut path = Path::default();
    for [x, y] in places {
        path.move_to([x - ARM, y]);
        path.line_to([x + ARM, y]);
        path.move_to([x, y - ARM]);
        path.line_to([x, y + ARM]);
    }
    rimmed(&path, INK, 2.4)
}

/// A path in ink upon the same path in paper.
pub(super) fn rimmed(path: &Path, ink: &str, width: f64) -> String {
    if path.is_empty() {
        return String::new();
    }
    let wider = Px(width + 2.6);
    format!(
        "<g fill=\"none\"><path d=\"{path}\" stroke=\"#fffdf8\" stroke-width=\"{wider}\"/>\
         <path d=\"{path}\" stroke=\"{ink}\" stroke-width=\"{}\"/></g>",
        Px(width)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn round_numbers_are_those_of_a_scale() {
        let round: Vec<usize> = (0..=120).filter(|number| is_round(*number)).collect();
        assert_eq!(round, [1, 2, 5, 10, 20, 50, 100]);
    }
}
