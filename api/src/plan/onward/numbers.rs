//! The numbers on the map: ranks in or beside their squares, and how many prints on a predicted one is.

use super::super::ground::{Area, Ground, around};
use super::super::window::Window;
use super::squares::Mark;
use super::steps::ARM;
use super::{Step, table};
use crate::ink::{BOLDER, Escaped, Path, Px, text_width};
use rstar::Envelope;
use std::fmt::Write;

/// The letters of a rank, where there is room, and the smallest that can be read outdoors.
const RANK_SIZES: [f64; 2] = [16.0, 13.0];
const STEP_SIZE: f64 = 13.0;
/// How much of its size a line of digits is high.
const DIGITS: f64 = 0.78;
/// How far a number may stand from its square, at the end of a line to it.
const FAR: [f64; 6] = [14.0, 26.0, 42.0, 62.0, 88.0, 120.0];

/// A number with its place.
#[derive(Debug)]
pub(super) struct Number {
    text: String,
    pub(super) area: Area,
    size: f64,
    /// Where a line from the number ends, if it does not stand at its mark.
    leads_to: Option<[f64; 2]>,
}

/// The numbers of the squares that found a place, in order of rank, and how many did not.
pub(super) fn ranks(marks: &[Mark], ground: &mut Ground) -> (Vec<Number>, usize) {
    let boxes: Vec<Area> = marks
        .iter()
        .map(|mark| Area::from_corners(mark.low, mark.high))
        .collect();
    let mut numbers = Vec::new();
    for (mark, own) in marks.iter().zip(&boxes) {
        if let Some(number) = rank(mark.rank, own, &boxes, ground) {
            ground.take(number.area);
            numbers.push(number);
        }
    }
    let without = marks.len() - numbers.len();
    (numbers, without)
}

/// A rank stands inside its square, else beside it and well away from others; those that the table lists
/// else lead to it.
fn rank(rank: usize, own: &Area, boxes: &[Area], ground: &Ground) -> Option<Number> {
    let text = rank.to_string();
    let inside = RANK_SIZES.into_iter().find_map(|letter| {
        let areas = inside(own, extent(&text, letter));
        let free = |over_marks| areas.iter().find(|area| ground.is_free(area, over_marks));
        Some((*free(false).or_else(|| free(true))?, letter, None))
    });
    let (area, size, leads_to) = inside.or_else(|| outside(rank, &text, own, boxes, ground))?;
    Some(Number {
        text,
        area,
        size,
        leads_to,
    })
}

/// A place outside the square, the size of the letters, and where a line from there must lead.
fn outside(
    rank: usize,
    text: &str,
    own: &Area,
    boxes: &[Area],
    ground: &Ground,
) -> Option<(Area, f64, Option<[f64; 2]>)> {
    let listed = rank <= table::MOST;
    let letter = RANK_SIZES[0];
    let size = extent(text, letter);
    let clear = if listed { 3.0 } else { letter };
    let alone = |area: &Area| {
        let wide = Area::from_corners(area.lower().map(|v| v - clear), area.upper().map(|v| v + clear));
        let mut others = boxes.iter().filter(|other| *other != own);
        !area.intersects(own) && !others.any(|other| other.intersects(&wide))
    };
    let (middle, reach) = (own.center(), half(own));
    let find = |gap: f64, over_marks: bool| {
        around(middle, reach.map(|r| r + gap), size)
            .find(|area| alone(area) && ground.is_free(area, over_marks))
    };
    if let Some(area) = find(2.0, false) {
        return Some((area, letter, None));
    }
    let far = |over_marks| FAR.into_iter().find_map(|gap| find(gap, over_marks));
    let area = if listed {
        far(false).or_else(|| far(true))
    } else {
        None
    };
    area.map(|area| (area, letter, Some(middle)))
}

/// The middle and the corners of a box that is large enough to hold a text.
fn inside(own: &Area, size: [f64; 2]) -> Vec<Area> {
    const ROOM: f64 = 4.0;
    let (middle, half) = (own.center(), half(own));
    let spare = [0, 1].map(|k| half[k] - 0.5 * size[k] - ROOM);
    if spare[0] < -2.0 || spare[1] < -2.0 {
        return Vec::new();
    }
    let spare = spare.map(|s| s.max(0.0));
    [[0.0, 0.0], [-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0], [1.0, 1.0]]
        .map(|way: [f64; 2]| centred([0, 1].map(|k| middle[k] + way[k] * spare[k]), size))
        .to_vec()
}

/// The numbers of the predicted prints; one that finds no place is left out.
pub(super) fn step_numbers(steps: &[&Step], window: &Window, ground: &mut Ground) -> Vec<Number> {
    let mut numbers = Vec::new();
    for step in steps {
        let (at, text) = (window.at(step.at), format!("+{}", step.number));
        let size = extent(&text, STEP_SIZE);
        let areas: Vec<Area> = [ARM, ARM + 4.0]
            .into_iter()
            .flat_map(|reach| around(at, [reach; 2], size))
            .collect();
        let free = |over_marks| areas.iter().find(|area| ground.is_free(area, over_marks));
        let Some(area) = free(false).or_else(|| free(true)).copied() else {
            continue;
        };
        ground.take(area);
        numbers.push(Number {
            text,
            area,
            size: STEP_SIZE,
            leads_to: None,
        });
    }
    numbers
}

/// The width and height of bold digits.
fn extent(text: &str, size: f64) -> [f64; 2] {
    [text_width(text, BOLDER * size), DIGITS * size]
}

fn centred(at: [f64; 2], size: [f64; 2]) -> Area {
    Area::from_corners(
        [0, 1].map(|k| at[k] - 0.5 * size[k]),
        [0, 1].map(|k| at[k] + 0.5 * size[k]),
    )
}

fn half(area: &Area) -> [f64; 2] {
    [0, 1].map(|k| 0.5 * (area.upper()[k] - area.lower()[k]))
}

/// The numbers as bold text with a rim of paper, in one ink; `look` adds attributes.
pub(super) fn draw(numbers: &[Number], look: &str, ink: &str) -> String {
    let mut leaders = Path::default();
    for number in numbers {
        if let Some(to) = number.leads_to {
            leaders.move_to(nearest_on(&number.area, to));
            leaders.line_to(to);
        }
    }
    let mut svg = super::steps::rimmed(&leaders, ink, 1.2);
    let _ = write!(
        svg,
        "<g{look} fill=\"{ink}\" font-weight=\"bold\" text-anchor=\"middle\" stroke=\"#fffdf8\" stroke-width=\"4.5\" \
         stroke-linejoin=\"round\" paint-order=\"stroke\">"
    );
    for number in numbers {
        let [x, y] = number.area.center();
        let _ = write!(
            svg,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\">{}</text>",
            Px(x),
            Px(y + 0.36 * number.size),
            number.size,
            Escaped(&number.text)
        );
    }
    svg + "</g>"
}

/// The place on a box nearest to another place.
fn nearest_on(area: &Area, to: [f64; 2]) -> [f64; 2] {
    [0, 1].map(|k| to[k].clamp(area.lower()[k], area.upper()[k]))
}
