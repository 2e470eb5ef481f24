//! The key to what is laid over the plan, each mark in words, and what the map leaves out.

use super::super::legend::{Row, Section};
use super::super::midlines::{self, Midline};
use super::Onward;
use super::steps::{CORRIDOR, INK, REGION_50, REGION_95, crosses, rimmed};
use crate::ink::{Path, grouped};

/// How much heavier trackways that should go on are drawn, and how much lighter the others.
pub(super) const STRONG: f64 = 1.8;
pub(super) const STRONG_ARROW: f64 = 1.3;
pub(super) const FAINT: f64 = 0.6;
/// The ring around a candidate in the key.
const RING: f64 = 12.0;
pub(super) const RING_INK: &str = "#23201c";

/// The marks of the way on that occur; `None` where there are none. `crowded` says how many predicted
/// prints are not drawn.
pub(super) fn way(onward: &Onward, strong: &[Midline], crowded: usize) -> Option<Section> {
    let mut rows: Vec<Row> = Vec::new();
    let mut statuses: Vec<_> = strong.iter().map(|midline| midline.trackway.status).collect();
    statuses.dedup();
    if let Some(status) = statuses.first() {
        let words = "heavy line: should go on";
        rows.push(Row::of(midlines::swatch(*status, STRONG), words));
    }
    if !onward.corridors.is_empty() {
        let mark = format!("<rect x=\"1\" y=\"6\" width=\"34\" height=\"22\" {CORRIDOR}/>");
        rows.push(Row::of(mark, "corridor of the way on"));
    }
    if !onward.steps.is_empty() {
        rows.extend(predicted());
    }
    if crowded > 0 {
        let words = format!(
            "{} predicted prints are not drawn, for they would crowd; +1, +2, +5, +10 … are.",
            grouped(crowded as i64)
        );
        rows.push(Row::words(&words));
    }
    if !onward.candidates.is_empty() {
        rows.push(Row::of(
            rings([(Row::MIDDLE, RING)].into_iter()),
            "recorded print, maybe the next",
        ));
    }
    (!rows.is_empty()).then(|| Section::new("The way on", rows))
}

fn predicted() -> [Row; 3] {
    let number = format!(
        "<text x=\"18\" y=\"14\" font-size=\"13\" font-weight=\"bold\" font-style=\"italic\" fill=\"{INK}\">+3</text>"
    );
    let cross = crosses([[11.0, 20.0]].into_iter()) + &number;
    let ellipse = |look: &str| format!("<ellipse cx=\"18\" cy=\"17\" rx=\"16\" ry=\"11\" {look}/>");
    [
        Row::of(cross, "predicted print: +1 is the next one, +3 the third"),
        Row::of(ellipse(REGION_50), "where it lies with 50 % probability"),
        Row::of(ellipse(REGION_95), "where it lies with 95 % probability"),
    ]
}

/// Open rings: places on the page with their radius.
pub(super) fn rings(places: impl Iterator<Item = ([f64; 2], f64)>) -> String {
    let mut path = Path::default();
    for ([x, y], radius) in places {
        path.move_to([x, y - radius]);
        for to in [[x + radius, y], [x, y + radius], [x - radius, y], [x, y - radius]] {
            path.arc_to(radius, to);
        }
    }
    rimmed(&path, RING_INK, 2.0)
}

/// What lies on the map and what it leaves out.
pub(super) struct Counts {
    pub(super) prints: usize,
    pub(super) prints_of_surface: usize,
    pub(super) squares_left_out: usize,
    pub(super) ranks_left_out: usize,
    pub(super) unlabelled: Vec<String>,
}

/// The counts in words.
pub(super) fn on_this_map(counts: &Counts) -> Section {
    let number = |count: usize| grouped(count as i64);
    let mut rows = vec![Row::words(&format!(
        "{} of the surface's {} prints",
        number(counts.prints),
        number(counts.prints_of_surface)
    ))];
    if counts.squares_left_out > 0 {
        rows.push(Row::words(&format!(
            "Less probable squares not drawn: {}",
            number(counts.squares_left_out)
        )));
    }
    if counts.ranks_left_out > 0 {
        rows.push(Row::words(&format!(
            "Squares without their number, for want of room: {}",
            number(counts.ranks_left_out)
        )));
    }
    rows.extend(counts.unlabelled.iter().map(|line| Row::words(line)));
    Section::new("On this map", rows)
}
