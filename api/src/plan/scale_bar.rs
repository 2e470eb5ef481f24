//! The scale bar: a round length on the grid, and what it is on the ground.

use super::legend::{Row, Section};
use crate::ink::{Px, grouped};
use spatial::frame::Factors;
use std::fmt::Write;

const LONGEST: f64 = 240.0;
const SEGMENTS: usize = 4;

/// The bar at a scale, and in words whether it is true on the ground.
pub(super) fn section(px_per_m: f64, factors: Option<Factors>) -> Section {
    let length_m = round_length(LONGEST / px_per_m);
    let mut rows = vec![Row::wide(bar(length_m, length_m * px_per_m), 42.0)];
    rows.push(Row::words(&match factors {
        Some(factors) => format!(
            "Grid distance; {} of it is {} on the ground (scale factor {:.6}).",
            in_words(length_m, 0),
            in_words(length_m / factors.scale, 4),
            factors.scale
        ),
        None => "Grid distance; what it is on the ground is not known here.".to_owned(),
    }));
    Section::new("Scale", rows)
}

/// The largest of 1, 2 and 5 times a power of ten that is not above a length.
fn round_length(at_most_m: f64) -> f64 {
    let power = 10f64.powf(at_most_m.log10().floor());
    let lengths = [5.0, 2.0, 1.0].map(|length| length * power);
    lengths
        .into_iter()
        .find(|length| *length <= at_most_m * (1.0 + 1e-9))
        .unwrap_or(power)
}

/// A length in the unit that makes it short; with at least some decimals of that unit.
fn in_words(length_m: f64, decimals: usize) -> String {
    let (value, unit) = match length_m {
        m if m >= 1000.0 => (m / 1000.0, "km"),
        m if m < 0.999 => (m * 100.0, "cm"),
        m => (m, "m"),
    };
    if decimals > 0 {
        format!("{value:.decimals$} {unit}")
    } else if value >= 1.0 {
        format!("{} {unit}", grouped(value.round() as i64))
    } else {
        format!("{value} {unit}")
    }
}

fn bar(length_m: f64, width: f64) -> String {
    let (left, piece) = (14.0, width / SEGMENTS as f64);
    let mut svg = String::from("<g stroke=\"#23201c\">");
    for i in 0..SEGMENTS {
        let fill = if i % 2 == 0 { "#23201c" } else { "#fff" };
        let x = Px(left + i as f64 * piece);
        let _ = write!(
            svg,
            "<rect x=\"{x}\" y=\"22\" width=\"{}\" height=\"8\" fill=\"{fill}\"/>",
            Px(piece)
        );
    }
    svg += "</g><g font-size=\"13\" text-anchor=\"middle\" fill=\"#23201c\">";
    for (share, words) in [(0.0, "0".to_owned()), (1.0, in_words(length_m, 0))] {
        let _ = write!(
            svg,
            "<text x=\"{}\" y=\"16\">{words}</text>",
            Px(left + share * width)
        );
    }
    svg + "</g>"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_round_and_short() {
        for (at_most, length) in [(7.3, 5.0), (1.0, 1.0), (0.45, 0.2), (2300.0, 2000.0)] {
            assert!(
                (round_length(at_most) - length).abs() < 1e-12,
                "{at_most} gave {}",
                round_length(at_most)
            );
        }
        let words: Vec<String> = [5.0, 0.2, 2000.0]
            .iter()
            .map(|length| in_words(*length, 0))
            .collect();
        assert_eq!(words, ["5 m", "20 cm", "2 km"]);
    }

    #[test]
    fn the_bar_is_as_long_as_it_says() {
        // At 47 px a metre, 240 px are 5.1 m: four pieces of 1.25 m.
        let svg = bar(5.0, 5.0 * 47.0);
        assert_eq!(svg.matches("width=\"58.75\"").count(), SEGMENTS);
        assert!(svg.contains(">5 m</text>"));
        let svg = format!("<svg>{svg}</svg>");
        let document = roxmltree::Document::parse(&svg).unwrap();
        let lefts: Vec<f64> = document
            .descendants()
            .filter(|node| node.has_tag_name("rect"))
            .map(|rect| rect.attribute("x").unwrap().parse().unwrap())
            .collect();
        assert_eq!(lefts, [14.0, 72.75, 131.5, 190.25]);
    }
}
