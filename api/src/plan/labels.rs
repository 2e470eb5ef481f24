//! Labels that do not collide: each takes the first free one of its places, in order of weight.

use super::ink::{Escaped, Px, text_width};
use super::midlines::{self, Midline};
use super::prints::{Detail, half_box};
use super::window::Window;
use rstar::primitives::Rectangle;
use rstar::{AABB, RTree};
use spatial::model::{Print, Status};
use std::fmt::Write;

type Box2 = AABB<[f64; 2]>;

/// Above so many prints their labels would only be a grey carpet.
pub(super) const MOST_PRINT_LABELS: usize = 500;
const MOST_TRACKWAY_LABELS: usize = 400;
/// Among more trackways a label upon prints could no longer be told from its neighbours.
const MOST_LABELS_OVER_MARKS: usize = 80;
const PRINT_SIZE: f64 = 11.0;
const TRACKWAY_SIZE: f64 = 17.0;
/// Clear paper around a label.
const CLEAR: f64 = 1.5;

/// A label with its place.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    text: String,
    pub(super) area: Box2,
    size: f64,
    /// The status of the trackway that it names; a print's label has none.
    status: Option<Status>,
}

/// All labels that found a place, and how many did not.
#[derive(Debug, Default)]
pub(super) struct Labels {
    pub(super) placed: Vec<Placed>,
    pub(super) prints_without: usize,
    pub(super) trackways_without: usize,
    trackway_size: f64,
}

/// Places the labels of trackways first, then those of prints.
pub(super) fn place(prints: &[Print], detail: Detail, midlines: &[Midline], window: &Window) -> Labels {
    let mut ground = Ground::of(prints, detail, midlines, window);
    let mut labels = Labels::default();
    name_trackways(midlines, &mut ground, &mut labels);
    if prints.len() > MOST_PRINT_LABELS {
        labels.prints_without = prints.len();
        return labels;
    }
    for print in prints {
        let named = ground.name_print(print, detail, window, &mut labels.placed);
        labels.prints_without += usize::from(!named);
    }
    labels
}

fn name_trackways(midlines: &[Midline], ground: &mut Ground, labels: &mut Labels) {
    if midlines.len() > MOST_TRACKWAY_LABELS {
        labels.trackways_without = midlines.len();
        return;
    }
    labels.trackway_size = TRACKWAY_SIZE * midlines::weight(midlines.len());
    let rather_over_marks = midlines.len() <= MOST_LABELS_OVER_MARKS;
    for midline in midlines {
        let named = ground.name_trackway(
            midline,
            labels.trackway_size,
            rather_over_marks,
            &mut labels.placed,
        );
        labels.trackways_without += usize::from(!named);
    }
}

/// What is taken on the page.
struct Ground {
    marks: RTree<Rectangle<[f64; 2]>>,
    labels: RTree<Rectangle<[f64; 2]>>,
    frame: Box2,
}

/// Eight sides of a mark, the easiest to read first (common practice in map lettering).
const SIDES: [[f64; 2]; 8] = [
    [1.0, -1.0],
    [1.0, 0.0],
    [1.0, 1.0],
    [-1.0, -1.0],
    [-1.0, 0.0],
    [-1.0, 1.0],
    [0.0, -1.0],
    [0.0, 1.0],
];

impl Ground {
    fn of(prints: &[Print], detail: Detail, midlines: &[Midline], window: &Window) -> Self {
        let boxes = prints.iter().map(|print| {
            let [x, y] = window.at([print.easting_m, print.northing_m]);
            let [across, along] = half_box(print, window, detail);
            Rectangle::from_corners([x - across, y - along], [x + across, y + along])
        });
        let lines = midlines.iter().flat_map(|midline| line_boxes(&midline.line));
        // Cells stand so thick that no label would ever be free of them.
        let marks = if detail == Detail::Cells {
            Vec::new()
        } else {
            boxes.chain(lines).collect()
        };
        Self {
            marks: RTree::bulk_load(marks),
            labels: RTree::new(),
            frame: Box2::from_corners([window.left, window.top], [window.right(), window.bottom()]),
        }
    }

