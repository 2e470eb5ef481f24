//! The page: title above, roses in rows, and what explains them below.

use super::Rose;
use super::figure::{Counted, Figure, NO_DIRECTIONS};
use super::frame::{MARGIN, WIDTH};
use super::key;
use crate::ink::{BOLDER, Escaped, Px, set_in_lines, shortened, text_width};
use std::fmt::Write;

const TITLE: f64 = 18.0;
const BELOW_TITLE: f64 = 14.0;
const CAUTION: f64 = 13.0;
/// From one line to the next, in sizes of the letters.
const LEADING: f64 = 1.32;
/// Between rows of roses, and before the key.
const GAP: f64 = 14.0;
/// The width that lines have.
const LINE: f64 = WIDTH - 2.0 * MARGIN;

/// Writes a rose diagram.
pub(super) fn draw(rose: &Rose) -> String {
    let figure = Figure::of(rose);
    let (title, top) = title(rose);
    let (roses, below) = roses(&figure, top);
    let (key, below) = key::draw(&figure.key(), below);
    let (notes, height) = notes(&figure, below);
    let (width, height) = (Px(WIDTH), Px(height));
    let prefix = &figure.prefix;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" \
         height=\"{height}\" role=\"img\" aria-labelledby=\"{prefix}-title {prefix}-desc\" \
         font-family=\"sans-serif\"><title id=\"{prefix}-title\">{}</title>\
         <desc id=\"{prefix}-desc\">{}</desc>{}<rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\
         {title}{roses}{key}{notes}</svg>\n",
        Escaped(&rose.title),
        Escaped(&in_words(&figure)),
        figure.definitions(),
    )
}

/// Lines of one size below a height; their drawing and where they end.
fn lines(lines: &[String], size: f64, top: f64, attributes: &str) -> (String, f64) {
    let mut svg = format!("<g font-size=\"{size}\" fill=\"#23201c\"{attributes}>");
    let mut y = top;
    for line in lines {
        y += LEADING * size;
        // The last quarter of a line's height is for what hangs below it.
        let baseline = Px(y - 0.3 * size);
        let _ = write!(
            svg,
            "<text x=\"{MARGIN}\" y=\"{baseline}\">{}</text>",
            Escaped(line)
        );
    }
    (svg + "</g>", y)
}

fn title(rose: &Rose) -> (String, f64) {
    let heading = set_in_lines(&rose.title, TITLE, LINE / BOLDER, 3);
    let (heading, y) = lines(&heading, TITLE, MARGIN - 4.0, " font-weight=\"bold\"");
    let below = set_in_lines(&rose.below_title, BELOW_TITLE, LINE, 4);
    let (below, y) = lines(&below, BELOW_TITLE, y, "");
    (heading + &below, y + 12.0)
}

/// What stands below the key: which groups are not drawn, and what to take care of.
fn notes(figure: &Figure, top: f64) -> (String, f64) {
    let left_out = figure.left_out_in_words();
    let (left_out, y) = lines(&set_in_lines(&left_out, CAUTION, LINE, 3), CAUTION, top + 4.0, "");
    let caution = set_in_lines(&figure.rose.caution, CAUTION, LINE, 8);
    let (caution, y) = lines(&caution, CAUTION, y, " font-style=\"italic\"");
    (left_out + &caution, y + MARGIN)
}

/// All roses in rows below a height; their drawing and where they end.
fn roses(figure: &Figure, top: f64) -> (String, f64) {
    let sizes = figure.sizes;
    let (mut svg, mut y) = (String::new(), top);
    for row in figure.groups.chunks(sizes.columns) {
        let names: Vec<Vec<String>> = row.iter().map(|counted| name_lines(figure, counted)).collect();
        let name_height = names.iter().map(Vec::len).max().unwrap_or(0) as f64 * LEADING * sizes.name;
        let middle = y + name_height + sizes.reach();
        let mut lowest = middle + sizes.reach();
        for (column, (counted, lines)) in row.iter().zip(&names).enumerate() {
            let at = [sizes.middle(column), middle];
            let (told, below) = told(figure, counted, at);
            let _ = write!(
                svg,
                "{}<g transform=\"translate({} {})\">{}</g>{told}",
                name(figure, counted, lines, at),
                Px(at[0]),
                Px(at[1]),
                figure.draw(counted)
            );
            lowest = f64::max(lowest, below);
        }
        y = lowest + GAP;
    }
    (svg, y)
}

