//! Whole plans: well formed, repeatable, with labels apart, and whatever the surface holds.

use super::window::{Bounds, Window};
use super::*;
use spatial::frame::LonLat;
use spatial::index::SurfaceContents;
use spatial::model::{Basis, Extent, ExtentKind, Label, Limb, Print, Side, Status, Surface, Trackway};
use std::convert::Infallible;

fn label(text: &str) -> Label {
    text.parse().unwrap()
}

pub(super) fn index(prints: Vec<Print>, extents: Vec<Extent>, trackways: Vec<Trackway>) -> Indexed {
    let mut surface = Surface::new(label("S2"));
    surface.name = Some("upper <bed> & \"floor\"".to_owned());
    let contents = SurfaceContents {
        id: "gannet-ledge:S2".parse().unwrap(),
        crs: 25830,
        surface,
        prints,
        extents,
        trackways,
    };
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    let built = SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()]));
    built.unwrap().into()
}

pub(super) fn input(index: &Indexed) -> PlanInput<'_> {
    PlanInput {
        index,
        site_name: "Gannet <Ledge> & 'Cove'",
        northing_first: false,
        crs_name: "ETRS89 / UTM zone 30N (EPSG:25830)",
        factors: Some(Factors {
            convergence_deg: -1.234,
            scale: 0.999_643,
        }),
        note: Some("Invented data, \"for tests\" & nothing else"),
    }
}

fn drawn(index: &Indexed) -> String {
    let svg = plan_svg(&input(index), &View::default());
    roxmltree::Document::parse(&svg).expect("the plan is well-formed XML");
    for wild in ["NaN", "inf"] {
        assert!(!svg.contains(wild), "{wild} in the plan");
    }
    svg
}

fn extent(kind: ExtentKind, corners: &[(f64, f64)]) -> Extent {
    Extent {
        label: label("E1"),
        kind,
        polygon: geo::Polygon::new(corners.to_vec().into(), vec![]),
        surveyed_on: None,
        revision: 0,
    }
}

/// A four-footed trackway heading east: sets of pes and manus, some measures missing.
fn walk(first: usize, sets: usize, from: [f64; 2], status: Status) -> (Vec<Print>, Trackway) {
    let mut prints = Vec::new();
    for i in 0..sets {
        let side = if i % 2 == 0 { Side::Left } else { Side::Right };
        let across = if i % 2 == 0 { 0.25 } else { -0.25 };
        for (limb, ahead, length_m) in [(Limb::Pes, 0.0, 0.4), (Limb::Manus, 0.35, 0.2)] {
            let name = label(&format!("P{:03}", first + prints.len()));
            let (east, north) = (from[0] + 0.7 * i as f64 + ahead, from[1] + across);
            let mut print = Print::new(name, east, north, length_m);
            print.limb = Some(limb);
            print.side = (i % 3 != 0).then_some(side);
            print.azimuth_deg = (i % 4 != 0).then_some(90.0);
            print.width_m = (i % 5 != 0).then_some(0.7 * length_m);
            print.morphotype = (i % 7 != 0).then(|| "kind <A>".into());
            prints.push(print);
        }
    }
    let trackway = Trackway {
        label: label(&format!("T{first}")),
        prints: prints.iter().map(|print| print.label.clone()).collect(),
        basis: Basis::Field,
        status,
        probability: Some(0.9),
        morphotype: None,
        note: None,
        judged_by: None,
        revision: 0,
    };
    (prints, trackway)
}

pub(super) fn busy_surface() -> Indexed {
    let (mut prints, mut trackways) = (Vec::new(), Vec::new());
    let statuses = [
        Status::Accepted,
        Status::Proposed,
        Status::Rejected,
        Status::Accepted,
    ];
    for (i, status) in statuses.into_iter().enumerate() {
        let from = [512_340.0 + 0.4 * i as f64, 4_835_110.0 + 0.9 * i as f64];
        let (more, trackway) = walk(100 * i, 14, from, status);
        prints.extend(more);
        trackways.push(trackway);
    }
    let corners = [
        (512_339.0, 4_835_109.0),
        (512_352.0, 4_835_109.0),
        (512_352.0, 4_835_114.0),
    ];
    let extents = ExtentKind::ALL
        .iter()
        .map(|kind| extent(*kind, &corners))
        .collect();
    index(prints, extents, trackways)
}