    /// A trackway's label stands at its start, else at its end or along it, at last upon prints or nowhere.
    fn name_trackway(
        &mut self,
        midline: &Midline,
        letter: f64,
        rather_over_marks: bool,
        placed: &mut Vec<Placed>,
    ) -> bool {
        let line = &midline.line;
        let last = line.len() - 1;
        let anchors = [0, last, last / 4, last / 2, last * 3 / 4].map(|i| line[i]);
        let text = midline.trackway.label.as_str();
        let size = [text_width(text, letter), letter];
        for over_marks in [false, true]
            .into_iter()
            .filter(|over| rather_over_marks || !over)
        {
            for reach in [7.0, 14.0, 24.0] {
                let areas = anchors.iter().flat_map(|at| around(*at, [reach; 2], size));
                if let Some(area) = self.first_free(areas, over_marks) {
                    self.take(area, text, letter, Some(midline.trackway.status), placed);
                    return true;
                }
            }
        }
        false
    }

    fn name_print(
        &mut self,
        print: &Print,
        detail: Detail,
        window: &Window,
        placed: &mut Vec<Placed>,
    ) -> bool {
        let at = window.at([print.easting_m, print.northing_m]);
        let text = print.label.as_str();
        let size = [text_width(text, PRINT_SIZE), PRINT_SIZE];
        let [across, along] = half_box(print, window, detail);
        let areas = [1.0, 5.0]
            .into_iter()
            .flat_map(|gap| around(at, [across + CLEAR + gap, along + CLEAR + gap], size));
        let Some(area) = self.first_free(areas, false) else {
            return false;
        };
        self.take(area, text, PRINT_SIZE, None, placed);
        true
    }

    fn first_free(&self, areas: impl Iterator<Item = Box2>, over_marks: bool) -> Option<Box2> {
        let mut areas = areas;
        areas.find(|area| {
            let wider = Box2::from_corners(area.lower().map(|v| v - CLEAR), area.upper().map(|v| v + CLEAR));
            let taken = |tree: &RTree<Rectangle<[f64; 2]>>| {
                tree.locate_in_envelope_intersecting(wider).next().is_some()
            };
            rstar::Envelope::contains_envelope(&self.frame, &wider)
                && !taken(&self.labels)
                && (over_marks || !taken(&self.marks))
        })
    }

    fn take(&mut self, area: Box2, text: &str, size: f64, status: Option<Status>, placed: &mut Vec<Placed>) {
        self.labels.insert(Rectangle::from_aabb(area));
        placed.push(Placed {
            text: text.to_owned(),
            area,
            size,
            status,
        });
    }
}

/// The boxes of a text on the eight sides of a mark that reaches so far across and along.
fn around(at: [f64; 2], reach: [f64; 2], size: [f64; 2]) -> impl Iterator<Item = Box2> {
    SIDES.into_iter().map(move |side| {
        // On a slant, the corner of the text lies on the mark's rim, not on the corner of its box.
        let slant = if side[0] * side[1] == 0.0 {
            1.0
        } else {
            std::f64::consts::FRAC_1_SQRT_2
        };
        let middle = [0, 1].map(|k| at[k] + side[k] * (slant * reach[k] + 0.5 * size[k]));
        Box2::from_corners(
            [0, 1].map(|k| middle[k] - 0.5 * size[k]),
            [0, 1].map(|k| middle[k] + 0.5 * size[k]),
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

/// The labels as text with a rim of paper.
pub(super) fn draw(labels: &Labels) -> String {
    let mut svg = String::from(
        "<g stroke=\"#fffdf8\" stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\" text-anchor=\"middle\">",
    );
    for status in [None, Some(Status::Proposed), Some(Status::Accepted)] {
        let look = match status {
            None => format!("font-size=\"{PRINT_SIZE}\" fill=\"#3a3631\""),
            Some(status) => {
                format!(
                    "font-size=\"{}\" font-weight=\"bold\" fill=\"{}\"",
                    Px(labels.trackway_size),
                    midlines::colour(status)
                )
            }
        };
        let _ = write!(svg, "<g {look}>");
        for label in labels.placed.iter().filter(|label| label.status == status) {
            let (x, y) = (
                0.5 * (label.area.lower()[0] + label.area.upper()[0]),
                label.area.upper()[1] - 0.16 * label.size,
            );
            let _ = write!(
                svg,
                "<text x=\"{}\" y=\"{}\">{}</text>",
                Px(x),
                Px(y),
                Escaped(&label.text)
            );
        }
        svg += "</g>";
    }
    svg + "</g>"
}
