//! The legend: sections of rows, set in columns.

use super::window::{Bounds, Window};
use crate::ink::{Escaped, Px, wrapped};
use std::fmt::Write;

/// A row: a mark and what it means.
pub(super) struct Row {
    mark: String,
    text_left: f64,
    lines: Vec<String>,
    height: f64,
}

/// Rows under one heading.
pub(super) struct Section {
    heading: &'static str,
    rows: Vec<Row>,
}

/// The width of a column.
pub(super) const WIDTH: f64 = 306.0;
const LINE: f64 = 18.0;
const HEADING: f64 = 30.0;
const AFTER: f64 = 14.0;

impl Row {
    /// The size of the text.
    pub(super) const TEXT_SIZE: f64 = 14.0;
    /// The side of the square that a mark has.
    const MARK: f64 = 36.0;
    /// The middle of that square.
    pub(super) const MIDDLE: [f64; 2] = [0.5 * Self::MARK, 0.5 * Self::MARK];

    /// A mark that fits in a square, and words to its right.
    pub(super) fn of(mark: String, words: &str) -> Self {
        Self::beside(mark, Self::MARK, Self::MARK - 3.0, words)
    }

    /// A mark with its size, and words to its right.
    pub(super) fn beside(mark: String, width: f64, height: f64, words: &str) -> Self {
        let text_left = width + 10.0;
        let lines = wrapped(words, Self::TEXT_SIZE, WIDTH - text_left);
        let height = height.max(lines.len() as f64 * LINE + 4.0);
        Self {
            mark,
            text_left,
            lines,
            height,
        }
    }

    /// A mark as wide as the column.
    pub(super) fn wide(mark: String, height: f64) -> Self {
        Self {
            mark,
            text_left: 0.0,
            lines: Vec::new(),
            height,
        }
    }

    /// Words alone.
    pub(super) fn words(words: &str) -> Self {
        let lines = wrapped(words, Self::TEXT_SIZE, WIDTH);
        let height = lines.len() as f64 * LINE + 5.0;
        Self {
            mark: String::new(),
            text_left: 0.0,
            lines,
            height,
        }
    }

    /// A window with the grid's zero in the middle of a mark's square, half a metre over most of it.
    pub(super) fn window() -> Window {
        let half_m = 0.34;
        let bounds = Bounds {
            west_m: -half_m,
            south_m: -half_m,
            east_m: half_m,
            north_m: half_m,
        };
        Window::fit(bounds, 0.0, 0.0, Self::MARK, Self::MARK)
    }

    fn draw(&self) -> String {
        let first = 0.5 * (self.height - self.lines.len() as f64 * LINE) + 0.76 * LINE;
        let mut svg = self.mark.clone();
        for (i, line) in self.lines.iter().enumerate() {
            let y = Px(first + i as f64 * LINE);
            let _ = write!(
                svg,
                "<text x=\"{}\" y=\"{y}\">{}</text>",
                Px(self.text_left),
                Escaped(line)
            );
        }
        svg
    }
}

impl Section {
    /// A section with its rows.
    pub(super) fn new(heading: &'static str, rows: Vec<Row>) -> Self {
        Self { heading, rows }
    }

    fn height(&self) -> f64 {
        HEADING + self.rows.iter().map(|row| row.height).sum::<f64>() + AFTER
    }

    fn draw(&self) -> String {
        let mut svg = format!(
            "<text y=\"15\" font-size=\"15\" font-weight=\"bold\">{}</text>\
             <path d=\"m0 21h{WIDTH}\" stroke=\"#b9b2a3\"/>",
            Escaped(self.heading)
        );
        let mut y = HEADING;
        for row in &self.rows {
            let _ = write!(svg, "<g transform=\"translate(0 {})\">{}</g>", Px(y), row.draw());
            y += row.height;
        }
        svg
    }
}

/// How high sections stand upon each other.
pub(super) fn height(sections: &[Section]) -> f64 {
    sections.iter().map(Section::height).sum()
}

/// How many columns, of so many at most, a width has room for, and the gap between them.
pub(super) fn columns(width: f64, most: usize) -> (usize, f64) {
    const NARROWEST_GAP: f64 = 24.0;
    const WIDEST_GAP: f64 = 106.0;
    let fit = ((width + NARROWEST_GAP) / (WIDTH + NARROWEST_GAP)) as usize;
    let columns = fit.clamp(1, most);
    let gap = (width - columns as f64 * WIDTH) / (columns - 1).max(1) as f64;
    (columns, gap.min(WIDEST_GAP))
}

/// Sets sections in so many columns, in order, as low as they go; the drawing and its height.
pub(super) fn draw(sections: &[Section], left: f64, top: f64, columns: usize, gap: f64) -> (String, f64) {
    let heights: Vec<f64> = sections.iter().map(Section::height).collect();
    let limit = lowest(&heights, columns);
    let (mut x, mut y, mut deepest) = (left, 0.0, 0.0f64);
    let mut svg = format!("<g font-size=\"{}\" fill=\"#23201c\">", Row::TEXT_SIZE);
    for (section, height) in sections.iter().zip(&heights) {
        if y > 0.0 && y + height > limit {
            x += WIDTH + gap;
            y = 0.0;
        }
        let _ = write!(
            svg,
            "<g transform=\"translate({} {})\">{}</g>",
            Px(x),
            Px(top + y),
            section.draw()
        );
        y += height;
        deepest = deepest.max(y);
    }
    (svg + "</g>", deepest)
}

/// The least height at which sections, taken in order, fill no more than so many columns.
fn lowest(heights: &[f64], columns: usize) -> f64 {
    let total: f64 = heights.iter().sum();
    // Only the height of some run of sections can be the answer.
    let mut limits: Vec<f64> = (0..heights.len())
        .flat_map(|first| {
            heights[first..].iter().scan(0.0, |sum, height| {
                *sum += height;
                Some(*sum)
            })
        })
        .collect();
    limits.sort_unstable_by(f64::total_cmp);
    limits
        .into_iter()
        .find(|limit| columns_at(heights, *limit) <= columns)
        .unwrap_or(total)
}

fn columns_at(heights: &[f64], limit: f64) -> usize {
    let (mut columns, mut y) = (1, 0.0);
    for height in heights {
        if *height > limit {
            return usize::MAX;
        }
        if y > 0.0 && y + height > limit {
            columns += 1;
            y = 0.0;
        }
        y += height;
    }
    columns
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_as_low_as_the_order_allows() {
        let heights = [4.0, 3.0, 2.0, 5.0, 1.0];
        assert_eq!(lowest(&heights, 1), 15.0);
        assert_eq!(lowest(&heights, 2), 8.0, "4 + 3 and 2 + 5 + 1");
        assert_eq!(lowest(&heights, 3), 6.0, "4, 3 + 2 and 5 + 1");
        assert_eq!(lowest(&heights, 9), 5.0);
        assert_eq!(lowest(&[], 3), 0.0);
    }
}
