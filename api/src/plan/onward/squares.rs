//! Squares to dig or to survey with radar: heavy outlines, hatched the denser the more probable they are.

use super::super::here::seen;
use super::super::legend::{Row, Section};
use super::super::window::Window;
use super::Square;
use super::steps::outline;
use super::table::percent;
use crate::ink::{Escaped, Px};
use std::fmt::Write;

/// A class of probabilities with its hatch.
struct Class {
    name: &'static str,
    /// The least probability in it.
    least: f64,
    words: &'static str,
    /// The room between two lines; none where there are no lines.
    apart: Option<u8>,
    crossed: bool,
}

/// Lines lean to the right, those of eroded extents to the left. One class has about half again as much
/// ink as the next, so that they stay apart however a page is copied.
const CLASSES: [Class; 5] = [
    Class {
        name: "half",
        least: 0.5,
        words: "50 % and more",
        apart: Some(6),
        crossed: true,
    },
    Class {
        name: "fifth",
        least: 0.2,
        words: "20 % to 50 %",
        apart: Some(6),
        crossed: false,
    },
    Class {
        name: "tenth",
        least: 0.1,
        words: "10 % to 20 %",
        apart: Some(11),
        crossed: false,
    },
    Class {
        name: "twentieth",
        least: 0.05,
        words: "5 % to 10 %",
        apart: Some(20),
        crossed: false,
    },
    Class {
        name: "less",
        least: f64::NEG_INFINITY,
        words: "under 5 %",
        apart: None,
        crossed: false,
    },
];
/// More squares would only blacken the page.
const MOST: usize = 400;
const RIM: &str = "stroke=\"#23201c\" stroke-linejoin=\"miter\"";
const RIM_WIDTH: f64 = 2.4;

/// A square on the page.
pub(super) struct Mark<'a> {
    /// 1 for the most probable.
    pub(super) rank: usize,
    square: &'a Square,
    /// The corners of its box on the page.
    pub(super) low: [f64; 2],
    pub(super) high: [f64; 2],
}

/// The squares that are drawn, the most probable first, and how many are not.
pub(super) fn marks<'a>(squares: &'a [Square], window: &Window) -> (Vec<Mark<'a>>, usize) {
    let ranked = squares.iter().enumerate().take(MOST);
    let marks: Vec<Mark> = ranked
        .filter_map(|(i, square)| mark(i + 1, square, window))
        .collect();
    let left_out = squares.len() - marks.len();
    (marks, left_out)
}

fn mark<'a>(rank: usize, square: &'a Square, window: &Window) -> Option<Mark<'a>> {
    let polygon = seen(&square.outline, window)?;
    let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
    for vertex in super::super::clip::vertices(polygon.exterior()) {
        let at = window.at(vertex);
        for k in 0..2 {
            low[k] = low[k].min(at[k]);
            high[k] = high[k].max(at[k]);
        }
    }
    Some(Mark {
        rank,
        square,
        low,
        high,
    })
}

fn class(square: &Square) -> &'static Class {
    let holds = |class: &&Class| square.probability >= class.least;
    CLASSES.iter().find(holds).unwrap_or(&CLASSES[CLASSES.len() - 1])
}

fn occurring<'a>(marks: &'a [Mark]) -> impl Iterator<Item = &'static Class> + 'a {
    let occurs = |one: &&Class| marks.iter().any(|mark| class(mark.square).name == one.name);
    CLASSES.iter().filter(occurs)
}

/// The hatches of the classes that occur. Their paper lets what lies below shine through.
pub(super) fn patterns(marks: &[Mark], prefix: &str) -> String {
    occurring(marks)
        .map(|class| {
            let size = class.apart.unwrap_or(8);
            format!(
                "<pattern id=\"{}-{}\" width=\"{size}\" height=\"{size}\" patternUnits=\"userSpaceOnUse\">\
                 <rect width=\"{size}\" height=\"{size}\" fill=\"#fff\" fill-opacity=\".6\"/>{}</pattern>",
                Escaped(prefix),
                class.name,
                lines(class)
            )
        })
        .collect()
}

fn lines(class: &Class) -> String {
    let Some(size) = class.apart.map(i32::from) else {
        return String::new();
    };
    let mut path = format!("M-2 2l4-4M0 {size}L{size} 0M{} {}l4-4", size - 2, size + 2);
    if class.crossed {
        let _ = write!(path, "M-2 {}l4 4M0 0l{size} {size}M{} -2l4 4", size - 2, size - 2);
    }
    format!("<path d=\"{path}\" fill=\"none\" stroke=\"#23201c\" stroke-width=\"1.1\"/>")
}

fn fill(class: &Class, prefix: &str) -> String {
    format!("fill=\"url(#{}-{})\"", Escaped(prefix), class.name)
}

/// The outline's width: heavy, but not so heavy that small squares side by side grow into a black net.
fn rim_width(marks: &[Mark]) -> f64 {
    let side = |mark: &Mark| (mark.high[0] - mark.low[0]).min(mark.high[1] - mark.low[1]);
    let mut sides: Vec<f64> = marks.iter().map(side).collect();
    sides.sort_unstable_by(f64::total_cmp);
    sides
        .get(sides.len() / 2)
        .map_or(RIM_WIDTH, |side| (0.07 * side).clamp(0.8, RIM_WIDTH))
}

/// All squares, the most probable on top.
pub(super) fn draw(marks: &[Mark], window: &Window, prefix: &str) -> String {
    let width = Px(rim_width(marks));
    let mut svg = format!("<g {RIM} stroke-width=\"{width}\" fill-rule=\"evenodd\">");
    for Mark { rank, square, .. } in marks.iter().rev() {
        let Some(polygon) = seen(&square.outline, window) else {
            continue;
        };
        let words = format!(
            "square {rank}: {} %, {}",
            percent(square.probability),
            square.in_extent
        );
        let _ = write!(
            svg,
            "<path d=\"{}\" {}><title>{}</title></path>",
            outline(&polygon, window),
            fill(class(square), prefix),
            Escaped(&words)
        );
    }
    svg + "</g>"
}

/// The key to the classes that occur; `None` without squares.
pub(super) fn key(marks: &[Mark], prefix: &str) -> Option<Section> {
    let mut rows: Vec<Row> = occurring(marks)
        .map(|class| {
            let mark = format!(
                "<rect x=\"4\" y=\"4\" width=\"{0}\" height=\"{0}\" {RIM} stroke-width=\"{RIM_WIDTH}\" {1}/>",
                Px(26.0),
                fill(class, prefix)
            );
            Row::of(mark, class.words)
        })
        .collect();
    if rows.is_empty() {
        return None;
    }
    rows.push(Row::words(
        "The number is the square's rank, 1 the most probable, as in the table.",
    ));
    Some(Section::new("Squares, by probability", rows))
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::polygon;

    fn square(probability: f64) -> Square {
        Square {
            outline: polygon![(x: 0., y: 0.), (x: 1., y: 0.), (x: 1., y: 1.)],
            probability,
            in_extent: "covered".to_owned(),
        }
    }

    #[test]
    fn a_probability_has_the_class_whose_words_hold_it() {
        for (probability, words) in [
            (1.0, "50 % and more"),
            (0.5, "50 % and more"),
            (0.499, "20 % to 50 %"),
            (0.1, "10 % to 20 %"),
            (0.05, "5 % to 10 %"),
            (0.0, "under 5 %"),
            (f64::NAN, "under 5 %"),
        ] {
            assert_eq!(class(&square(probability)).words, words, "{probability}");
        }
    }
}
