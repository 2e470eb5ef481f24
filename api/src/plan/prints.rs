//! Prints on the page: outlines to scale where there is room, else pins, else cells.

use super::ink::{Escaped, Path, Px};
use super::kinds::{CLASSES, Kinds};
use super::legend::{Row, Section};
use super::outlines::{self, Outline, PrintShape, is_believable, print_shape};
use super::window::Window;
use spatial::model::{Label, Limb, Print, Side};
use std::collections::BTreeSet;
use std::fmt::Write;

/// How much of a print the page shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Detail {
    /// The outline to scale.
    Outlines,
    /// A line from heel to front with a head at its front, at least [`SHORTEST_PIN`] long.
    Pins,
    /// Cells of the page with one print or more.
    Cells,
}

/// Below this length on the page an outline's side can no longer be read.
const SHORTEST_OUTLINE: f64 = 6.0;
/// Each outline takes some 300 bytes; the plan must stay small enough for an HTML page.
const MOST_OUTLINES: usize = 3_000;
const SHORTEST_PIN: f64 = 6.0;
/// Below this room for each print on the page pins run into each other.
const LEAST_ROOM_FOR_PIN: f64 = 60.0;
const CELL: f64 = 2.0;

/// Attributes of a group of outlines.
pub(super) const RIM: &str = "fill=\"#fffdf8\" stroke=\"#23201c\" stroke-width=\"1\" stroke-linejoin=\"round\" fill-rule=\"evenodd\"";
const DASHED: &str = " stroke-dasharray=\"2.6 1.8\"";

impl Detail {
    /// The most detail that the prints have room for.
    pub(super) fn of(prints: &[Print], window: &Window) -> Self {
        let length = median_length_m(prints) * window.px_per_m;
        let room = window.width * window.height / prints.len().max(1) as f64;
        if prints.len() <= MOST_OUTLINES && length >= SHORTEST_OUTLINE {
            Self::Outlines
        } else if room >= LEAST_ROOM_FOR_PIN {
            Self::Pins
        } else {
            Self::Cells
        }
    }
}

/// The median of the lengths that can be true; 0 without any.
fn median_length_m(prints: &[Print]) -> f64 {
    let mut lengths: Vec<f64> = prints.iter().filter(|p| is_believable(p)).map(|p| p.length_m).collect();
    lengths.sort_unstable_by(f64::total_cmp);
    lengths.get(lengths.len() / 2).copied().unwrap_or(0.0)
}

/// All prints.
pub(super) fn draw(prints: &[Print], detail: Detail, kinds: &Kinds, window: &Window) -> String {
    match detail {
        Detail::Outlines => draw_outlines(prints, kinds, window),
        Detail::Pins => draw_pins(prints, kinds, window),
        Detail::Cells => draw_cells(prints, kinds, window),
    }
}

fn draw_outlines(prints: &[Print], kinds: &Kinds, window: &Window) -> String {
    let mut svg = format!("<g {RIM}>");
    for print in prints {
        let marks = if is_believable(print) {
            let known = outlines::known_width_m(print).is_some() || print.azimuth_deg.is_none();
            outline_marks(window, &print_shape(print), &kinds.fill(kinds.class(print)), known)
        } else {
            cross(window.at([print.easting_m, print.northing_m]))
        };
        let _ = write!(svg, "<g><title>{}</title>{marks}</g>", Escaped(&in_words(print)));
    }
    svg + "</g>"
}

/// The rim and the ink of one print; `solid` is false where the width is assumed.
pub(super) fn outline_marks(window: &Window, shape: &PrintShape, fill: &str, solid: bool) -> String {
    let (mut body, mut ink) = (Path::default(), Path::default());
    trace(&mut body, &shape.body, window);
    shape.ink.iter().for_each(|outline| trace(&mut ink, outline, window));
    let dash = if solid { "" } else { DASHED };
    format!("<path d=\"{body}\"{dash}/><path d=\"{ink}\" fill=\"{fill}\" stroke-width=\".6\"/>")
}

fn trace(path: &mut Path, outline: &Outline, window: &Window) {
    path.move_to(window.at(outline.start));
    for curve in &outline.curves {
        path.curve_to(&curve.map(|point| window.at(point)));
    }
    path.close();
}

