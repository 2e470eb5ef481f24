//! A trackway that stops at a cover is carried on: to the next prints, to the trackway beyond it, and to the squares of
//! ground where a party should look.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use std::fmt::Write;
use tests::story::{Ledger, features, problem};

const PLACE: &str = "sunk-flat:S1";
const EAST: f64 = 480_000.0;
const NORTH: f64 = 4_790_000.0;

/// Prints of a walk to the north: the first at this number of its steps. A half stride has 0.8 m; some unevenness that repeats
/// keeps it from being a machine's.
fn walk(trackway: &str, steps: std::ops::Range<u32>, east: f64) -> String {
    let mut rows = String::new();
    for no in steps.clone() {
        let (off, side) = if no % 2 == 0 {
            (0.12, "right")
        } else {
            (-0.12, "left")
        };
        let along = 0.8 * f64::from(no) + 0.02 * f64::from(no * 7 % 5);
        let easting = EAST + east + off + 0.01 * f64::from(no * 3 % 4);
        let azimuth = (f64::from(no * 5 % 7) - 3.0).rem_euclid(360.0);
        let order = no - steps.start + 1;
        writeln!(
            rows,
            "S1,{trackway}-{no:02},{easting:.3},{:.3},0.30,{azimuth},{side},slender-toed,{trackway},{order}",
            NORTH + along
        )
        .unwrap();
    }
    rows
}

const HEADER: &str =
    "surface,print,easting_m,northing_m,length_m,azimuth_deg,side,morphotype,trackway,order\n";

/// A walk that is covered from its 14th print on for seven metres, goes on beyond, and another apart from it.
fn flat() -> Ledger {
    let ledger = Ledger::with_site("sunk-flat");
    let rows = [
        walk("T1", 0..14, 0.0),
        walk("T2", 22..34, 0.0),
        walk("T3", 0..34, 12.0),
    ]
    .concat();
    ledger
        .import("sunk-flat", "sheet.csv", format!("{HEADER}{rows}"))
        .done();
    let [west, east] = [EAST - 6.0, EAST + 6.0];
    let extent = |label: &str, kind: &str, south: f64, north: f64| {
        let ring = [
            [west, south],
            [east, south],
            [east, north],
            [west, north],
            [west, south],
        ];
        json!({
            "type": "Feature",
            "properties": { "surface": "S1", "extent": label, "kind": kind },
            "geometry": { "type": "Polygon", "coordinates": [ring] },
        })
    };
    let extents = json!({
        "type": "FeatureCollection",
        "crs": { "type": "name", "properties": { "name": "urn:ogc:def:crs:EPSG::25830" } },
        "features": [
            extent("E1", "exposed", NORTH - 2.0, NORTH + 10.7),
            extent("E2", "covered", NORTH + 10.7, NORTH + 17.4),
            extent("E3", "exposed", NORTH + 17.4, NORTH + 30.0),
        ],
    });
    ledger
        .import("sunk-flat", "extents.geojson", extents.to_string())
        .done();
    ledger
}

fn part<'a>(answer: &'a Value, part: &str, direction: &str) -> Vec<&'a Value> {
    let of = |one: &&Value| one["properties"]["part"] == part && one["properties"]["direction"] == direction;
    features(answer).iter().filter(of).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn the_next_prints_lie_where_the_walk_would_have_gone() {
    let ledger = flat();
    let answer = ledger.ask(
        "continuation",
        &["trackway=sunk-flat:S1:T1", "crs=EPSG:25830", "direction=after"],
    );
    let steps = part(&answer, "predicted", "after");
    assert!(steps.len() >= 2, "{}", steps.len());
    for (step, no) in steps.iter().zip(14u32..) {
        let own = &step["properties"];
        assert_eq!(own["step"], no - 13);
        let in_extent = if no < 22 { "covered" } else { "exposed" };
        assert_eq!(own["in_extent"], in_extent, "{own}");
        assert_eq!(own["side"], if no % 2 == 0 { "right" } else { "left" });
        let [east, north] = [0, 1].map(|axis| number(&step["geometry"]["coordinates"][axis]));
        let truth = [
            EAST + if no % 2 == 0 { 0.135 } else { -0.105 },
            NORTH + 0.8 * f64::from(no) + 0.04,
        ];
        let away = (east - truth[0]).hypot(north - truth[1]);
        assert!(
            away < 0.15 + 0.03 * f64::from(no - 13),
            "step {}: {away} m",
            no - 13
        );
        let [major, minor] = ["sd_major_m", "sd_minor_m"].map(|name| number(&own[name]));
        assert!(0.0 < minor && minor <= major, "{own}");
    }
    let spread = |step: &Value| number(&step["properties"]["sd_major_m"]);
    assert!(
        spread(steps[1]) > spread(steps[0]),
        "what lies farther is less sure"
    );
    let regions = part(&answer, "region", "after");
    assert_eq!(regions.len(), 2 * steps.len());
    assert_eq!(part(&answer, "corridor", "after").len(), 1);
    assert!(part(&answer, "predicted", "before").is_empty());
    assert_eq!(
        ledger.ask("continuation", &["trackway=sunk-flat:S1:T1", "steps=3"])["query"]["steps"],
        3
    );
}

