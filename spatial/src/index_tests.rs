//! Each query of the index against a plain loop over all prints, on random and on degenerate sets.

use super::*;
use geo::polygon;
use proptest::prelude::*;
use std::convert::Infallible;

fn index_of(positions: &[[f64; 2]]) -> SurfaceIndex {
    let prints = positions
        .iter()
        .enumerate()
        .map(|(i, [e, n])| Print::new(format!("P{i:06}").parse().unwrap(), *e, *n, 0.3));
    build(prints.collect()).unwrap()
}

fn build(prints: Vec<Print>) -> Result<SurfaceIndex, IndexFault<Infallible>> {
    let contents = SurfaceContents {
        id: "cove:S1".parse().unwrap(),
        crs: 25830,
        surface: Surface::new("S1".parse().unwrap()),
        prints,
        extents: vec![],
        trackways: vec![],
    };
    SurfaceIndex::build(contents, |all| {
        Ok(all
            .iter()
            .map(|_| LonLat {
                lon_deg: 0.0,
                lat_deg: 0.0,
            })
            .collect())
    })
}

/// The oracle: all distances, sorted by distance and number.
fn all_by_distance(positions: &[[f64; 2]], at: [f64; 2]) -> Vec<(PrintNo, f64)> {
    let mut all: Vec<(PrintNo, f64)> = positions
        .iter()
        .zip(0..)
        .map(|(p, no)| {
            let (dx, dy) = (p[0] - at[0], p[1] - at[1]);
            (no, dx * dx + dy * dy)
        })
        .collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    for (_, distance) in &mut all {
        *distance = distance.sqrt();
    }
    all
}

/// Random sets, and degenerate ones: all in one place, on one line, on a coarse lattice with many ties.
fn positions() -> impl Strategy<Value = Vec<[f64; 2]>> {
    let coordinate = 500_000.0..500_020.0;
    prop_oneof![
        prop::collection::vec(prop::array::uniform2(coordinate.clone()), 0..120),
        (prop::array::uniform2(coordinate.clone()), 0usize..60).prop_map(|(p, n)| vec![p; n]),
        prop::collection::vec(coordinate, 0..120).prop_map(|v| v.into_iter().map(|x| [x, x]).collect()),
        prop::collection::vec((0i32..5, 0i32..5), 0..120).prop_map(|v| v
            .into_iter()
            .map(|(x, y)| [500_000.0 + f64::from(x), 500_000.0 + f64::from(y)])
            .collect()),
    ]
}

proptest! {
    #[test]
    fn nearest_agrees_with_a_loop(set in positions(), at in prop::array::uniform2(499_990.0..500_030.0), k in 0usize..30) {
        let mut expected = all_by_distance(&set, at);
        expected.truncate(k);
        prop_assert_eq!(index_of(&set).nearest(at, k), expected);
    }

    #[test]
    fn within_agrees_with_a_loop(set in positions(), at in prop::array::uniform2(499_990.0..500_030.0), radius in 0.0..20.0) {
        let mut expected = all_by_distance(&set, at);
        // The same comparison of squares as the index makes: a print exactly on the rim counts.
        expected.retain(|(no, _)| {
            let p = set[*no as usize];
            (p[0] - at[0]) * (p[0] - at[0]) + (p[1] - at[1]) * (p[1] - at[1]) <= radius * radius
        });
        prop_assert_eq!(index_of(&set).within(at, radius), expected);
    }

    #[test]
    fn boxes_and_rectangles_agree_with_a_loop(set in positions(), a in prop::array::uniform2(499_995.0..500_025.0), size in prop::array::uniform2(0.0..15.0)) {
        let upper = [a[0] + size[0], a[1] + size[1]];
        let expected: Vec<PrintNo> = set.iter().zip(0..)
            .filter(|(p, _)| a[0] <= p[0] && p[0] <= upper[0] && a[1] <= p[1] && p[1] <= upper[1])
            .map(|(_, no)| no).collect();
        let index = index_of(&set);
        prop_assert_eq!(&index.in_box(a, upper), &expected);
        let placed: Vec<_> = expected.iter().map(|no| (*no, set[*no as usize])).collect();
        let few = |most: usize| index.few_in_box(a, upper, most).map(|mut few| {
            few.sort_by_key(|(no, _)| *no);
            few
        });
        prop_assert_eq!(few(expected.len()), Some(placed));
        prop_assert!(expected.is_empty() || few(expected.len() - 1).is_none());
        if size[0] > 0.0 && size[1] > 0.0 {
            let rectangle = geo::Rect::new(a, upper).to_polygon();
            prop_assert_eq!(&index.in_polygon(&rectangle), &expected);
        }
    }
}

