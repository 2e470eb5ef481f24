//! The title: which surface, where, and the caption that readers must see.

use super::PlanInput;
use crate::ink::{BOLDER, Escaped, Px, fitted, set_in_lines};
use std::fmt::Write;

/// The lines above the map.
pub(super) struct Title {
    heading: String,
    place: String,
    note: Vec<String>,
}

const HEADING_SIZE: f64 = 28.0;
const PLACE_SIZE: f64 = 17.0;
const NOTE_SIZE: f64 = 15.0;
const NOTE_LINE: f64 = 21.0;
const NOTE_TOP: f64 = 83.0;
/// A longer note is cut, or the map would sink below it.
const MOST_NOTE_LINES: usize = 4;

impl Title {
    /// The title in a width.
    pub(super) fn of(input: &PlanInput, width: f64) -> Self {
        let note = input.note.unwrap_or_default();
        let place = format!("{} · {}", input.site_name, input.crs_name);
        Self {
            heading: fitted(&heading(input), BOLDER * HEADING_SIZE, width),
            place: fitted(&place, PLACE_SIZE, width),
            note: set_in_lines(note, NOTE_SIZE, width, MOST_NOTE_LINES),
        }
    }

    /// Where the map may begin.
    pub(super) fn bottom(&self) -> f64 {
        NOTE_TOP + NOTE_LINE * (1 + self.note.len()) as f64
    }

    pub(super) fn draw(&self, left: f64) -> String {
        let mut svg = format!(
            "<g fill=\"#23201c\"><text x=\"{left}\" y=\"50\" font-size=\"{HEADING_SIZE}\" font-weight=\"bold\">{}</text>\
             <text x=\"{left}\" y=\"79\" font-size=\"{PLACE_SIZE}\">{}</text>\
             <g font-size=\"{NOTE_SIZE}\" font-style=\"italic\">",
            Escaped(&self.heading),
            Escaped(&self.place)
        );
        for (i, line) in self.note.iter().enumerate() {
            let y = Px(NOTE_TOP + NOTE_LINE * (i + 1) as f64);
            let _ = write!(svg, "<text x=\"{left}\" y=\"{y}\">{}</text>", Escaped(line));
        }
        svg + "</g></g>"
    }
}

/// The surface's id and its name.
pub(super) fn heading(input: &PlanInput) -> String {
    let name = input.index.surface().name.as_deref();
    let name = name.map_or(String::new(), |name| format!(" · {name}"));
    format!("{}{name}", input.index.id())
}

#[cfg(test)]
mod tests {
    use super::super::tests::{index, input};
    use super::*;

    #[test]
    fn a_long_note_is_set_in_lines_and_cut_with_a_sign() {
        let index = index(vec![], vec![], vec![]);
        let note = "No such site exists. ".repeat(200);
        let title = Title::of(
            &PlanInput {
                note: Some(&note),
                ..input(&index)
            },
            1000.0,
        );
        assert_eq!(title.note.len(), MOST_NOTE_LINES);
        assert!(title.note[MOST_NOTE_LINES - 1].ends_with(" …"));
        let short = Title::of(
            &PlanInput {
                note: Some("Invented."),
                ..input(&index)
            },
            1000.0,
        );
        assert_eq!(short.note, ["Invented."]);
        let none = Title::of(
            &PlanInput {
                note: None,
                ..input(&index)
            },
            1000.0,
        );
        assert!(none.note.is_empty() && none.bottom() < short.bottom());
    }
}