/// The mark of a print whose length cannot be drawn.
fn cross([x, y]: [f64; 2]) -> String {
    let mut path = Path::default();
    for slope in [1.0, -1.0] {
        path.move_to([x - 4.5, y - slope * 4.5]);
        path.line_to([x + 4.5, y + slope * 4.5]);
    }
    format!("<path d=\"{path}\" stroke-width=\"1.8\"/>")
}

/// What is known of a print, for whoever points at it.
fn in_words(print: &Print) -> String {
    let mut words = format!("{}:", print.label);
    let known = [print.side.map(Side::name), print.limb.map(Limb::name), print.morphotype.as_deref()];
    for word in known.into_iter().flatten() {
        let _ = write!(words, " {word},");
    }
    let _ = write!(words, " {:.2} m long", print.length_m);
    if let Some(azimuth_deg) = print.azimuth_deg {
        let _ = write!(words, ", azimuth {azimuth_deg:.0}°");
    }
    words
}

fn draw_pins(prints: &[Print], kinds: &Kinds, window: &Window) -> String {
    let mut svg = String::from("<g fill=\"none\" stroke-linecap=\"round\">");
    for class in 0..CLASSES {
        let (mut shafts, mut heads) = (Path::default(), Path::default());
        for print in prints.iter().filter(|print| kinds.class(print) == class) {
            pin(print, window, &mut shafts, &mut heads);
        }
        if !heads.is_empty() {
            let line = kinds.line(class);
            let _ = write!(
                svg,
                "<path d=\"{shafts}\" stroke=\"{line}\"/><path d=\"{heads}\" stroke=\"{line}\" stroke-width=\"3\"/>"
            );
        }
    }
    svg + "</g>"
}

fn pin(print: &Print, window: &Window, shafts: &mut Path, heads: &mut Path) {
    let [x, y] = window.at([print.easting_m, print.northing_m]);
    let mut head = [x, y];
    if let Some(azimuth_rad) = outlines::known_azimuth_rad(print) {
        let length = if is_believable(print) { print.length_m * window.px_per_m } else { 0.0 };
        let half = 0.5 * length.max(SHORTEST_PIN);
        let (east, south) = (half * azimuth_rad.sin(), -half * azimuth_rad.cos());
        head = [x + east, y + south];
        shafts.move_to([x - east, y - south]);
        shafts.line_to(head);
    }
    heads.move_to(head);
    heads.line_to(head);
}

fn draw_cells(prints: &[Print], kinds: &Kinds, window: &Window) -> String {
    let mut cells = vec![BTreeSet::new(); CLASSES];
    for print in prints {
        let [x, y] = window.at([print.easting_m, print.northing_m]);
        cells[kinds.class(print)].insert([(y / CELL).floor() as i64, (x / CELL).floor() as i64]);
    }
    let mut svg = format!("<g fill=\"none\" stroke-width=\"{}\">", Px(CELL));
    for (class, cells) in cells.iter().enumerate().filter(|(_, cells)| !cells.is_empty()) {
        let _ = write!(svg, "<path d=\"{}\" stroke=\"{}\"/>", rows_of(cells), kinds.line(class));
    }
    svg + "</g>"
}

/// Cells that touch in a row are drawn as one line.
fn rows_of(cells: &BTreeSet<[i64; 2]>) -> Path {
    let mut path = Path::default();
    let mut cells = cells.iter().peekable();
    while let Some([row, first]) = cells.next() {
        let mut last = *first;
        while cells.next_if_eq(&&[*row, last + 1]).is_some() {
            last += 1;
        }
        let y = (*row as f64 + 0.5) * CELL;
        path.move_to([*first as f64 * CELL, y]);
        path.line_to([(last + 1) as f64 * CELL, y]);
    }
    path
}

