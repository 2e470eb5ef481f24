//! Whole pages: well formed, repeatable, with every text on the page, in words as in marks.

mod limits;

use super::super::tests::{index, input};
use super::*;
use crate::catalogue::Indexed;
use crate::ink::text_width;
use geo::polygon;
use spatial::model::{Basis, Extent, ExtentKind, Print, Status, Trackway};

const CAUTION: &str = "Ask <whoever> owns the ground & read the tide table before you dig.";

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

/// A trackway heading east from a place, a print each metre.
fn walk(name: &str, first: usize, count: usize, from: [f64; 2]) -> (Vec<Print>, Trackway) {
    let print = |i: usize| {
        let place = [
            from[0] + i as f64,
            from[1] + if i.is_multiple_of(2) { 0.1 } else { -0.1 },
        ];
        let mut print = Print::new(label(&format!("P{:04}", first + i)), place[0], place[1], 0.3);
        print.azimuth_deg = Some(90.0);
        print
    };
    let prints: Vec<Print> = (0..count).map(print).collect();
    let trackway = Trackway {
        label: label(name),
        prints: prints.iter().map(|print| print.label.clone()).collect(),
        basis: Basis::Field,
        status: Status::Accepted,
        probability: None,
        morphotype: None,
        note: None,
        judged_by: None,
        revision: 0,
    };
    (prints, trackway)
}

/// Two trackways of 30 prints: `T1` from easting 500 000 to 500 029, `T2` 4 m north of it.
fn surface() -> Indexed {
    let (mut prints, first) = walk("T1", 0, 30, [500_000.0, 4_800_000.0]);
    let (more, second) = walk("T2", 100, 30, [500_000.0, 4_800_004.0]);
    prints.extend(more);
    let cover = Extent {
        label: label("E1"),
        kind: ExtentKind::Covered,
        polygon: polygon![(x: 500_030., y: 4_799_990.), (x: 500_090., y: 4_799_990.), (x: 500_090., y: 4_800_010.)],
        surveyed_on: None,
        revision: 0,
    };
    index(prints, vec![cover], vec![first, second])
}

fn around(at: [f64; 2], half_m: f64) -> Polygon<f64> {
    let [[w, e], [s, n]] = at.map(|metres| [metres - half_m, metres + half_m]);
    polygon![(x: w, y: s), (x: e, y: s), (x: e, y: n), (x: w, y: n)]
}

fn step(number: usize, east_m: f64) -> Step {
    let at = [east_m, 4_800_000.0];
    Step {
        number,
        at,
        region_50: around(at, 0.3),
        region_95: around(at, 0.7),
    }
}

fn square(at: [f64; 2], half_m: f64, probability: f64) -> Square {
    Square {
        outline: around(at, half_m),
        probability,
        in_extent: "covered".to_owned(),
    }
}

fn nothing() -> Onward<'static> {
    Onward {
        heading: "Where <gannet-ledge:S2:T1> should go on".to_owned(),
        caution: CAUTION,
        trackways: vec![label("T1")],
        corridors: vec![],
        steps: vec![],
        squares: vec![],
        candidates: vec![],
    }
}

fn ahead() -> Onward<'static> {
    let squares = [0.31, 0.12, 0.06, 0.011].into_iter().enumerate();
    Onward {
        corridors: vec![
            polygon![(x: 500_029., y: 4_800_000.), (x: 500_036., y: 4_799_998.), (x: 500_036., y: 4_800_002.)],
        ],
        steps: (1..=5).map(|i| step(i, 500_029.0 + i as f64)).collect(),
        squares: squares
            .map(|(i, p)| square([500_030.5 + i as f64, 4_800_000.5], 0.5, p))
            .collect(),
        candidates: vec![[500_029.0, 4_800_003.9]],
        ..nothing()
    }
}

fn drawn(index: &Indexed, onward: &Onward) -> String {
    let svg = onward_svg(&input(index), onward);
    let document = roxmltree::Document::parse(&svg).expect("the page is well-formed XML");
    for wild in ["NaN", "inf"] {
        assert!(!svg.contains(wild), "{wild} on the page");
    }
    for text in document.descendants().filter(|node| node.has_tag_name("text")) {
        stands_on_the_page(&text);
    }
    svg
}

/// Whether a text begins and ends on the page, seen from the shifts of all groups around it. Those that lie on the
/// map are cut at its frame, and those that read upwards lie along its height.
fn stands_on_the_page(text: &roxmltree::Node) {
    let number = |name: &str| {
        let found = text.ancestors().find_map(|node| node.attribute(name));
        found.and_then(|value| value.parse::<f64>().ok())
    };
    let shifts: Vec<&str> = text
        .ancestors()
        .filter_map(|node| node.attribute("transform"))
        .collect();
    if shifts.iter().any(|shift| shift.contains("rotate")) {
        return;
    }
    let (mut x, mut y) = (
        text.attribute("x").map_or(0.0, |x| x.parse().unwrap()),
        text.attribute("y").map_or(0.0, |y| y.parse().unwrap()),
    );
    for shift in shifts {
        let inner = shift
            .strip_prefix("translate(")
            .unwrap()
            .strip_suffix(')')
            .unwrap();
        let (dx, dy) = inner.split_once(' ').unwrap();
        x += dx.parse::<f64>().unwrap();
        y += dy.parse::<f64>().unwrap();
    }
    let words = text.text().unwrap_or_default();
    let width = text_width(words, number("font-size").expect("a size"));
    let anchor = text.ancestors().find_map(|node| node.attribute("text-anchor"));
    let left = match anchor {
        Some("middle") => x - 0.5 * width,
        Some("end") => x - width,
        _ => x,
    };
    let root = text.document().root_element();
    let size = root.attribute("viewBox").unwrap().split(' ');
    let size: Vec<f64> = size.map(|part| part.parse().unwrap()).collect();
    assert!(
        left >= -1.0 && left + width <= size[2] + 1.0 && y > 0.0 && y <= size[3],
        "{words:?} at {left} to {}, {y} of {size:?}",
        left + width
    );
}

