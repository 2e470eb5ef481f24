//! A field party counts its azimuths from true north, or reads a compass.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::{Ledger, Ran, problem};

const SITE: &str = "auk-cape";
const IMPORTS: &str = "/sites/auk-cape/imports";

/// At longitude 0, latitude 80 the convergence of EPSG:32631 is this (pyproj 3.7.2, PROJ 9.5.1), …
const CONVERGENCE_DEG: f64 = -2.954_504_68;
/// … and the declination this, on 2025-01-01 and on 2027-07-02, the middle of 2027: test values of the World
/// Magnetic Model 2025 as NOAA/NCEI prints them, two decimals, at sea level.
const DECLINATION_2025_DEG: f64 = 1.28;
const DECLINATION_2027_DEG: f64 = 2.59;
/// The last printed decimal's half, and a little for the noon that the middle of 2027 is.
const PRINTED_DEG: f64 = 0.005_5;

/// `P1` has no day; `P2` has one of its own; `P3` has no azimuth.
const SHEET: &str = "surface,print,easting_m,northing_m,length_m,azimuth_deg,observed_on\n\
                     S1,P1,441867.785,8883084.956,0.31,350,\n\
                     S1,P2,441867.785,8883084.956,0.30,10.5,2027-07-02\n\
                     S1,P3,441867.785,8883084.956,0.29,,\n";

fn cape() -> Ledger {
    let ledger = Ledger::new();
    ledger.add_site(SITE, "EPSG:32631", &[]);
    ledger
}

fn import(ledger: &Ledger, sheet: &str, options: &[&str]) -> Ran {
    let path = ledger.write("cape.csv", sheet);
    ledger.run(&[&["import", SITE, path.to_str().unwrap(), "--json"], options].concat())
}

/// The azimuths of the three prints as the record has them, by the service.
fn azimuths(ledger: &Ledger) -> Vec<Option<f64>> {
    let server = ledger.serve(&[]);
    let page = server.get("/collections/prints/items").with_status(200).json();
    let prints = page["features"].as_array().unwrap();
    prints
        .iter()
        .map(|print| print["properties"]["azimuth_deg"].as_f64())
        .collect()
}

fn close(found: Option<f64>, expected: f64, most_deg: f64) {
    let found = found.unwrap();
    assert!((found - expected).abs() <= most_deg, "{found} is not {expected}");
}

fn tally(report: &Value) -> [u64; 3] {
    ["added", "changed", "unchanged"].map(|name| report[name].as_u64().unwrap())
}

fn refused(ran: &Ran) -> Value {
    assert_eq!(ran.code, 1, "{ran:?}");
    ran.json()
}

#[test]
fn azimuths_of_true_north_are_turned_by_the_convergence() {
    let ledger = cape();
    let report = import(&ledger, SHEET, &["--north", "true"]).done().json();
    let told = &report["azimuths"];
    assert_eq!(
        (told["north"].as_str(), told["turned"].as_u64()),
        (Some("true"), Some(2))
    );
    for name in ["least_turn_deg", "greatest_turn_deg"] {
        close(told[name].as_f64(), -CONVERGENCE_DEG, 1e-7);
    }
    let found = azimuths(&ledger);
    close(found[0], 350.0 - CONVERGENCE_DEG, 1e-7);
    close(found[1], 10.5 - CONVERGENCE_DEG, 1e-7);
    assert_eq!(found[2], None);
    // What goes out is of grid north, and comes in as that.
    let again = ledger
        .import(SITE, "again.csv", ledger.export(SITE, "csv"))
        .done()
        .json();
    assert_eq!((tally(&again), &again["azimuths"]), ([0, 0, 3], &Value::Null));
}