#[test]
fn a_hole_in_a_polygon_holds_no_print() {
    let ring = polygon!(
        exterior: [(x: 0., y: 0.), (x: 10., y: 0.), (x: 10., y: 10.), (x: 0., y: 10.)],
        interiors: [[(x: 4., y: 4.), (x: 6., y: 4.), (x: 6., y: 6.), (x: 4., y: 6.)]],
    );
    let index = index_of(&[[1.0, 1.0], [5.0, 5.0], [11.0, 5.0]]);
    assert_eq!(index.in_polygon(&ring), [0]);
}

#[test]
fn an_empty_surface_answers_with_nothing() {
    let index = index_of(&[]);
    assert!(index.nearest([0.0, 0.0], 5).is_empty());
    assert!(index.within([0.0, 0.0], 5.0).is_empty());
    assert_eq!(index.bounds(), None);
}

#[test]
fn prints_are_found_by_label_whatever_their_order() {
    let print = |label: &str| Print::new(label.parse().unwrap(), 1.0, 2.0, 0.3);
    let index = build(vec![print("P2"), print("P10"), print("P1")]).unwrap();
    assert_eq!(
        index.find(&"P10".parse().unwrap()),
        Some(1),
        "labels sort as text: P1, P10, P2"
    );
    assert_eq!(index.find(&"P3".parse().unwrap()), None);
    assert_eq!(index.first_after(&"P1".parse().unwrap()), 1);
    assert_eq!(index.first_after(&"P2".parse().unwrap()), 3);
}

#[test]
fn what_cannot_be_indexed_is_refused() {
    let bad = Print::new("P1".parse().unwrap(), f64::NAN, 0.0, 0.3);
    assert_eq!(
        build(vec![bad]).unwrap_err(),
        IndexFault::NotFinite("P1".parse().unwrap())
    );
    let twice = Print::new("P1".parse().unwrap(), 0.0, 0.0, 0.3);
    assert_eq!(
        build(vec![twice.clone(), twice]).unwrap_err(),
        IndexFault::Duplicate("P1".parse().unwrap())
    );
}

#[test]
fn a_print_is_counted_in_one_trackway() {
    use crate::model::Basis;
    let trackway = |label: &str, prints: &[&str], status, probability| Trackway {
        label: label.parse().unwrap(),
        prints: prints.iter().map(|print| print.parse().unwrap()).collect(),
        basis: Basis::Grouping,
        status,
        probability,
        morphotype: None,
        note: None,
        judged_by: None,
        revision: 1,
    };
    let contents = SurfaceContents {
        id: "cove:S1".parse().unwrap(),
        crs: 25830,
        surface: Surface::new("S1".parse().unwrap()),
        prints: ["A", "B", "C"]
            .map(|label| Print::new(label.parse().unwrap(), 0.0, 0.0, 0.3))
            .into(),
        extents: vec![],
        trackways: vec![
            trackway("G1", &["A", "B"], Status::Proposed, Some(0.9)),
            trackway("G2", &["C", "D"], Status::Proposed, Some(0.5)),
            trackway("G3", &["D", "E"], Status::Proposed, Some(0.6)),
            trackway("G4", &["F"], Status::Proposed, None),
            trackway("R1", &["G"], Status::Rejected, Some(1.0)),
            trackway("T1", &["A", "H"], Status::Accepted, None),
            trackway("T2", &["A", "I"], Status::Accepted, None),
        ],
    };
    let places = |all: &[[f64; 2]]| {
        Ok::<_, Infallible>(vec![
            LonLat {
                lon_deg: 0.0,
                lat_deg: 0.0
            };
            all.len()
        ])
    };
    let index = SurfaceIndex::build(contents, places).unwrap();
    let labels: Vec<&str> = index
        .standing_trackways()
        .iter()
        .map(|one| one.label.as_str())
        .collect();
    assert_eq!(labels, ["G3", "G4", "T1", "T2"]);
    // A label that the surface does not have is passed over.
    assert_eq!(index.prints_of(&index.trackways()[1]), [2]);
}
