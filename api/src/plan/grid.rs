//! The frame of the map, its grid ticks and their coordinates.

use super::window::Window;
use crate::ink::{Path, Px, grouped};
use std::fmt::Write;

/// Ticks stand at least so far apart, which leaves room for a coordinate of nine digits.
const CLOSEST: f64 = 110.0;
const TICK: f64 = 7.0;
const LABEL_SIZE: f64 = 13.0;
/// What the coordinates and their caption need left of the frame.
pub(super) const ROOM_FOR_NORTHINGS: f64 = 108.0;

/// The smallest of 1, 2 and 5 times a power of ten that is not below a length.
pub(super) fn round_step(at_least: f64) -> f64 {
    let power = 10f64.powf(at_least.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * power);
    steps
        .into_iter()
        .find(|step| *step >= at_least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

/// Multiples of a step between two coordinates, as whole numbers of steps.
fn multiples(from_m: f64, to_m: f64, step_m: f64) -> std::ops::RangeInclusive<i64> {
    (from_m / step_m).ceil() as i64..=(to_m / step_m).floor() as i64
}

/// A coordinate with thousands apart, and as many decimals as its step needs.
pub(super) fn coordinate(multiple: i64, step_m: f64) -> String {
    let decimals = (-step_m.log10().floor()).max(0.0) as usize;
    if decimals == 0 {
        return grouped((multiple as f64 * step_m).round() as i64);
    }
    let written = format!("{:.decimals$}", (multiple as f64 * step_m).abs());
    let (whole, rest) = written.split_once('.').unwrap_or((&written, ""));
    let sign = if multiple < 0 { "−" } else { "" };
    format!("{sign}{}.{rest}", grouped(whole.parse().unwrap_or(0)))
}

/// Small crosses where grid lines meet, to be drawn below the prints.
pub(super) fn draw_crosses(window: &Window) -> String {
    let (step_m, shown) = (round_step(CLOSEST / window.px_per_m), window.shown);
    let mut path = Path::default();
    for north in multiples(shown.south_m, shown.north_m, step_m) {
        for east in multiples(shown.west_m, shown.east_m, step_m) {
            let [x, y] = window.at([east as f64 * step_m, north as f64 * step_m]);
            path.move_to([x - 5.0, y]);
            path.line_to([x + 5.0, y]);
            path.move_to([x, y - 5.0]);
            path.line_to([x, y + 5.0]);
        }
    }
    format!("<path d=\"{path}\" fill=\"none\" stroke=\"#6f6a60\" stroke-width=\".8\"/>")
}

/// The frame, with ticks on all sides; eastings along the bottom, northings along the left.
pub(super) fn draw_frame(window: &Window, with_ticks: bool) -> String {
    let (left, top) = (Px(window.left), Px(window.top));
    let mut svg = format!(
        "<rect x=\"{left}\" y=\"{top}\" width=\"{}\" height=\"{}\" fill=\"none\" stroke=\"#23201c\" stroke-width=\"1.4\"/>",
        Px(window.width),
        Px(window.height)
    );
    if with_ticks {
        svg += &ticks(window);
    }
    svg
}

fn ticks(window: &Window) -> String {
    let (step_m, shown) = (round_step(CLOSEST / window.px_per_m), window.shown);
    let (right, bottom) = (window.right(), window.bottom());
    let mut path = Path::default();
    let (mut texts, mut northings) = (String::new(), String::new());
    for east in multiples(shown.west_m, shown.east_m, step_m) {
        let [x, _] = window.at([east as f64 * step_m, 0.0]);
        for (from, to) in [(bottom, bottom + TICK), (window.top, window.top - TICK)] {
            path.move_to([x, from]);
            path.line_to([x, to]);
        }
        let _ = write!(
            texts,
            "<text x=\"{}\" y=\"{}\">{}</text>",
            Px(x),
            Px(bottom + 22.0),
            coordinate(east, step_m)
        );
    }
    for north in multiples(shown.south_m, shown.north_m, step_m) {
        let [_, y] = window.at([0.0, north as f64 * step_m]);
        for (from, to) in [(window.left, window.left - TICK), (right, right + TICK)] {
            path.move_to([from, y]);
            path.line_to([to, y]);
        }
        northings += &format!(
            "<text x=\"{}\" y=\"{}\">{}</text>",
            Px(window.left - 12.0),
            Px(y + 0.36 * LABEL_SIZE),
            coordinate(north, step_m)
        );
    }
    let middle = Px(0.5 * (window.left + right));
    let _ = write!(
        texts,
        "<text x=\"{middle}\" y=\"{}\" font-style=\"italic\">easting, m</text>",
        Px(bottom + 42.0)
    );
    texts += &format!(
        "<g font-style=\"italic\">{}</g>",
        upright(
            window.left - ROOM_FOR_NORTHINGS + 10.0,
            0.5 * (window.top + bottom),
            "northing, m"
        )
    );
    format!(
        "<path d=\"{path}\" fill=\"none\" stroke=\"#23201c\"/>\
         <g font-size=\"{LABEL_SIZE}\" fill=\"#23201c\" text-anchor=\"middle\">{texts}<g text-anchor=\"end\">{northings}</g></g>"
    )
}

/// A text that reads upwards.
fn upright(x: f64, y: f64, text: &str) -> String {
    format!(
        "<text transform=\"translate({} {})rotate(-90)\">{text}</text>",
        Px(x),
        Px(y)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_not_too_small() {
        for (at_least, step) in [
            (0.9, 1.0),
            (1.0, 1.0),
            (1.1, 2.0),
            (3.0, 5.0),
            (70.0, 100.0),
            (0.03, 0.05),
        ] {
            assert!(
                (round_step(at_least) - step).abs() < 1e-12,
                "{at_least} gave {}",
                round_step(at_least)
            );
        }
    }

    #[test]
    fn coordinates_can_be_read() {
        assert_eq!(coordinate(48_351_205, 0.1), "4\u{202f}835\u{202f}120.5");
        assert_eq!(coordinate(120, 5.0), "600");
        assert_eq!(coordinate(-3, 0.5), "−1.5");
        assert_eq!(coordinate(3, 0.02), "0.06");
    }

    #[test]
    fn multiples_stay_inside() {
        assert_eq!(multiples(-0.1, 10.0, 5.0), 0..=2);
        assert!(multiples(1.0, 2.0, 5.0).is_empty());
    }
}
