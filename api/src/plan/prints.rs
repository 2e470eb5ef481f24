//! Prints on the page: outlines to scale where there is room, else pins, else cells.

use super::kinds::{CLASSES, Kinds};
use super::outlines::{self, Outline, PrintShape, is_believable, print_shape};
use super::window::Window;
use crate::ink::{Escaped, Path, Px};
use spatial::model::{Limb, Print, Side};
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
/// Each outline takes some 400 bytes; the plan must stay small enough for an HTML page.
const MOST_OUTLINES: usize = 2_000;
pub(super) const SHORTEST_PIN: f64 = 4.5;
/// Pins of prints much smaller than a pin would cover each other in a trackway, unless there are few.
const SHORTEST_FOR_PIN: f64 = 1.5;
const FEW: usize = 500;
/// Below this room for each print on the page pins run into each other.
const LEAST_ROOM_FOR_PIN: f64 = 60.0;
pub(super) const CELL: f64 = 2.0;

/// Half the size of the mark of a print that cannot be drawn.
const CROSS: f64 = 4.5;
/// Attributes of a group of outlines.
pub(super) const RIM: &str =
    "fill=\"#fffdf8\" stroke=\"#23201c\" stroke-width=\"1\" stroke-linejoin=\"round\" fill-rule=\"evenodd\"";
const DASHED: &str = " stroke-dasharray=\"2.6 1.8\"";

impl Detail {
    /// The most detail that the prints have room for.
    pub(super) fn of(prints: &[Print], window: &Window) -> Self {
        // Where no length can be true, nothing is too small to outline.
        let length = median_length_m(prints).map_or(f64::MAX, |length_m| length_m * window.px_per_m);
        let room = window.width * window.height / prints.len().max(1) as f64;
        if prints.len() <= MOST_OUTLINES && length >= SHORTEST_OUTLINE {
            Self::Outlines
        } else if room >= LEAST_ROOM_FOR_PIN && (length >= SHORTEST_FOR_PIN || prints.len() <= FEW) {
            Self::Pins
        } else {
            Self::Cells
        }
    }
}

/// The median of the lengths that can be true.
fn median_length_m(prints: &[Print]) -> Option<f64> {
    let mut lengths: Vec<f64> = prints
        .iter()
        .filter(|p| is_believable(p))
        .map(|p| p.length_m)
        .collect();
    lengths.sort_unstable_by(f64::total_cmp);
    lengths.get(lengths.len() / 2).copied()
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
            outline_marks(
                window,
                &print_shape(print),
                &kinds.fill(kinds.class(print)),
                known,
            )
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
    shape
        .ink
        .iter()
        .for_each(|outline| trace(&mut ink, outline, window));
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
pub(super) fn cross([x, y]: [f64; 2]) -> String {
    let mut path = Path::default();
    for slope in [1.0, -1.0] {
        path.move_to([x - CROSS, y - slope * CROSS]);
        path.line_to([x + CROSS, y + slope * CROSS]);
    }
    format!("<path d=\"{path}\" stroke-width=\"1.8\"/>")
}

/// What is known of a print, for whoever points at it.
fn in_words(print: &Print) -> String {
    let mut words = format!("{}:", print.label);
    let known = [
        print.side.map(Side::name),
        print.limb.map(Limb::name),
        print.morphotype.as_deref(),
    ];
    for word in known.into_iter().flatten() {
        let _ = write!(words, " {word},");
    }
    words += &if is_believable(print) {
        format!(" {:.2} m long", print.length_m)
    } else {
        " of doubtful length".to_owned()
    };
    if let Some(azimuth_rad) = outlines::known_azimuth_rad(print) {
        let _ = write!(words, ", azimuth {:.0}°", azimuth_rad.to_degrees());
    }
    words
}

fn draw_pins(prints: &[Print], kinds: &Kinds, window: &Window) -> String {
    let of_class = |class| prints.iter().filter(move |print| kinds.class(print) == class);
    (0..CLASSES)
        .map(|class| pins(of_class(class), kinds.line(class), window))
        .collect()
}

/// Pins of one colour.
pub(super) fn pins<'a>(prints: impl Iterator<Item = &'a Print>, colour: &str, window: &Window) -> String {
    let (mut shafts, mut heads) = (Path::default(), Path::default());
    prints.for_each(|print| pin(print, window, &mut shafts, &mut heads));
    if heads.is_empty() {
        return String::new();
    }
    format!(
        "<g fill=\"none\" stroke=\"{colour}\" stroke-linecap=\"round\">\
         <path d=\"{shafts}\" stroke-width=\".9\"/><path d=\"{heads}\" stroke-width=\"2.6\"/></g>"
    )
}

fn pin(print: &Print, window: &Window, shafts: &mut Path, heads: &mut Path) {
    let [x, y] = window.at([print.easting_m, print.northing_m]);
    let mut head = [x, y];
    if let Some(azimuth_rad) = outlines::known_azimuth_rad(print) {
        let length = if is_believable(print) {
            print.length_m * window.px_per_m
        } else {
            0.0
        };
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
        let _ = write!(
            svg,
            "<path d=\"{}\" stroke=\"{}\"/>",
            rows_of(cells),
            kinds.line(class)
        );
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
    if detail != Detail::Outlines {
        return [0.5 * SHORTEST_PIN; 2];
    }
    if !is_believable(print) {
        return [CROSS; 2];
    }
    let length = print.length_m * window.px_per_m;
    let Some(azimuth_rad) = outlines::known_azimuth_rad(print) else {
        return [0.5 * length; 2];
    };
    let width = outlines::drawn_width_m(print) * window.px_per_m;
    // The box of an ellipse as long and wide; the shield's flanks leave it by a fiftieth of its size at most.
    let (sine, cosine) = azimuth_rad.sin_cos();
    [
        0.5 * (length * sine).hypot(width * cosine),
        0.5 * (length * cosine).hypot(width * sine),
    ]
}