#[test]
fn a_busy_surface_is_well_formed_and_names_are_escaped() {
    let svg = drawn(&busy_surface());
    let document = roxmltree::Document::parse(&svg).unwrap();
    let title = document
        .descendants()
        .find(|node| node.has_tag_name("title") || node.tag_name().name() == "title");
    assert_eq!(
        title.and_then(|t| t.text()),
        Some("gannet-ledge:S2 · upper <bed> & \"floor\"")
    );
    let texts: Vec<&str> = document.descendants().filter_map(|node| node.text()).collect();
    for text in [
        "Invented data, \"for tests\" & nothing else",
        "kind <A> (96)",
        "1 trackway rejected, not drawn",
    ] {
        assert!(texts.contains(&text), "{text} is shown; there are {texts:?}");
    }
    assert_eq!(document.root_element().attribute("role"), Some("img"));
}

#[test]
fn ids_start_with_the_surface_and_every_reference_is_met() {
    let svg = drawn(&busy_surface());
    let document = roxmltree::Document::parse(&svg).unwrap();
    let ids: Vec<&str> = document
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    assert!(
        ids.iter().all(|id| id.starts_with("plan-gannet-ledge-S2-")),
        "{ids:?}"
    );
    let mut references = svg
        .split("url(#")
        .skip(1)
        .map(|rest| rest.split(')').next().unwrap());
    assert!(references.all(|reference| ids.contains(&reference)));
}

#[test]
fn the_same_surface_gives_the_same_bytes() {
    assert_eq!(drawn(&busy_surface()), drawn(&busy_surface()));
}

#[test]
fn a_rejected_trackway_is_not_drawn() {
    let svg = drawn(&busy_surface());
    assert!(svg.contains(">T0</text>") && svg.contains(">T100</text>"));
    assert!(!svg.contains("T200"));
}

#[test]
fn labels_overlap_neither_each_other_nor_the_frame() {
    let index = busy_surface();
    let bounds = Bounds::of(&index).unwrap();
    for width in [300.0, 900.0, 1500.0] {
        let window = Window::fit(bounds, 80.0, 100.0, width, 0.6 * width);
        let detail = prints::Detail::of(index.prints(), &window);
        let midlines = midlines::midlines(&index, &window);
        let labels = labels::place(index.prints(), detail, &midlines, &window);
        assert_eq!(
            labels.placed.len() + labels.prints_without + labels.trackways_without,
            112 + 3
        );
        assert!(labels.placed.len() > 3, "some prints are labelled at {width}");
        for (i, one) in labels.placed.iter().enumerate() {
            let (low, high) = (one.area.lower(), one.area.upper());
            assert!(low[0] >= window.left && high[0] <= window.right());
            assert!(low[1] >= window.top && high[1] <= window.bottom());
            for other in &labels.placed[i + 1..] {
                let apart = (0..2).any(|k| {
                    one.area.upper()[k] < other.area.lower()[k] || other.area.upper()[k] < one.area.lower()[k]
                });
                assert!(apart, "{one:?} upon {other:?}");
            }
        }
    }
}

#[test]
fn a_midline_runs_between_the_feet_along_the_pes_prints_alone() {
    let (prints, trackway) = walk(0, 10, [500.0, 700.0], Status::Accepted);
    let index = index(prints, vec![], vec![trackway]);
    let window = Window::fit(Bounds::of(&index).unwrap(), 0.0, 0.0, 1000.0, 500.0);
    let midline = midlines::midlines(&index, &window).remove(0).line;
    let [_, middle] = window.at([0.0, 700.0]);
    for [_, y] in &midline[1..midline.len() - 1] {
        assert!(
            (y - middle).abs() < 1e-6,
            "manus prints or single feet pull the line to {y}, not {middle}"
        );
    }
    let [start, end] = [midline[0][0], midline[midline.len() - 1][0]];
    assert!(
        start < window.at([500.1, 0.0])[0] && end > window.at([506.3, 0.0])[0],
        "from the first print beyond the last"
    );
}

