//! A surface drawn whole, and a part of it, at both doors.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use tests::story::{Ledger, problem, walk};

/// A part of the walk's surface: eastings and northings, metres.
const PART: &str = "479999,4789999,480003,4790002";

fn ledger() -> Ledger {
    let ledger = Ledger::with_site("gull-ledge");
    ledger.import("gull-ledge", "sheet.csv", walk("S1", 1, 40)).done();
    ledger
}

fn drawn(ledger: &Ledger, options: &[&str]) -> String {
    let draw = ["plan", "gull-ledge:S1", "--svg", "-"];
    ledger.run(&[&draw[..], options].concat()).done().out
}

#[test]
fn both_doors_draw_the_same_whole_and_in_part() {
    let ledger = ledger();
    let server = ledger.serve(&[]);
    let plan = |parameters: &str| {
        let path = format!("/surfaces/gull-ledge:S1/plan.svg{parameters}");
        server.get(&path).with_status(200).text().to_owned()
    };
    let whole = plan("");
    assert_eq!(drawn(&ledger, &[]).trim_end(), whole.trim_end());
    let part = plan(&format!("?bbox={PART}&bbox-crs=EPSG:25830&width=640"));
    let options = ["--bbox", PART, "--bbox-crs", "EPSG:25830", "--width", "640"];
    assert_eq!(drawn(&ledger, &options).trim_end(), part.trim_end());
    assert!(part.contains("On this part: ") && !whole.contains("On this part: "));
    assert!(part.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 640 "));
}

#[test]
fn a_box_in_degrees_is_one_of_the_grid() {
    let ledger = ledger();
    // Longitude 3 degrees west is the central meridian of the zone, easting 500 km; the sheet's prints lie west of it.
    let east = drawn(&ledger, &["--bbox", "-3.0001,43.2,-3,43.2001"]);
    let window = east
        .split("data-window=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let numbers: Vec<f64> = window.split(' ').map(|number| number.parse().unwrap()).collect();
    let middle_m = f64::midpoint(numbers[0], numbers[2]);
    assert!((499_990.0..500_000.0).contains(&middle_m), "{window}");
    assert!(east.contains("no prints recorded here"));
}

#[test]
fn what_makes_no_page_is_refused_with_what_was_expected() {
    let ledger = ledger();
    let server = ledger.serve(&[]);
    for (parameters, expected) in [
        ("bbox=1,2,3", "four numbers"),
        ("bbox=1,2,3,NaN", "four numbers"),
        ("bbox=0,50,0,50", "0.02 m"),
        ("bbox=177,-50,-177,-40", "antimeridian"),
        ("bbox=1,2,3,4&bbox-crs=EPSG:99999", "not offered"),
        ("width=9", "480 to 4000"),
        ("width=NaN", "480 to 4000"),
        ("width=wide", "a number of pixels"),
        ("box=1,2,3,4", "no parameter box"),
    ] {
        let answer = server.get(&format!("/surfaces/gull-ledge:S1/plan.svg?{parameters}"));
        let told = problem(&answer, 400);
        let detail = told["detail"].as_str().unwrap();
        assert!(detail.contains(expected), "{parameters}: {detail}");
    }
    let bad = ledger.run(&["plan", "gull-ledge:S1", "--svg", "-", "--bbox", "1,2,3"]);
    assert_eq!(bad.code, 1, "{bad:?}");
    let none = ledger.run(&["plan", "gull-ledge:S1", "--svg", "-", "--bbox-crs", "EPSG:25830"]);
    assert_eq!(none.code, 2, "--bbox-crs without --bbox: {none:?}");
}
