//! The key to the marks of prints: of what occurs on the surface, and no more.

use super::kinds::Kinds;
use super::legend::{Row, Section};
use super::outlines::{
    ASSUMED_RATIO, LONGEST_M, is_believable, known_azimuth_rad, known_width_m, print_shape,
};
use super::prints::{CELL, Detail, RIM, SHORTEST_PIN, cross, outline_marks, pins};
use super::window::Window;
use spatial::model::{Label, Print, Side};

/// The key, if there is any print.
pub(super) fn key(prints: &[Print], detail: Detail, kinds: &Kinds, window: &Window) -> Option<Section> {
    let class = kinds.class(prints.first()?);
    Some(match detail {
        Detail::Outlines => Section::new("Prints, to scale", outline_rows(prints, &kinds.fill(class))),
        Detail::Pins => Section::new("Prints", pin_rows(kinds.line(class), window)),
        Detail::Cells => Section::new("Prints", vec![cell_row(window)]),
    })
}

/// A print of the key, half a metre long.
pub(super) fn sample(azimuth_deg: Option<f64>, side: Option<Side>) -> Print {
    let label: Label = "sample".parse().expect("the word is a label");
    let mut print = Print::new(label, 0.0, 0.0, 0.5);
    (print.width_m, print.azimuth_deg, print.side) = (Some(0.38), azimuth_deg, side);
    print
}

fn outline_rows(prints: &[Print], fill: &str) -> Vec<Row> {
    let drawn: Vec<&Print> = prints.iter().filter(|print| is_believable(print)).collect();
    let mark = |print: &Print, solid| {
        let marks = outline_marks(&Row::window(), &print_shape(print), fill, solid);
        format!("<g {RIM}>{marks}</g>")
    };
    let mut rows = Vec::new();
    for (azimuth_deg, side, words) in [
        (Some(0.0), Some(Side::Left), "left foot, pointing up"),
        (Some(0.0), Some(Side::Right), "right foot, pointing up"),
        (Some(0.0), None, "side unknown, pointing up"),
        (None, Some(Side::Left), "left foot, azimuth unknown"),
        (None, Some(Side::Right), "right foot, azimuth unknown"),
        (None, None, "side and azimuth unknown"),
    ] {
        let alike = |print: &&Print| {
            print.side == side && known_azimuth_rad(print).is_some() == azimuth_deg.is_some()
        };
        if drawn.iter().any(alike) {
            rows.push(Row::of(mark(&sample(azimuth_deg, side), true), words));
        }
    }
    if drawn
        .iter()
        .any(|print| known_azimuth_rad(print).is_some() && known_width_m(print).is_none())
    {
        let mut print = sample(Some(0.0), Some(Side::Right));
        print.width_m = None;
        let words = format!("width unknown, drawn at {ASSUMED_RATIO} of the length");
        rows.push(Row::of(mark(&print, false), &words));
    }
    let wild = prints.len() - drawn.len();
    if wild > 0 {
        let mark = format!("<g {RIM}>{}</g>", cross(Row::MIDDLE));
        rows.push(Row::of(
            mark,
            &format!("length doubtful (none, or over {LONGEST_M} m) and not drawn ({wild})"),
        ));
    }
    rows
}

fn pin_rows(colour: &str, window: &Window) -> Vec<Row> {
    let mark = |azimuth_deg| pins([sample(azimuth_deg, None)].iter(), colour, &Row::window());
    let shortest_m = SHORTEST_PIN / window.px_per_m;
    let simplified = format!(
        "Too small or too many to outline here: prints shorter than {shortest_m:.2} m are drawn as long as \
         that; width and side are not drawn."
    );
    vec![
        Row::of(mark(Some(0.0)), "from heel to front; the head is the front"),
        Row::of(mark(None), "azimuth unknown"),
        Row::words(&simplified),
    ]
}

fn cell_row(window: &Window) -> Row {
    let cell_m = CELL / window.px_per_m;
    Row::words(&format!(
        "Too many prints, or too small, to draw one by one: each inked cell, {cell_m:.2} m across, holds one \
         print or more."
    ))
}