#[test]
fn an_empty_surface_says_so() {
    let svg = drawn(&index(vec![], vec![], vec![]));
    assert!(svg.contains("no prints recorded") && !svg.contains("easting"));
    let covered = extent(ExtentKind::Covered, &[(0.0, 0.0), (9.0, 0.0), (9.0, 7.0)]);
    let svg = drawn(&index(vec![], vec![covered], vec![]));
    assert!(svg.contains("no prints recorded") && svg.contains("easting") && svg.contains("covered"));
}

#[test]
fn one_print_all_in_one_place_and_all_on_a_line_are_drawn() {
    let at = |i: usize, east: f64| Print::new(label(&format!("P{i}")), 500_000.0 + east, 4_000_000.0, 0.3);
    let one = drawn(&index(vec![at(0, 0.0)], vec![], vec![]));
    assert!(one.contains("1 print: 1 of unknown limb"));
    drawn(&index((0..50).map(|i| at(i, 0.0)).collect(), vec![], vec![]));
    drawn(&index(
        (0..50).map(|i| at(i, 1.1 * i as f64)).collect(),
        vec![],
        vec![],
    ));
}

#[test]
fn wild_numbers_neither_break_the_plan_nor_its_scale() {
    let wild = [0.0, -1.0, 1e-12, 31.0, 1e300, f64::NAN, f64::INFINITY];
    let mut prints: Vec<Print> = (0..wild.len())
        .map(|i| Print::new(label(&format!("P{i}")), 10.0 + i as f64, 20.0, wild[i]))
        .collect();
    prints[0].azimuth_deg = Some(f64::NAN);
    prints[1].width_m = Some(f64::INFINITY);
    let sized = index(prints.clone(), vec![], vec![]);
    assert!(drawn(&sized).contains("not drawn (7)"));
    assert!(Bounds::of(&sized).unwrap().width_m() < 10.0);

    prints[2].easting_m = 1e300;
    prints[3].northing_m = -1e300;
    let corners = [(f64::NAN, 1.0), (0.0, f64::INFINITY), (1e300, 3.0), (4.0, 4.0)];
    let (_, mut trackway) = walk(0, 0, [0.0, 0.0], Status::Accepted);
    trackway.prints = ["P0", "P0", "P9", "P2", "P3", "P4"].map(label).to_vec();
    drawn(&index(
        prints,
        vec![extent(ExtentKind::Eroded, &corners)],
        vec![trackway],
    ));
}

#[test]
fn unknown_or_unsound_factors_are_said_to_be_unknown() {
    let index = busy_surface();
    let unsound = Factors {
        convergence_deg: f64::NAN,
        scale: 1.0,
    };
    for factors in [None, Some(unsound)] {
        let known = PlanInput {
            factors,
            ..input(&index)
        };
        let svg = plan_svg(&known, &View::default());
        assert!(svg.contains("not known here") && !svg.contains("scale factor"));
    }
}

#[test]
fn thousands_of_trackways_stay_small() {
    let rows = (0..2_500).map(|i| {
        let from = [20.0 * (i % 50) as f64, 4.0 * (i / 50) as f64];
        walk(100 * i, 10, from, Status::Accepted)
    });
    let (prints, trackways): (Vec<_>, Vec<_>) = rows.unzip();
    let few = index(prints[..100].concat(), vec![], trackways[..100].to_vec());
    assert!(drawn(&few).contains("<title>T9900: accepted, 20 prints, "));
    let many = drawn(&index(prints.concat(), vec![], trackways));
    assert!(many.len() < 500_000, "{} bytes", many.len());
    assert!(!many.contains("accepted, 20 prints"));
}

