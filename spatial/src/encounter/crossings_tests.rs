use super::*;
use crate::frame::LonLat;
use crate::model::{Label, Remarks};
use crate::simulate::Passers;
use serde_json::Value;
use std::convert::Infallible;

fn path(label: &str, line: &[[f64; 2]]) -> Path {
    Path::along(label.parse().unwrap(), line.to_vec(), 0.3).unwrap()
}

fn indexed(contents: crate::index::SurfaceContents) -> SurfaceIndex {
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()])).unwrap()
}

fn of(paths: &[Path]) -> Vec<Crossing> {
    let index = indexed(Passers::new(0).surface(&[], 1));
    crossings(&index, paths, &Overprints::default())
}

fn places(value: &Value) -> Vec<[f64; 2]> {
    serde_json::from_value(value.clone()).unwrap()
}

/// Places and stretches that two lines share, as GEOS finds them; `fixtures/reference/crossings.json` names its version.
#[test]
fn places_are_those_of_geos() {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../fixtures/reference/crossings.json"
    );
    let fixture: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    let mut points = 0;
    for case in fixture["cases"].as_array().unwrap() {
        let name = case["name"].as_str().unwrap();
        let paths = [
            path("T1", &places(&case["one"])),
            path("T2", &places(&case["other"])),
        ];
        let found = of(&paths);
        let (stretches, singles): (Vec<_>, Vec<_>) =
            found.iter().partition(|one| one.contact == Contact::Shares);
        let expected = places(&case["points"]);
        assert_eq!(singles.len(), expected.len(), "{name}: {found:?}");
        for place in expected {
            points += 1;
            let near = singles.iter().any(|one| distance_m(one.place_m, place) < 1e-6);
            assert!(near, "{name}: none of {singles:?} at {place:?}");
        }
        let shared: f64 = case["shared"]
            .as_array()
            .unwrap()
            .iter()
            .map(|line| {
                let line = places(line);
                line.windows(2)
                    .map(|pair| distance_m(pair[0], pair[1]))
                    .sum::<f64>()
            })
            .sum();
        let own: f64 = stretches.iter().map(|one| one.shared_m).sum();
        assert!(
            (own - shared).abs() < 1e-6,
            "{name}: {own} m shared, {shared} by GEOS"
        );
    }
    assert!(points > 50, "{points} places compared");
}

#[test]
fn what_crosses_and_what_only_touches() {
    let level = [[0.0, 0.0], [5.0, 0.0]];
    let contact = |line: &[[f64; 2]]| {
        let found = of(&[path("T1", &level), path("T2", line)]);
        assert_eq!(found.len(), 1);
        found[0].contact
    };
    assert_eq!(contact(&[[1.0, 2.0], [3.0, -2.0]]), Contact::Crosses);
    assert_eq!(contact(&[[1.0, 2.0], [2.0, 0.0], [3.0, 2.0]]), Contact::Touches);
    assert_eq!(contact(&[[1.0, 2.0], [2.0, 0.0], [3.0, -2.0]]), Contact::Crosses);
    assert_eq!(
        contact(&[[2.0, 0.0], [2.0, 3.0]]),
        Contact::Touches,
        "it begins there"
    );
    assert_eq!(
        contact(&[[1.0, 1.0], [2.0, 0.0], [4.0, 0.0], [5.0, 1.0]]),
        Contact::Shares
    );
    let bent = [[0.0, 0.0], [2.0, 0.0], [4.0, 1.0]];
    for (to, wanted) in [([3.0, -3.0], Contact::Crosses), ([3.0, 3.0], Contact::Touches)] {
        let found = of(&[path("T1", &bent), path("T2", &[[1.0, 3.0], [2.0, 0.0], to])]);
        assert_eq!((found.len(), found[0].contact), (1, wanted));
    }
}

#[test]
fn angle_and_azimuths_of_a_crossing() {
    let found = of(&[
        path("T1", &[[0.0, 0.0], [4.0, 0.0]]),
        path("T2", &[[1.0, -1.0], [3.0, 1.0]]),
    ]);
    let one = &found[0];
    assert!(distance_m(one.place_m, [2.0, 0.0]) < 1e-12);
    assert!((one.angle_rad.to_degrees() - 45.0).abs() < 1e-9);
    assert!((one.azimuths_rad[0].to_degrees() - 90.0).abs() < 1e-9);
    assert!((one.along_m[1] - 2f64.sqrt()).abs() < 1e-12);
}

#[test]
fn nothing_crosses_where_there_is_nothing() {
    assert!(of(&[]).is_empty());
    assert!(of(&[path("T1", &[[0.0, 0.0], [2.0, 0.0], [1.0, 1.0], [1.0, -1.0]])]).is_empty());
}

#[test]
fn the_later_one_is_told_by_its_overprint() {
    let passers = Passers::new(0);
    let middle = passers.middle_m();
    let model = crate::simulate::Walker::steady([0.0; 2], 0.0, 0, 0.3);
    let walkers = [0.0, 1.6].map(|from_rad| {
        let mut walker = Passers::towards(middle, from_rad, 6.0, 1.0, &model);
        walker.paces = 12;
        walker
    });
    let mut contents = passers.surface(&walkers, 5);
    let nearest = |contents: &crate::index::SurfaceContents, trackway: &str| -> Label {
        let of = contents
            .prints
            .iter()
            .filter(|print| print.label.as_str().starts_with(trackway));
        let far = |print: &&crate::model::Print| distance_m([print.easting_m, print.northing_m], middle);
        of.min_by(|a, b| far(a).total_cmp(&far(b))).unwrap().label.clone()
    };
    let (lower, upper) = (nearest(&contents, "P0"), nearest(&contents, "P1"));
    let print = contents
        .prints
        .iter_mut()
        .find(|print| print.label == upper)
        .unwrap();
    print.remarks = Some(Box::new(Remarks {
        overlies: vec![lower],
        ..Remarks::default()
    }));
    let index = indexed(contents);
    let (paths, left_out) = Path::all(&index);
    assert!(left_out.is_empty());
    let found = crossings(&index, &paths, &Overprints::of(&index));
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].first, First::One, "T0 lies below T1");
    assert_eq!(found[0].overprints.len(), 1);
}