#[test]
fn compass_azimuths_are_turned_by_the_declination_of_their_day_and_the_convergence() {
    let ledger = cape();
    let options = ["--north", "magnetic", "--surveyed-on", "2025-01-01"];
    let report = import(&ledger, SHEET, &options).done().json();
    let told = &report["azimuths"];
    close(
        told["least_turn_deg"].as_f64(),
        DECLINATION_2025_DEG - CONVERGENCE_DEG,
        PRINTED_DEG,
    );
    close(
        told["greatest_turn_deg"].as_f64(),
        DECLINATION_2027_DEG - CONVERGENCE_DEG,
        PRINTED_DEG,
    );
    assert_eq!(
        (told["turned"].as_u64(), told["weak_compass"].as_u64()),
        (Some(2), Some(0))
    );
    assert!(told["declination_sd_deg"].as_f64().unwrap() > 0.0, "{told}");
    let found = azimuths(&ledger);
    close(
        found[0],
        350.0 + DECLINATION_2025_DEG - CONVERGENCE_DEG,
        PRINTED_DEG,
    );
    close(
        found[1],
        10.5 + DECLINATION_2027_DEG - CONVERGENCE_DEG,
        PRINTED_DEG,
    );
    let history = ledger.run(&["history", "auk-cape:S1:P1", "--json"]).done().json();
    let deed = history[0]["deed"].as_str().unwrap();
    assert!(
        deed.ends_with("cape.csv --north magnetic --surveyed-on 2025-01-01"),
        "{deed}"
    );
}

#[test]
fn the_same_sheet_with_the_same_north_changes_nothing_and_with_another_it_does() {
    let ledger = cape();
    let magnetic = ["--north", "magnetic", "--surveyed-on", "2025-01-01"];
    assert_eq!(tally(&import(&ledger, SHEET, &magnetic).done().json()), [3, 0, 0]);
    assert_eq!(tally(&import(&ledger, SHEET, &magnetic).done().json()), [0, 0, 3]);
    assert_eq!(
        tally(&import(&ledger, SHEET, &["--north", "true"]).done().json()),
        [0, 2, 1]
    );
    // Grid north is what counts where nothing is said.
    let grid = import(&ledger, SHEET, &["--north", "grid"]).done().json();
    assert_eq!((tally(&grid), &grid["azimuths"]), ([0, 2, 1], &Value::Null));
    assert_eq!(tally(&import(&ledger, SHEET, &[]).done().json()), [0, 0, 3]);
    assert_eq!(azimuths(&ledger), [Some(350.0), Some(10.5), None]);
}

#[test]
fn people_read_by_how_much_azimuths_were_turned() {
    let ledger = cape();
    let path = ledger.write("cape.csv", SHEET);
    let path = path.to_str().unwrap();
    let check = ledger
        .run(&["import", SITE, path, "--north", "true", "--check"])
        .done()
        .out;
    assert!(
        check.contains("2 turned from true to grid north, by +2.955° to +2.955°"),
        "{check}"
    );
    let taken = ledger.run(&["import", SITE, path, "--north", "true"]).done().out;
    assert!(
        taken.contains("2 turned from true to grid north, by +2.955° to +2.955°"),
        "{taken}"
    );
    let quiet = ledger.run(&["import", SITE, path]).done().out;
    assert!(!quiet.contains("azimuths"), "{quiet}");
    // UPS North at longitude −100, latitude 76: a weak horizontal field.
    ledger.add_site("far-cape", "EPSG:5041", &[]);
    let weak = "surface,print,easting_m,northing_m,length_m,azimuth_deg,observed_on\n\
                S1,P1,461926.560,2271203.846,0.31,350,2025-01-01\n";
    let path = ledger.write("far.csv", weak);
    let told = ledger
        .run(&[
            "import",
            "far-cape",
            path.to_str().unwrap(),
            "--north",
            "magnetic",
        ])
        .done()
        .out;
    assert!(
        told.contains("note: one of them was read where") && told.contains("standard error"),
        "{told}"
    );
}

