//! A field party describes its surfaces: names, strike and dip, by the grid or by the compass.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::{Ledger, Ran};

const SITE: &str = "auk-cape";

/// At longitude 0, latitude 80 the convergence of EPSG:32631 is this (pyproj 3.7.2, PROJ 9.5.1), …
const CONVERGENCE_DEG: f64 = -2.954_504_68;
/// … and the declination this, on 2025-01-01: a test value of the World Magnetic Model 2025 as NOAA/NCEI prints it,
/// two decimals, at sea level.
const DECLINATION_DEG: f64 = 1.28;
/// The last printed decimal's half, and a little.
const PRINTED_DEG: f64 = 0.005_5;

/// Three prints about that place, which is the middle of the box around them.
const SHEET: &str = "surface,print,easting_m,northing_m,length_m\n\
                     S1,P1,441866.785,8883084.956,0.31\n\
                     S1,P2,441867.785,8883083.956,0.30\n\
                     S1,P3,441868.785,8883085.956,0.29\n";

fn cape() -> Ledger {
    let ledger = Ledger::new();
    ledger.add_site(SITE, "EPSG:32631", &[]);
    ledger
}

fn close(found: Option<f64>, expected: f64, most_deg: f64) {
    let found = found.unwrap();
    assert!((found - expected).abs() <= most_deg, "{found} is not {expected}");
}

fn refused(ran: &Ran) -> Value {
    assert_eq!(ran.code, 1, "{ran:?}");
    ran.json()
}

fn set(ledger: &Ledger, options: &[&str]) -> Ran {
    ledger.run(&[&["surface", "set", "auk-cape:S1", "--json"], options].concat())
}

#[test]
fn a_surface_is_made_described_and_shown() {
    let ledger = cape();
    let made = set(&ledger, &["--name", "upper ledge", "--order", "-2"])
        .done()
        .json();
    assert_eq!(
        (&made["made"], &made["changed"], &made["revision"]),
        (&json!(true), &json!(true), &json!(1))
    );
    let beds = [
        "--strike-deg",
        "360",
        "--dip-deg",
        "14.5",
        "--lithology",
        "fine sandstone",
    ];
    let described = set(&ledger, &beds).done().json();
    assert_eq!(
        (&described["made"], &described["revision"]),
        (&json!(false), &json!(2))
    );
    for (name, value) in [
        ("name", json!("upper ledge")),
        ("order", json!(-2)),
        ("strike_deg", json!(0.0)),
        ("dip_deg", json!(14.5)),
        ("lithology", json!("fine sandstone")),
        ("note", Value::Null),
    ] {
        assert_eq!(described[name], value, "{name}");
    }
    let again = set(&ledger, &beds).done().json();
    assert_eq!(
        (&again["changed"], &again["revision"]),
        (&json!(false), &json!(2))
    );
    let words = ledger
        .run(&["surface", "set", "auk-cape:S1", "--dip-deg", "14.5"])
        .done()
        .out;
    assert!(words.starts_with("Nothing changed"), "{words}");
    // A dip alone keeps the strike that is stored; an empty text takes one away.
    let steeper = set(&ledger, &["--dip-deg", "20", "--name", ""]).done().json();
    assert_eq!(
        (&steeper["strike_deg"], &steeper["dip_deg"]),
        (&json!(0.0), &json!(20.0))
    );
    let shown = ledger
        .run(&["surface", "show", "auk-cape:S1", "--json"])
        .done()
        .json();
    assert_eq!(
        (&shown["name"], &shown["id"], &shown["prints"]),
        (&Value::Null, &json!("auk-cape:S1"), &json!(0))
    );
    let words = ledger.run(&["surface", "show", "auk-cape:S1"]).done().out;
    for part in [
        "0.00° from grid north, 20.00° down",
        "towards 90.00°",
        "lithology: fine sandstone",
        "prints: 0",
    ] {
        assert!(words.contains(part), "{part:?} is not in {words}");
    }
    let history = ledger.run(&["history", "auk-cape:S1", "--json"]).done().json();
    assert_eq!(
        history[1]["deed"],
        "surface set auk-cape:S1 --strike-deg 360 --dip-deg 14.5"
    );
    // A sheet that speaks of the surface leaves its description alone.
    let _ = ledger.import(SITE, "cape.csv", SHEET).done();
    let shown = ledger
        .run(&["surface", "show", "auk-cape:S1", "--json"])
        .done()
        .json();
    assert_eq!((&shown["dip_deg"], &shown["prints"]), (&json!(20.0), &json!(3)));
}

