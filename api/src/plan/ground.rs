//! What is taken on the page, and where around a mark a text may stand.

use super::midlines::Midline;
use super::prints::{Detail, half_box};
use super::window::Window;
use rstar::primitives::Rectangle;
use rstar::{AABB, Envelope, RTree};
use spatial::model::Print;

/// A box on the page.
pub(super) type Area = AABB<[f64; 2]>;

/// The marks and labels on the map so far.
pub(super) struct Ground {
    marks: RTree<Rectangle<[f64; 2]>>,
    centres: RTree<[f64; 2]>,
    labels: RTree<Rectangle<[f64; 2]>>,
    frame: Area,
}

/// Clear paper around a label.
const CLEAR: f64 = 1.5;

impl Ground {
    /// The map with all its prints and midlines, and no label yet.
    pub(super) fn of(prints: &[Print], detail: Detail, midlines: &[Midline], window: &Window) -> Self {
        // Cells stand so thick that no label would ever be free of them.
        let prints = if detail == Detail::Cells { &[] } else { prints };
        let centres: Vec<[f64; 2]> = prints.iter().map(|print| centre(print, window)).collect();
        let boxes = prints.iter().zip(&centres).map(|(print, [x, y])| {
            let [across, along] = half_box(print, window, detail);
            Rectangle::from_corners([x - across, y - along], [x + across, y + along])
        });
        let lines = midlines.iter().flat_map(|midline| line_boxes(&midline.line));
        Self {
            marks: RTree::bulk_load(boxes.chain(lines).collect()),
            centres: RTree::bulk_load(centres),
            labels: RTree::new(),
            frame: Area::from_corners([window.left, window.top], [window.right(), window.bottom()]),
        }
    }

    /// Whether a label may stand here: inside the frame, on no other label, and on no mark unless
    /// that is allowed.
    pub(super) fn is_free(&self, area: &Area, over_marks: bool) -> bool {
        let wider = grown(area, CLEAR);
        let taken =
            |tree: &RTree<Rectangle<[f64; 2]>>| tree.locate_in_envelope_intersecting(wider).next().is_some();
        self.frame.contains_envelope(&wider) && !taken(&self.labels) && (over_marks || !taken(&self.marks))
    }

    /// Whether no other print lies nearer to the label than its own; else it would name the wrong one.
    pub(super) fn belongs(&self, area: &Area, own: [f64; 2]) -> bool {
        let own_2 = area.distance_2(&own);
        let near = self.centres.locate_in_envelope(grown(area, own_2.sqrt()));
        near.into_iter().all(|other| area.distance_2(other) >= own_2)
    }

    /// Sets a further mark, which labels avoid.
    pub(super) fn mark(&mut self, area: Area) {
        self.marks.insert(Rectangle::from_aabb(area));
    }

    /// Takes the place for a label.
    pub(super) fn take(&mut self, area: Area) {
        self.labels.insert(Rectangle::from_aabb(area));
    }
}

/// The place of a print on the page.
pub(super) fn centre(print: &Print, window: &Window) -> [f64; 2] {
    window.at([print.easting_m, print.northing_m])
}

fn grown(area: &Area, by: f64) -> Area {
    Area::from_corners(area.lower().map(|v| v - by), area.upper().map(|v| v + by))
}

/// A side of a mark: the direction from the mark's middle, and how much of the text's size it is moved by.
struct Side {
    direction: [f64; 2],
    shift: [f64; 2],
}

const fn side(direction: [f64; 2], shift: [f64; 2]) -> Side {
    Side { direction, shift }
}

/// Twelve sides, the easiest to read first (common practice in map lettering): right, above and below, left.
const SIDES: [Side; 12] = [
    side([0.71, -0.71], [0.5, -0.5]),
    side([1.0, 0.0], [0.5, 0.0]),
    side([0.71, 0.71], [0.5, 0.5]),
    side([0.38, -0.92], [0.25, -0.5]),
    side([0.38, 0.92], [0.25, 0.5]),
    side([0.0, -1.0], [0.0, -0.5]),
    side([0.0, 1.0], [0.0, 0.5]),
    side([-0.38, -0.92], [-0.25, -0.5]),
    side([-0.38, 0.92], [-0.25, 0.5]),
    side([-0.71, -0.71], [-0.5, -0.5]),
    side([-1.0, 0.0], [-0.5, 0.0]),
    side([-0.71, 0.71], [-0.5, 0.5]),
];

/// The places of a text around a mark that reaches so far from its middle, across and along the page.
pub(super) fn around(middle: [f64; 2], reach: [f64; 2], size: [f64; 2]) -> impl Iterator<Item = Area> {
    SIDES.into_iter().map(move |Side { direction, shift }| {
        let at = [0, 1].map(|k| middle[k] + direction[k] * (reach[k] + CLEAR) + shift[k] * size[k]);
        Area::from_corners(
            [0, 1].map(|k| at[k] - 0.5 * size[k]),
            [0, 1].map(|k| at[k] + 0.5 * size[k]),
        )
    })
}

/// A line as boxes short enough to hug it.
fn line_boxes(line: &[[f64; 2]]) -> impl Iterator<Item = Rectangle<[f64; 2]>> {
    const PIECE: f64 = 8.0;
    const MOST_PIECES: f64 = 500.0;
    line.windows(2).flat_map(|pair| {
        let [from, to] = [pair[0], pair[1]];
        let length = (to[0] - from[0]).hypot(to[1] - from[1]);
        let pieces = (length / PIECE).ceil().clamp(1.0, MOST_PIECES);
        let at = move |i: f64| [0, 1].map(|k| from[k] + (to[k] - from[k]) * i / pieces);
        (0..pieces as u32).map(move |i| Rectangle::from_corners(at(f64::from(i)), at(f64::from(i) + 1.0)))
    })
}

#[cfg(test)]
mod tests {
    use super::super::window::Bounds;
    use super::*;

    #[test]
    fn a_text_on_any_side_keeps_clear_of_a_round_mark() {
        let middle = [100.0, 100.0];
        for area in around(middle, [10.0, 10.0], [30.0, 11.0]) {
            assert!(area.distance_2(&middle).sqrt() >= 10.0, "{area:?}");
            assert!(area.distance_2(&middle).sqrt() <= 10.0 + 2.0 * CLEAR, "{area:?}");
        }
    }

    #[test]
    fn a_label_nearer_to_another_print_belongs_to_that_one() {
        let print = |name: &str, east_m| Print::new(name.parse().unwrap(), east_m, 0.5, 0.1);
        let prints = [print("P1", 0.2), print("P2", 0.8)];
        let bounds = Bounds {
            west_m: 0.0,
            south_m: 0.0,
            east_m: 1.0,
            north_m: 1.0,
        };
        let window = Window::fit(bounds, 0.0, 0.0, 1000.0, 1000.0);
        let ground = Ground::of(&prints, Detail::Outlines, &[], &window);
        let below_first = Area::from_corners([180.0, 560.0], [220.0, 571.0]);
        assert!(ground.belongs(&below_first, centre(&prints[0], &window)));
        assert!(!ground.belongs(&below_first, centre(&prints[1], &window)));
        assert!(ground.is_free(&below_first, false));
        assert!(
            !ground.is_free(&Area::from_corners([180.0, 540.0], [220.0, 551.0]), false),
            "upon the print"
        );
        assert!(
            !ground.is_free(&Area::from_corners([-5.0, 560.0], [30.0, 571.0]), false),
            "over the frame"
        );
    }
}
