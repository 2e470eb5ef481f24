//! Extents: which parts of the surface lie open, are covered, eroded or unmapped.
//!
//! Each kind has a pattern of its own, so that they stay apart in greyscale.

use super::legend::{Row, Section};
use super::window::Window;
use crate::ink::{Escaped, Path};
use spatial::model::{Extent, ExtentKind};
use std::fmt::Write;

/// The order of drawing: what hides lies above what is seen.
const ORDER: [ExtentKind; 4] = [
    ExtentKind::Exposed,
    ExtentKind::Unmapped,
    ExtentKind::Covered,
    ExtentKind::Eroded,
];

struct Look {
    /// The tile of the pattern, with its width and height.
    tile: &'static str,
    tile_size: [u8; 2],
    /// Attributes of the outline.
    rim: &'static str,
    words: &'static str,
}

const fn look(kind: ExtentKind) -> Look {
    match kind {
        ExtentKind::Exposed => Look {
            tile: r##"<rect width="8" height="8" fill="#f7efdd"/>"##,
            tile_size: [8, 8],
            rim: r##"stroke="#a08e66" stroke-width="1.2""##,
            words: "exposed: the surface lies open",
        },
        ExtentKind::Covered => Look {
            tile: r##"<rect width="12" height="12" fill="#e4dfd5"/><path d="M3 3h.01M9 9h.01" stroke="#8a8171" stroke-width="2.6" stroke-linecap="round"/>"##,
            tile_size: [12, 12],
            rim: r##"stroke="#8a8171" stroke-width="1.2" stroke-dasharray="8 3""##,
            words: "covered: rock or sediment on it",
        },
        ExtentKind::Eroded => Look {
            tile: r##"<rect width="9" height="9" fill="#fff"/><path d="M-2 7l4 4M-2 -2l13 13M7 -2l4 4" stroke="#9fa9b3" stroke-width="1.3"/>"##,
            tile_size: [9, 9],
            rim: r##"stroke="#7d8894" stroke-width="1.2" stroke-dasharray="9 3 2 3""##,
            words: "eroded: the surface is gone",
        },
        ExtentKind::Unmapped => Look {
            tile: r##"<rect width="16" height="12" fill="#fff"/><path d="M2 3h5M10 9h5" stroke="#b9b9b9" stroke-width="1.2"/>"##,
            tile_size: [16, 12],
            rim: r##"stroke="#9a9a9a" stroke-width="1.2" stroke-dasharray="1.5 3""##,
            words: "unmapped: nobody has looked",
        },
    }
}

fn kinds_of(extents: &[Extent]) -> impl Iterator<Item = ExtentKind> {
    ORDER
        .into_iter()
        .filter(|kind| extents.iter().any(|extent| extent.kind == *kind))
}

/// The patterns of the kinds that occur.
pub(super) fn patterns(extents: &[Extent], prefix: &str) -> String {
    kinds_of(extents)
        .map(|kind| {
            let Look {
                tile,
                tile_size: [width, height],
                ..
            } = look(kind);
            format!(
                "<pattern id=\"{}-{kind}\" width=\"{width}\" height=\"{height}\" \
                 patternUnits=\"userSpaceOnUse\">{tile}</pattern>",
                Escaped(prefix)
            )
        })
        .collect()
}

/// All extents. Nothing is hidden by its date: an old cover that a newer survey found gone still shows,
/// under its own outline.
pub(super) fn draw(extents: &[Extent], window: &Window, prefix: &str) -> String {
    let mut svg = String::new();
    for kind in kinds_of(extents) {
        let _ = write!(svg, "<g {}>", attributes(kind, prefix));
        for extent in extents.iter().filter(|extent| extent.kind == kind) {
            let date = extent
                .surveyed_on
                .map_or(String::new(), |day| format!(", surveyed {day}"));
            let words = format!("{}: {kind}{date}", extent.label);
            let rings = std::iter::once(extent.polygon.exterior()).chain(extent.polygon.interiors());
            let mut path = Path::default();
            rings.for_each(|ring| trace(&mut path, ring, window));
            let _ = write!(
                svg,
                "<path d=\"{path}\"><title>{}</title></path>",
                Escaped(&words)
            );
        }
        svg += "</g>";
    }
    svg
}

fn attributes(kind: ExtentKind, prefix: &str) -> String {
    format!(
        "fill=\"url(#{}-{kind})\" fill-rule=\"evenodd\" stroke-linejoin=\"round\" {}",
        Escaped(prefix),
        look(kind).rim
    )
}

/// A ring without the vertices that the page cannot tell apart.
pub(super) fn trace(path: &mut Path, ring: &geo::LineString<f64>, window: &Window) {
    const CLOSEST: f64 = 0.4;
    let mut last: Option<[f64; 2]> = None;
    for vertex in &ring.0 {
        if !(vertex.x.is_finite() && vertex.y.is_finite()) {
            continue;
        }
        let at = window.at([vertex.x, vertex.y]);
        match last {
            None => path.move_to(at),
            Some([x, y]) if (at[0] - x).hypot(at[1] - y) < CLOSEST => continue,
            Some(_) => path.line_to(at),
        }
        last = Some(at);
    }
    if last.is_some() {
        path.close();
    }
}

/// The key to the kinds that occur.
pub(super) fn key(extents: &[Extent], prefix: &str) -> Option<Section> {
    let rows: Vec<Row> = kinds_of(extents)
        .map(|kind| {
            let mark = format!(
                "<rect x=\"1\" y=\"5\" width=\"34\" height=\"24\" {}/>",
                attributes(kind, prefix)
            );
            Row::of(mark, look(kind).words)
        })
        .collect();
    (!rows.is_empty()).then(|| Section::new("Extents", rows))
}

#[cfg(test)]
mod tests {
    use super::super::window::Bounds;
    use super::*;
    use geo::polygon;

    fn window() -> Window {
        let bounds = Bounds {
            west_m: 0.0,
            south_m: 0.0,
            east_m: 10.0,
            north_m: 10.0,
        };
        Window::fit(bounds, 0.0, 0.0, 100.0, 100.0)
    }

    fn extent(kind: ExtentKind, polygon: geo::Polygon<f64>) -> Extent {
        Extent {
            label: "E1".parse().unwrap(),
            kind,
            polygon,
            surveyed_on: None,
            revision: 0,
        }
    }

    #[test]
    fn a_hole_is_a_ring_of_its_own_and_vertices_that_no_page_shows_are_left_out() {
        let ring = polygon!(
            exterior: [(x: 0., y: 0.), (x: 0.001, y: 0.), (x: 10., y: 0.), (x: 10., y: 10.)],
            interiors: [[(x: 6., y: 2.), (x: 8., y: 2.), (x: 8., y: 4.)]],
        );
        let svg = draw(&[extent(ExtentKind::Covered, ring)], &window(), "x");
        let path = "m0 100l100 0l0-100l-100 100zm60-20l20 0l0-20l-20 20z";
        assert!(svg.contains(&format!("d=\"{path}\"")), "{svg}");
    }

    #[test]
    fn covers_are_drawn_above_what_is_exposed() {
        let square = polygon![(x: 0., y: 0.), (x: 9., y: 0.), (x: 9., y: 9.)];
        let extents = [
            extent(ExtentKind::Covered, square.clone()),
            extent(ExtentKind::Exposed, square),
        ];
        let svg = draw(&extents, &window(), "x");
        assert!(svg.find("x-exposed").unwrap() < svg.find("x-covered").unwrap());
    }
}