#[test]
fn the_trackway_beyond_the_cover_is_found_and_probabilities_add_up() {
    let ledger = flat();
    let answer = ledger.ask(
        "continuation",
        &["trackway=sunk-flat:S1:T1", "steps=12", "widest_m=1000"],
    );
    for direction in ["after", "before"] {
        let candidates = part(&answer, "candidate", direction);
        let sum: f64 = candidates
            .iter()
            .map(|one| number(&one["properties"]["probability"]))
            .sum();
        let none = number(&part(&answer, "summary", direction)[0]["properties"]["none_of_these"]);
        assert!((sum + none - 1.0).abs() < 1e-6, "{direction}: {sum} and {none}");
    }
    let best = &part(&answer, "candidate", "after")[0]["properties"];
    assert_eq!(
        (&best["kind"], &best["trackway"]),
        (&json!("trackway"), &json!("sunk-flat:S1:T2")),
        "{best}"
    );
    assert!(number(&best["probability"]) > 0.6, "{best}");
    assert_eq!((&best["missing"], &best["side_fits"]), (&json!(8), &json!(true)));
    assert!(best["terms"].as_array().unwrap().len() >= 3);
    let links = ledger.ask("linking", &[&format!("surface={PLACE}")]);
    let first = &features(&links)[0]["properties"];
    assert_eq!(
        (&first["from"], &first["to"]),
        (&json!("sunk-flat:S1:T1"), &json!("sunk-flat:S1:T2")),
        "{links}"
    );
    assert_eq!((&first["chosen"], &first["missing"]), (&json!(true), &json!(8)));
    assert!(number(&first["probability"]) > 0.6);
}

#[test]
fn targets_are_ranked_squares_under_cover_and_a_map_to_print() {
    let ledger = flat();
    let inputs = ["trackway=sunk-flat:S1:T1", "direction=after", "crs=EPSG:25830"];
    let answer = ledger.ask("continuation", &inputs);
    let targets = part(&answer, "target", "after");
    assert!(!targets.is_empty());
    let probabilities: Vec<f64> = targets
        .iter()
        .map(|one| number(&one["properties"]["probability"]))
        .collect();
    assert!(
        probabilities.windows(2).all(|pair| pair[0] >= pair[1]),
        "{probabilities:?}"
    );
    assert!(probabilities.iter().all(|p| (0.0..=1.0).contains(p)));
    assert_eq!(targets[0]["properties"]["in_extent"], "covered");
    let ring = targets[0]["geometry"]["coordinates"][0].as_array().unwrap();
    assert!(
        ring.iter()
            .flat_map(|corner| corner.as_array().unwrap())
            .all(|axis| number(axis).fract() == 0.0),
        "{ring:?}"
    );
    for words in ["tide", "permits", "sacred"] {
        assert!(answer["caution"].as_str().unwrap().contains(words), "{words}");
    }
    let server = ledger.serve(&[]);
    let drawn =
        server.get("/queries/continuation?trackway=sunk-flat:S1:T1&direction=after&crs=EPSG:25830&f=svg");
    let drawn = drawn.with_status(200).text().to_owned();
    assert!(drawn.starts_with("<svg") && drawn.contains("sunk-flat:S1:T1"));
    let by_command = ledger
        .run(&[&["query", "continuation"], &inputs[..], &["--svg", "-"]].concat())
        .done()
        .out;
    assert_eq!(by_command.trim_end(), drawn.trim_end());
}

#[test]
fn what_cannot_be_continued_says_why() {
    let ledger = flat();
    let short = format!("{HEADER}S2,A,480000,4790000,0.3,,,,T9,1\nS2,B,480000,4790001,0.3,,,,T9,2\n");
    ledger.import("sunk-flat", "short.csv", short).done();
    let server = ledger.serve(&[]);
    let told = problem(&server.get("/queries/continuation?trackway=sunk-flat:S2:T9"), 400);
    assert!(
        told["detail"].as_str().unwrap().contains("three at least"),
        "{told}"
    );
    for (inputs, faulty) in [
        ("", "trackway"),
        ("trackway=sunk-flat:S1:T1&steps=0", "steps"),
        ("trackway=sunk-flat:S1:T1&steps=101", "steps"),
        ("trackway=sunk-flat:S1:T1&square_m=0", "square_m"),
        ("trackway=sunk-flat:S1:T1&direction=sideways", "direction"),
    ] {
        let told = problem(&server.get(&format!("/queries/continuation?{inputs}")), 400);
        assert_eq!(told["faults"][0]["input"], faulty, "{inputs}: {told}");
    }
    problem(&server.get("/queries/continuation?trackway=sunk-flat:S1:T8"), 404);
    let links = server
        .get("/queries/linking?surface=sunk-flat:S2")
        .with_status(200)
        .json();
    assert!(features(&links).is_empty());
}
