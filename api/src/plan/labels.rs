//! Labels that do not collide: each takes the first free one of its places, in order of weight.

use super::ground::{Area, Ground, around, centre};
use super::midlines::{self, Midline};
use super::prints::{Detail, half_box};
use super::window::Window;
use crate::ink::{BOLDER, Escaped, Px, text_width};
use spatial::model::{Print, Status};
use std::fmt::Write;

/// Above so many prints their labels would only be a grey carpet.
pub(super) const MOST_PRINT_LABELS: usize = 500;
const MOST_TRACKWAY_LABELS: usize = 400;
/// Among more trackways a label upon prints could no longer be told from its neighbours.
const MOST_LABELS_OVER_MARKS: usize = 80;
const PRINT_SIZE: f64 = 11.0;
const TRACKWAY_SIZE: f64 = 17.0;

/// A label with its place.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    text: String,
    pub(super) area: Area,
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
    place_on(&mut ground, prints, detail, midlines, window)
}

/// Places the labels where the ground is still free.
pub(super) fn place_on(
    ground: &mut Ground,
    prints: &[Print],
    detail: Detail,
    midlines: &[Midline],
    window: &Window,
) -> Labels {
    let mut labels = Labels::default();
    name_trackways(midlines, ground, &mut labels);
    if prints.len() > MOST_PRINT_LABELS {
        labels.prints_without = prints.len();
        return labels;
    }
    for print in prints {
        let named = name_print(print, detail, window, ground, &mut labels.placed);
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
        let named = name_trackway(
            midline,
            labels.trackway_size,
            rather_over_marks,
            ground,
            &mut labels.placed,
        );
        labels.trackways_without += usize::from(!named);
    }
}

/// A trackway's label stands at its start, else at its end or along it; at last upon prints, or nowhere.
fn name_trackway(
    midline: &Midline,
    letter: f64,
    rather_over_marks: bool,
    ground: &mut Ground,
    placed: &mut Vec<Placed>,
) -> bool {
    let line = &midline.line;
    let last = line.len() - 1;
    let anchors = [0, last, last / 4, last / 2, last * 3 / 4].map(|i| line[i]);
    let text = midline.trackway.label.as_str();
    let size = [text_width(text, BOLDER * letter), letter];
    let areas: Vec<Area> = [5.5, 12.0, 22.0]
        .iter()
        .flat_map(|reach| anchors.iter().flat_map(|at| around(*at, [*reach; 2], size)))
        .collect();
    let free = |over_marks| areas.iter().find(|area| ground.is_free(area, over_marks));
    let found = free(false).or_else(|| if rather_over_marks { free(true) } else { None });
    take(
        found.copied(),
        text,
        letter,
        Some(midline.trackway.status),
        ground,
        placed,
    )
}

fn name_print(
    print: &Print,
    detail: Detail,
    window: &Window,
    ground: &mut Ground,
    placed: &mut Vec<Placed>,
) -> bool {
    let at = centre(print, window);
    let text = print.label.as_str();
    let size = [text_width(text, PRINT_SIZE), PRINT_SIZE];
    let reach = half_box(print, window, detail);
    let mut areas = [1.0, 5.0, 9.0]
        .into_iter()
        .flat_map(|gap| around(at, reach.map(|r| r + gap), size));
    let found = areas.find(|area| ground.is_free(area, false) && ground.belongs(area, at));
    take(found, text, PRINT_SIZE, None, ground, placed)
}

/// Notes a label with the place that was found, if one was.
fn take(
    found: Option<Area>,
    text: &str,
    size: f64,
    status: Option<Status>,
    ground: &mut Ground,
    placed: &mut Vec<Placed>,
) -> bool {
    let Some(area) = found else { return false };
    ground.take(area);
    placed.push(Placed {
        text: text.to_owned(),
        area,
        size,
        status,
    });
    true
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