/// Half the box of a print on the page, across and along it; what labels must keep clear of.
pub(super) fn half_box(print: &Print, window: &Window, detail: Detail) -> [f64; 2] {
    if detail != Detail::Outlines || !is_believable(print) {
        return [0.5 * SHORTEST_PIN; 2];
    }
    let length = print.length_m * window.px_per_m;
    let Some(azimuth_rad) = outlines::known_azimuth_rad(print) else {
        return [0.5 * length; 2];
    };
    let width = outlines::drawn_width_m(print) * window.px_per_m;
    let (sine, cosine) = (azimuth_rad.sin().abs(), azimuth_rad.cos().abs());
    [0.5 * (length * sine + width * cosine), 0.5 * (length * cosine + width * sine)]
}

/// A print for the key.
pub(super) fn sample(azimuth_deg: Option<f64>, side: Option<Side>) -> Print {
    let label: Label = "sample".parse().expect("the word is a label");
    let mut print = Print::new(label, 0.0, 0.0, 0.5);
    (print.width_m, print.azimuth_deg, print.side) = (Some(0.38), azimuth_deg, side);
    print
}

/// The key to the marks that occur.
pub(super) fn key(prints: &[Print], detail: Detail, kinds: &Kinds, window: &Window) -> Option<Section> {
    if prints.is_empty() {
        return None;
    }
    let rows = match detail {
        Detail::Outlines => outline_rows(prints, &kinds.fill(kinds.class(&prints[0]))),
        Detail::Pins => pin_rows(kinds.line(kinds.class(&prints[0])), window),
        Detail::Cells => vec![Row::words(&format!(
            "Too many prints to draw one by one: each inked cell, {:.2} m across, holds one print or more.",
            CELL / window.px_per_m
        ))],
    };
    Some(Section::new(if detail == Detail::Outlines { "Prints, to scale" } else { "Prints" }, rows))
}

fn outline_rows(prints: &[Print], fill: &str) -> Vec<Row> {
    let believable = || prints.iter().filter(|print| is_believable(print));
    let pointing = |print: &Print| outlines::known_azimuth_rad(print).is_some();
    let sides = [
        (Some(Side::Left), "left foot, pointing up", "left foot, azimuth unknown"),
        (Some(Side::Right), "right foot, pointing up", "right foot, azimuth unknown"),
        (None, "side unknown, pointing up", "side and azimuth unknown"),
    ];
    let drawn = |print: &Print, solid| {
        format!("<g {RIM}>{}</g>", outline_marks(&Row::window(), &print_shape(print), fill, solid))
    };
    let mut rows = Vec::new();
    for (azimuth_deg, with_azimuth) in [(Some(0.0), true), (None, false)] {
        for (side, front, round) in sides {
            if believable().any(|print| print.side == side && pointing(print) == with_azimuth) {
                let words = if with_azimuth { front } else { round };
                rows.push(Row::of(drawn(&sample(azimuth_deg, side), true), words));
            }
        }
    }
    if believable().any(|print| pointing(print) && outlines::known_width_m(print).is_none()) {
        let words = format!("width unknown, drawn at {} of the length", outlines::ASSUMED_RATIO);
        let mut narrow = sample(Some(0.0), Some(Side::Right));
        narrow.width_m = None;
        rows.push(Row::of(drawn(&narrow, false), &words));
    }
    let wild = prints.len() - believable().count();
    if wild > 0 {
        let mark = format!("<g {RIM}>{}</g>", cross(Row::MIDDLE));
        let words = format!("length not drawn: none, or over {} m ({wild})", outlines::LONGEST_M);
        rows.push(Row::of(mark, &words));
    }
    rows
}

fn pin_rows(line: &str, window: &Window) -> Vec<Row> {
    let drawn = |print: &Print| {
        let (mut shafts, mut heads) = (Path::default(), Path::default());
        pin(print, &Row::window(), &mut shafts, &mut heads);
        format!(
            "<g fill=\"none\" stroke=\"{line}\" stroke-linecap=\"round\"><path d=\"{shafts}\"/>\
             <path d=\"{heads}\" stroke-width=\"3\"/></g>"
        )
    };
    vec![
        Row::of(drawn(&sample(Some(0.0), None)), "from heel to front; the head is the front"),
        Row::of(drawn(&sample(None, None)), "azimuth unknown"),
        Row::words(&format!(
            "Too small or too many to outline here: prints shorter than {:.2} m are drawn as long as that; width and side are not drawn.",
            SHORTEST_PIN / window.px_per_m
        )),
    ]
}
