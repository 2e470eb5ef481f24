//! The lines above the map: what the page is about, which surface, where, and the caption.

use super::super::PlanInput;
use super::super::title::heading;
use super::Onward;
use crate::ink::{BOLDER, Escaped, Px, set_in_lines};
use std::fmt::Write;

/// One line with its look.
struct Line {
    text: String,
    size: f64,
    look: &'static str,
}

/// The lines above the map.
pub(super) struct Head(Vec<Line>);

const TOP: f64 = 16.0;
const AFTER: f64 = 16.0;
/// A line is so much higher than its letters.
const LEADING: f64 = 1.36;

impl Head {
    /// The lines in a width. What is longer than so many lines is cut, or the map would sink below it.
    pub(super) fn of(input: &PlanInput, onward: &Onward, width: f64) -> Self {
        let place = format!("{} · {}", input.site_name, input.crs_name);
        let mut lines = Vec::new();
        for (text, size, look, most) in [
            (&*onward.heading, 25.0, " font-weight=\"bold\"", 3),
            (&*heading(input), 16.0, " font-weight=\"bold\"", 2),
            (&*place, 14.0, "", 2),
            (input.note.unwrap_or_default(), 13.0, " font-style=\"italic\"", 4),
        ] {
            let wide = if look.contains("bold") {
                BOLDER * size
            } else {
                size
            };
            let set = set_in_lines(text, wide, width, most);
            lines.extend(set.into_iter().map(|text| Line { text, size, look }));
        }
        Self(lines)
    }

    /// Where the map may begin.
    pub(super) fn bottom(&self) -> f64 {
        TOP + self.0.iter().map(|line| LEADING * line.size).sum::<f64>() + AFTER
    }

    pub(super) fn draw(&self, left: f64) -> String {
        let mut svg = String::from("<g fill=\"#23201c\">");
        let mut y = TOP;
        for Line { text, size, look } in &self.0 {
            y += LEADING * size;
            let _ = write!(
                svg,
                "<text x=\"{left}\" y=\"{}\" font-size=\"{size}\"{look}>{}</text>",
                Px(y - 0.26 * size),
                Escaped(text)
            );
        }
        svg + "</g>"
    }
}
