//! Reads drawn figures back: texts with their places, sectors with their radii, the interval.

use crate::ink::text_width;
use crate::rose::mean::ARC;
use roxmltree::{Document, Node};

/// An attribute of a node or of the nearest one around it.
fn inherited<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    node.ancestors().find_map(|node| node.attribute(name))
}

fn number(node: Node, name: &str) -> f64 {
    node.attribute(name).map_or(0.0, |text| text.parse().unwrap())
}

fn shift(node: Node) -> [f64; 2] {
    let shift = inherited(node, "transform").and_then(|text| text.strip_prefix("translate("));
    let shift = shift.map_or(vec![0.0, 0.0], |text| {
        text.trim_end_matches(')')
            .split(' ')
            .map(|part| part.parse().unwrap())
            .collect()
    });
    [shift[0], shift[1]]
}

/// All texts lie on the page and are large enough to be read in print.
pub(super) fn texts_lie_on_the_page(document: &Document) {
    let view = document.root_element().attribute("viewBox").unwrap();
    let size: Vec<f64> = view.split(' ').map(|part| part.parse().unwrap()).collect();
    for node in document
        .descendants()
        .filter(|node| node.has_tag_name((SVG, "text")))
    {
        let text = node.text().unwrap_or_default();
        let letter: f64 = inherited(node, "font-size").unwrap().parse().unwrap();
        let width = text_width(text, letter);
        let [dx, dy] = shift(node);
        let (x, y) = (number(node, "x") + dx, number(node, "y") + dy);
        let left = match inherited(node, "text-anchor") {
            Some("middle") => x - 0.5 * width,
            _ => x,
        };
        assert!(
            left >= 0.0 && left + width <= size[2],
            "{text} from {left} to {}",
            left + width
        );
        assert!(
            y - letter >= -2.0 && y + 0.3 * letter <= size[3],
            "{text} at {y} of {}",
            size[3]
        );
        assert!(letter >= 12.0, "{text} is too small to read in print");
    }
}

pub(super) const SVG: &str = "http://www.w3.org/2000/svg";

/// The words of a figure.
pub(super) fn texts(svg: &str) -> Vec<String> {
    let document = Document::parse(svg).unwrap();
    let texts = document
        .descendants()
        .filter(|node| node.has_tag_name((SVG, "text")));
    texts.filter_map(|node| node.text().map(str::to_owned)).collect()
}

/// A sector as it is drawn: its radius, its first and last corner, and its count.
#[derive(Debug)]
pub(super) struct Petal {
    pub(super) radius: f64,
    pub(super) corners: [[f64; 2]; 2],
    pub(super) count: usize,
}

/// The sectors of each rose; those of copies with `copies`.
pub(super) fn petals(svg: &str, copies: bool) -> Vec<Petal> {
    let document = Document::parse(svg).unwrap();
    let titled = document.descendants().filter(|node| {
        let title = node
            .first_element_child()
            .filter(|child| child.has_tag_name((SVG, "title")));
        let is_copy = inherited(*node, "fill").is_some_and(|fill| fill.starts_with("url"));
        node.has_tag_name((SVG, "path")) && title.is_some() && is_copy == copies
    });
    titled.map(petal).collect()
}

fn petal(node: Node) -> Petal {
    let title = node.first_element_child().and_then(|title| title.text()).unwrap();
    let (data, mut points, mut radius) = (node.attribute("d").unwrap(), vec![[0.0, 0.0]], 0.0);
    // Letters part the steps; a minus sign parts numbers too.
    let spaced = data.replace('-', " -").replace('z', "");
    for step in spaced
        .split_inclusive(char::is_alphabetic)
        .zip(spaced.split(char::is_alphabetic).skip(1))
    {
        let numbers: Vec<f64> = step
            .1
            .split_whitespace()
            .map(|part| part.parse().unwrap())
            .collect();
        let [.., dx, dy] = numbers[..] else {
            panic!("{data}")
        };
        if step.0.ends_with('a') {
            assert_eq!(
                &numbers[1..5],
                [numbers[0], 0.0, 0.0, 1.0],
                "round, small and clockwise"
            );
            radius = numbers[0];
        }
        let from: [f64; 2] = *points.last().unwrap();
        points.push([from[0] + dx, from[1] + dy]);
    }
    Petal {
        radius,
        corners: [points[2], *points.last().unwrap()],
        count: title.rsplit(' ').next().unwrap().parse().unwrap(),
    }
}

/// The azimuth of a point about the middle.
pub(super) fn azimuth_deg([x, y]: [f64; 2]) -> f64 {
    x.atan2(-y).to_degrees().rem_euclid(360.0)
}

/// The arc of the interval: where it starts and ends.
pub(super) fn interval(svg: &str) -> Option<[f64; 2]> {
    let start = svg.find(&format!("stroke-width=\"{ARC}\""))?;
    let data = svg[..start]
        .rsplit("d=\"m")
        .next()?
        .split('a')
        .collect::<Vec<_>>();
    let numbers = |text: &str| -> Vec<f64> {
        let spaced = text.replace('-', " -");
        let until = spaced.find(['m', 'l', '"']).unwrap_or(spaced.len());
        spaced[..until]
            .split_whitespace()
            .map(|part| part.parse().unwrap())
            .collect()
    };
    let first = numbers(data[0]);
    let mut at = [first[0], first[1]];
    for piece in &data[1..] {
        let step = numbers(piece);
        at = [at[0] + step[5], at[1] + step[6]];
    }
    Some([azimuth_deg([first[0], first[1]]), azimuth_deg(at)])
}