fn texts(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).unwrap();
    let texts = document.descendants().filter(|node| node.has_tag_name("text"));
    texts.filter_map(|node| node.text().map(str::to_owned)).collect()
}

fn assert_shows(svg: &str, wanted: &[&str]) {
    let texts = texts(svg);
    for words in wanted {
        assert!(
            texts.iter().any(|text| text == words),
            "{words} is shown; there are {texts:?}"
        );
    }
}

fn description(svg: &str) -> String {
    let document = roxmltree::Document::parse(svg).unwrap();
    let node = document.descendants().find(|node| node.has_tag_name("desc"));
    node.and_then(|node| node.text()).unwrap().to_owned()
}

#[test]
fn a_page_has_its_heading_table_marks_and_caution() {
    let svg = drawn(&surface(), &ahead());
    assert_shows(
        &svg,
        &[
            "Where <gannet-ledge:S2:T1> should go on",
            "gannet-ledge:S2 · upper <bed> & \"floor\"",
            "500\u{202f}030.5",
            "4\u{202f}800\u{202f}000.5",
            "31",
            "1.1",
            "covered",
            "+5",
            "20 % to 50 %",
            "under 5 %",
            "corridor of the way on",
            "where it lies with 95 % probability",
            "recorded print, maybe the next",
            "heavy line: should go on",
            CAUTION,
            "T1",
            "T2",
        ],
    );
    assert_eq!(
        texts(&svg).iter().filter(|text| *text == "4").count(),
        2,
        "in the table and on the map"
    );
    assert!(!svg.contains("50 % and more"), "the key has what occurs");
}

#[test]
fn the_description_tells_what_the_map_tells() {
    let words = description(&drawn(&surface(), &ahead()));
    for part in [
        "Where <gannet-ledge:S2:T1> should go on. Map of a part of surface gannet-ledge:S2 at Gannet <Ledge>",
        "1 corridor; 5 predicted prints; 1 recorded print that could be the next; 4 squares to look in.",
        "Square 1 has its centre at easting 500\u{202f}030.5, northing 4\u{202f}800\u{202f}000.5; its probability is \
         31 %; it is covered.",
        "Invented data",
        CAUTION,
    ] {
        assert!(words.contains(part), "{part} in {words}");
    }
}

#[test]
fn ids_start_with_the_surface_and_trackways_and_every_reference_is_met() {
    let svg = drawn(&surface(), &ahead());
    let document = roxmltree::Document::parse(&svg).unwrap();
    let ids: Vec<&str> = document
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    assert!(
        ids.iter().all(|id| id.starts_with("onward-gannet-ledge-S2-T1-")),
        "{ids:?}"
    );
    let references: Vec<&str> = svg
        .split("url(#")
        .skip(1)
        .map(|rest| rest.split(')').next().unwrap())
        .collect();
    assert!(
        references.iter().all(|reference| ids.contains(reference)),
        "{references:?}"
    );
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    assert_eq!(drawn(&surface(), &ahead()), drawn(&surface(), &ahead()));
}

#[test]
fn the_map_shows_the_last_paces_of_the_end_that_goes_on_and_not_the_whole_surface() {
    let (index, onward) = (surface(), ahead());
    let bounds = scene::bounds(&index, &onward).unwrap();
    assert!((500_020.0..500_023.0).contains(&bounds.west_m), "{bounds:?}");
    assert!(bounds.east_m > 500_036.0, "the corridor's end: {bounds:?}");
    let svg = drawn(&index, &onward);
    assert!(svg.contains("P0029:") && !svg.contains("P0003:"));

    let backwards = Onward {
        steps: (1..=3).map(|i| step(i, 500_000.0 - i as f64)).collect(),
        ..nothing()
    };
    let bounds = scene::bounds(&index, &backwards).unwrap();
    assert!(
        bounds.east_m < 500_008.0,
        "six paces from the first print: {bounds:?}"
    );
    assert!(drawn(&index, &backwards).contains("P0000:"));

    let mut both = ahead();
    both.steps.extend(backwards.steps);
    let svg = drawn(&index, &both);
    assert!(svg.contains("P0000:") && svg.contains("P0029:"));
    assert_eq!(texts(&svg).iter().filter(|text| *text == "+1").count(), 2);
}