#[test]
fn a_hundred_thousand_prints_stay_small() {
    let at = |i: usize| {
        let mut print = Print::new(
            label(&format!("P{i}")),
            0.7 * (i % 400) as f64,
            0.9 * (i / 400) as f64,
            0.3,
        );
        print.azimuth_deg = Some((i * 37 % 360) as f64);
        print
    };
    let svg = drawn(&index((0..100_000).map(at).collect(), vec![], vec![]));
    assert!(svg.len() < 1_000_000, "{} bytes", svg.len());
    assert!(
        svg.contains("one print or more"),
        "the legend says what was simplified"
    );
    let svg = drawn(&index((0..2_500).map(at).collect(), vec![], vec![]));
    assert!(svg.contains("No print is labelled"));
}

/// The part of a surface in a box, by its lower and upper corner.
fn part(index: &Indexed, corners: [[f64; 2]; 2], width: f64) -> String {
    let view = View::new(Some(corners), Some(width)).unwrap();
    let svg = plan_svg(&input(index), &view);
    roxmltree::Document::parse(&svg).expect("the plan is well-formed XML");
    svg
}

fn texts(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).unwrap();
    let texts = document
        .descendants()
        .filter(|node| node.tag_name().name() == "text");
    texts.filter_map(|node| Some(node.text()?.to_owned())).collect()
}

#[test]
fn a_part_shows_what_lies_in_it_and_tells_programs_what_it_shows() {
    let (west, trackway) = walk(1, 10, [0.0, 0.0], Status::Accepted);
    let (far, other) = walk(500, 10, [200.0, 0.0], Status::Accepted);
    let index = index([west, far].concat(), vec![], vec![trackway, other]);
    let svg = part(&index, [[-1.0, -2.0], [7.0, 2.0]], 1000.0);
    let told = texts(&svg);
    assert!(
        told.iter()
            .any(|text| text == "On this part: 20 prints, 1 trackway"),
        "{told:?}"
    );
    assert!(told.contains(&"T1".to_owned()) && !told.contains(&"T500".to_owned()));
    assert!(
        told.contains(&"kind <A> (16)".to_owned()),
        "the key counts what is here: {told:?}"
    );
    let root = roxmltree::Document::parse(&svg).unwrap();
    let attribute = |name: &str| root.root_element().attribute(name).unwrap().to_owned();
    let numbers = |name: &str| -> Vec<f64> {
        let text: String = attribute(name);
        text.split(' ').map(|number| number.parse().unwrap()).collect()
    };
    assert_eq!(
        attribute("data-crs"),
        "http://www.opengis.net/def/crs/EPSG/0/25830"
    );
    let (window, frame) = (numbers("data-window"), numbers("data-frame"));
    // The box that was asked for, in the middle of the frame, at one scale both ways.
    assert!(window[0] <= -1.0 && window[1] <= -2.0 && window[2] >= 7.0 && window[3] >= 2.0);
    assert!((window[0] + window[2] - 6.0).abs() < 1e-3 && (window[1] + window[3]).abs() < 1e-3);
    let scales = [
        frame[2] / (window[2] - window[0]),
        frame[3] / (window[3] - window[1]),
    ];
    assert!((scales[0] / scales[1] - 1.0).abs() < 1e-3, "{scales:?}");
}

#[test]
fn a_trackway_that_runs_through_a_part_between_its_prints_is_drawn() {
    let (prints, trackway) = walk(1, 10, [0.0, 0.0], Status::Accepted);
    let index = index(prints, vec![], vec![trackway]);
    let svg = part(&index, [[2.32, -0.04], [2.4, 0.04]], 600.0);
    assert!(texts(&svg).contains(&"On this part: 0 prints, 1 trackway".to_owned()));
    assert!(texts(&svg).contains(&"no prints recorded here".to_owned()));
    let nowhere = part(&index, [[900.0, 900.0], [901.0, 901.0]], 480.0);
    assert!(texts(&nowhere).contains(&"On this part: 0 prints, 0 trackways".to_owned()));
}
