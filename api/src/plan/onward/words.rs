//! The map in words, for those who cannot see it, and the lines of the caution.

use super::super::PlanInput;
use super::super::window::Bounds;
use super::table::{centre, in_tenths, percent};
use super::{Onward, Square};
use crate::ink::{grouped, text_width, wrapped};

/// The map in words.
pub(super) fn of(input: &PlanInput, onward: &Onward, shown: &Bounds) -> String {
    let marks = [
        count(onward.corridors.len(), "corridor"),
        count(onward.steps.len(), "predicted print"),
        count(onward.candidates.len(), "recorded print") + " that could be the next",
        count(onward.squares.len(), "square") + " to look in",
    ];
    let parts = [
        Some(format!("{}.", onward.heading)),
        Some(format!(
            "Map of a part of surface {} at {} in {}: {:.1} m from west to east and {:.1} m from south to north.",
            input.index.id(),
            input.site_name,
            input.crs_name,
            shown.width_m(),
            shown.height_m()
        )),
        Some(format!("{}.", marks.join("; "))),
        onward.squares.first().map(most_probable),
        input.note.map(str::to_owned),
        Some(onward.caution.to_owned()),
    ];
    let parts: Vec<String> = parts
        .into_iter()
        .flatten()
        .filter(|part| !part.is_empty())
        .collect();
    parts.join(" ")
}

fn most_probable(square: &Square) -> String {
    let place = centre(&square.outline).map_or(String::new(), |[east_m, north_m]| {
        format!(
            " has its centre at easting {}, northing {};",
            in_tenths(east_m),
            in_tenths(north_m)
        )
    });
    format!(
        "Square 1{place} its probability is {} %; it is {}.",
        percent(square.probability),
        square.in_extent
    )
}

fn count(number: usize, one: &str) -> String {
    let plural = if number == 1 { "" } else { "s" };
    format!("{} {one}{plural}", grouped(number as i64))
}

/// A text whole, in lines that fit in a width: its own lines stay apart, and what is too long for a line is
/// broken, not cut.
pub(super) fn lines_of(text: &str, size: f64, width: f64) -> Vec<String> {
    let set = |line: &str| {
        let words = line.split_whitespace().flat_map(|word| pieces(word, size, width));
        wrapped(&words.collect::<Vec<_>>().join(" "), size, width)
    };
    text.lines().flat_map(set).collect()
}

fn pieces(word: &str, size: f64, width: f64) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for letter in word.chars() {
        let last = pieces.len() - 1;
        let longer = format!("{}{letter}", pieces[last]);
        if !pieces[last].is_empty() && text_width(&longer, size) > width {
            pieces.push(letter.to_string());
        } else {
            pieces[last] = longer;
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_caution_is_set_whole_however_long_its_words_are() {
        let text = format!("Ask first.\n\nSee {}", "W".repeat(500));
        let lines = lines_of(&text, 12.0, 400.0);
        assert_eq!(lines[0], "Ask first.", "its own lines stay apart");
        assert!(lines.iter().all(|line| text_width(line, 12.0) <= 400.0));
        let letters: usize = lines.iter().map(|line| line.matches('W').count()).sum();
        assert_eq!(letters, 500);
        assert!(lines_of(" \n ", 12.0, 400.0).is_empty());
    }
}