/// The same faults at both doors, a check and a real import alike; nothing is stored.
#[test]
fn what_magnetic_north_is_not_known_for_is_a_fault_of_its_row() {
    let ledger = cape();
    let server = ledger.serve(&[]);
    let old = SHEET.replace("2027-07-02", "1987-06-01");
    for (sheet, option, row, column, said) in [
        (SHEET, None, json!(2), "observed_on", "magnetic north moves"),
        (
            &old,
            Some("2025-01-01"),
            json!(3),
            "observed_on",
            "2020-01-01 to 2029-12-31",
        ),
        (
            SHEET,
            Some("2031-01-01"),
            Value::Null,
            "surveyed_on",
            "2020-01-01 to 2029-12-31",
        ),
    ] {
        let mut options = vec!["--north", "magnetic"];
        let mut path = format!("{IMPORTS}?north=magnetic");
        if let Some(day) = option {
            options.extend(["--surveyed-on", day]);
            path += &format!("&surveyed_on={day}");
        }
        let told = refused(&import(&ledger, sheet, &options));
        let faults = told["faults"].as_array().unwrap();
        assert_eq!(
            (faults.len(), &faults[0]["row"], &faults[0]["column"]),
            (1, &row, &json!(column)),
            "{told}"
        );
        assert!(faults[0]["expected"].as_str().unwrap().contains(said), "{told}");
        options.push("--check");
        assert_eq!(refused(&import(&ledger, sheet, &options)), told);
        assert_eq!(problem(&server.client.post(&path, "text/csv", sheet), 400), told);
    }
    assert_eq!(azimuths(&ledger), []);
}

#[test]
fn options_that_contradict_each_other_are_wrong_usage() {
    let ledger = cape();
    let server = ledger.serve(&[]);
    for (options, query, said) in [
        (
            &["--surveyed-on", "2025-01-01"][..],
            "surveyed_on=2025-01-01",
            "goes with magnetic north alone",
        ),
        (
            &["--north", "true", "--surveyed-on", "2025-01-01"],
            "north=true&surveyed_on=2025-01-01",
            "goes with magnetic north alone",
        ),
        (
            &["--north", "magnetic", "--surveyed-on", "1.5.2026"],
            "north=magnetic&surveyed_on=1.5.2026",
            "year-month-day",
        ),
        (&["--north", "polar"], "north=polar", "magnetic"),
        (&["--north", "up"], "north=up", "magnetic"),
    ] {
        let ran = import(&ledger, SHEET, options);
        assert_eq!((ran.code, ran.out.as_str()), (2, ""), "{ran:?}");
        assert!(ran.err.contains(said), "{ran:?}");
        let answer = server
            .client
            .post(&format!("{IMPORTS}?{query}"), "text/csv", SHEET);
        let told = problem(&answer, 400);
        assert!(told["detail"].as_str().unwrap().contains(said), "{told}");
    }
    let twice = server
        .client
        .post(&format!("{IMPORTS}?north=true&north=grid"), "text/csv", SHEET);
    problem(&twice, 400);
    assert_eq!(azimuths(&ledger), []);
}

#[test]
fn a_sheet_over_http_is_turned_as_on_the_command_line() {
    let (ledger, other) = (cape(), cape());
    let server = ledger.serve(&[]);
    let path = format!("{IMPORTS}?north=magnetic&surveyed_on=2025-01-01");
    let options = ["--north", "magnetic", "--surveyed-on", "2025-01-01"];
    for _ in 0..2 {
        let over_http = server
            .client
            .post(&path, "text/csv", SHEET)
            .with_status(200)
            .json();
        assert_eq!(over_http, import(&other, SHEET, &options).done().json());
    }
    assert_eq!(ledger.export(SITE, "csv"), other.export(SITE, "csv"));
    let history = ledger.run(&["history", "auk-cape:S1:P1", "--json"]).done().json();
    assert_eq!(
        history[0]["deed"],
        "import over HTTP with north=magnetic&surveyed_on=2025-01-01"
    );
    // GeoJSON with longitude and latitude is turned where its prints lie.
    let point = r#"{ "type": "FeatureCollection", "features": [{ "type": "Feature",
        "geometry": { "type": "Point", "coordinates": [0, 80] },
        "properties": { "surface": "S0", "print": "P1", "length_m": 0.3, "azimuth_deg": 90 } }] }"#;
    let answer = server
        .client
        .post(&format!("{IMPORTS}?north=true"), "application/geo+json", point);
    assert_eq!(answer.with_status(200).json()["azimuths"]["turned"], 1);
    close(azimuths(&ledger)[0], 90.0 - CONVERGENCE_DEG, 1e-7);
}