#[test]
fn a_strike_by_the_compass_is_turned_at_the_middle_of_the_surface() {
    let ledger = cape();
    let compass = [
        "--strike-deg",
        "120",
        "--dip-deg",
        "14",
        "--north",
        "magnetic",
        "--surveyed-on",
        "2025-01-01",
    ];
    let refused = refused(&set(&ledger, &compass));
    assert!(
        refused["detail"].as_str().unwrap().contains("no prints"),
        "{refused}"
    );
    assert_eq!(
        ledger.run(&["surface", "show", "auk-cape:S1"]).code,
        1,
        "a refused surface was made"
    );
    let _ = ledger.import(SITE, "cape.csv", SHEET).done();
    let described = set(&ledger, &compass).done().json();
    let turn_deg = DECLINATION_DEG - CONVERGENCE_DEG;
    close(described["strike_turn_deg"].as_f64(), turn_deg, PRINTED_DEG);
    close(described["strike_deg"].as_f64(), 120.0 + turn_deg, PRINTED_DEG);
    assert_eq!(described["weak_compass"], false);
    assert_eq!(set(&ledger, &compass).done().json()["changed"], false);
    let history = ledger.run(&["history", "auk-cape:S1", "--json"]).done().json();
    assert_eq!(
        history[1]["deed"],
        "surface set auk-cape:S1 --strike-deg 120 --dip-deg 14 --north magnetic --surveyed-on 2025-01-01"
    );
    let words = ledger
        .run(&[
            "surface",
            "set",
            "auk-cape:S1",
            "--strike-deg",
            "120",
            "--north",
            "true",
        ])
        .done()
        .out;
    assert!(
        words.contains("120° from true north was turned by +2.955°"),
        "{words}"
    );
    close(
        ledger
            .run(&["surface", "show", "auk-cape:S1", "--json"])
            .done()
            .json()["strike_deg"]
            .as_f64(),
        120.0 - CONVERGENCE_DEG,
        1e-7,
    );
}

#[test]
fn descriptions_that_make_no_sense_are_refused() {
    let ledger = cape();
    let _ = ledger.import(SITE, "cape.csv", SHEET).done();
    for (options, said) in [
        (
            &["--strike-deg", "361", "--dip-deg", "10"][..],
            "expected 0 to 360",
        ),
        (&["--strike-deg", "-5", "--dip-deg", "10"], "expected 0 to 360"),
        (&["--strike-deg", "NaN", "--dip-deg", "10"], "finite azimuth"),
        (
            &["--strike-deg", "10", "--dip-deg", "90"],
            "expected 0 to below 90",
        ),
        (
            &["--strike-deg", "10", "--dip-deg", "-1"],
            "expected 0 to below 90",
        ),
        (
            &["--strike-deg", "10", "--dip-deg", "inf"],
            "expected 0 to below 90",
        ),
        (&["--strike-deg", "10"], "give --dip-deg as well"),
        (&["--dip-deg", "10"], "give --strike-deg as well"),
        (
            &[
                "--strike-deg",
                "10",
                "--dip-deg",
                "10",
                "--north",
                "magnetic",
                "--surveyed-on",
                "1987-06-01",
            ],
            "2020-01-01 to 2029-12-31",
        ),
    ] {
        let told = refused(&set(&ledger, options));
        assert!(
            told["detail"].as_str().unwrap().contains(said),
            "{options:?}: {told}"
        );
    }
    for options in [
        &["--north", "true"][..],
        &["--strike-deg", "east", "--dip-deg", "10"],
        &[
            "--strike-deg",
            "10",
            "--dip-deg",
            "10",
            "--surveyed-on",
            "2025-01-01",
        ],
        &["--strike-deg", "10", "--dip-deg", "10", "--north", "magnetic"],
        &["--order", "1.5"],
    ] {
        assert_eq!(set(&ledger, options).code, 2, "{options:?}");
    }
    let shown = ledger
        .run(&["surface", "show", "auk-cape:S1", "--json"])
        .done()
        .json();
    assert_eq!(
        (&shown["strike_deg"], &shown["revision"]),
        (&Value::Null, &json!(1))
    );
    for (surface, code) in [("nowhere:S1", 1), ("auk-cape", 2)] {
        assert_eq!(
            ledger.run(&["surface", "set", surface, "--name", "x"]).code,
            code,
            "{surface}"
        );
    }
    assert_eq!(ledger.run(&["surface", "show", "auk-cape:S9"]).code, 1);
}