/// A name in one line, or in two that are parted where a word or a part of an id ends; its middle is cut out
/// where that is too short still.
fn name_lines(figure: &Figure, counted: &Counted) -> Vec<String> {
    let (name, width) = (counted.group.name.as_str(), figure.sizes.width());
    let size = BOLDER * figure.sizes.name;
    if name.is_empty() {
        return Vec::new();
    }
    if text_width(name, size) <= width {
        return vec![name.to_owned()];
    }
    let ends = name.match_indices([' ', ':', '-', '_', '/', '.']);
    let heads = ends.map(|(at, end)| name.split_at(at + end.len()));
    let mut fitting = heads.filter(|(head, _)| text_width(head.trim_end(), size) <= width);
    let (head, rest) = fitting.next_back().unwrap_or(("", name));
    let lines = [head.trim_end(), rest].map(|part| shortened(part, size, width));
    lines.into_iter().filter(|line| !line.is_empty()).collect()
}

/// The name of a group above its rose, with the full name for whoever points at it.
fn name(figure: &Figure, counted: &Counted, lines: &[String], [x, y]: [f64; 2]) -> String {
    let (sizes, x) = (figure.sizes, Px(x));
    let title = if lines.iter().any(|line| line.contains('…')) {
        format!("<title>{}</title>", Escaped(&counted.group.name))
    } else {
        String::new()
    };
    let mut svg = format!(
        "<g font-size=\"{}\" font-weight=\"bold\" text-anchor=\"middle\" fill=\"#23201c\">{title}",
        sizes.name
    );
    for (i, line) in lines.iter().enumerate() {
        let above = (lines.len() - 1 - i) as f64;
        let baseline = y - sizes.reach() - (0.3 + LEADING * above) * sizes.name;
        let _ = write!(
            svg,
            "<text x=\"{x}\" y=\"{}\">{}</text>",
            Px(baseline),
            Escaped(line)
        );
    }
    svg + "</g>"
}

/// The lines below a rose, and where they end.
fn told(figure: &Figure, counted: &Counted, [x, y]: [f64; 2]) -> (String, f64) {
    let (size, width) = (figure.sizes.told, figure.sizes.width());
    let mut svg = format!("<g font-size=\"{size}\" text-anchor=\"middle\" fill=\"#23201c\">");
    let mut y = y + figure.sizes.reach() + 2.0;
    let told = counted.group.told.iter();
    for line in told.flat_map(|line| set_in_lines(line, size, width, 3)) {
        y += LEADING * size;
        let baseline = Px(y - 0.3 * size);
        let _ = write!(
            svg,
            "<text x=\"{}\" y=\"{baseline}\">{}</text>",
            Px(x),
            Escaped(&line)
        );
    }
    (svg + "</g>", y)
}

/// The picture in words, for those who cannot see it: the words that stand on it, and each group's shape.
fn in_words(figure: &Figure) -> String {
    let rose = figure.rose;
    let mut words = format!("{}. {}.", rose.title, rose.below_title);
    for Counted { group, n, .. } in &figure.groups {
        let name = if group.name.is_empty() {
            String::new()
        } else {
            format!("{}: ", group.name)
        };
        let shape = if *n == 0 { NO_DIRECTIONS } else { &group.shape };
        let _ = write!(words, " {name}{shape}; {}.", group.told.join("; "));
    }
    for item in figure.key() {
        let _ = write!(words, " {}.", item.words.trim_end_matches('.'));
    }
    format!("{words} {} {}", figure.left_out_in_words(), rose.caution)
}
