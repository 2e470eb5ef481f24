//! Picks of a radar survey come in as anomalies with a depth, and a query tells what radar could show.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::{Ledger, features, problem};

const HEADER: &str = "surface,print,easting_m,northing_m,length_m,record,depth_m,two_way_time_ns,velocity_m_ns,relative_permittivity\n";

fn prints(ledger: &Ledger) -> Vec<Value> {
    let exported: Value = serde_json::from_str(&ledger.export("sunk-flat", "geojson")).unwrap();
    features(&exported)
        .iter()
        .map(|one| one["properties"].clone())
        .collect()
}

#[test]
fn picks_become_anomalies_with_a_depth() {
    let ledger = Ledger::with_site("sunk-flat");
    let rows = "S1,A1,480000,4790000,0.4,subsurface anomaly,,20,0.1,\n\
                S1,A2,480001,4790000,0.4,anomaly,,20,,9\n\
                S1,A3,480002,4790000,0.4,anomaly,0.7,20,0.1,\n\
                S1,P1,480003,4790000,0.4,print,0.05,,,\n";
    let sheet = format!("{HEADER}{rows}");
    ledger.import("sunk-flat", "picks.csv", &sheet).done();
    let found = prints(&ledger);
    let depth = |no: usize| found[no]["depth_m"].as_f64().unwrap();
    assert_eq!(found[0]["record"], "anomaly");
    // d = v t / 2: 0.1 m/ns for 20 ns there and back; v = c / 3 for a permittivity of 9.
    assert!((depth(0) - 1.0).abs() < 1e-12 && (depth(1) - 0.999_308).abs() < 1e-6);
    assert_eq!((depth(2), depth(3)), (0.7, 0.05));
    // The picks stay as they came, and come in again unchanged.
    assert_eq!(found[0]["two_way_time_ns"], "20");
    let again = ledger
        .import("sunk-flat", "again.csv", ledger.export("sunk-flat", "csv"))
        .done();
    assert_eq!(again.json()["unchanged"], 4);
    let refused = ledger.import(
        "sunk-flat",
        "bad.csv",
        format!("{HEADER}S1,A4,480000,4790000,0.4,anomaly,,20,,\n"),
    );
    assert_eq!(
        (refused.code, &refused.json()["faults"][0]["column"]),
        (1, &json!("velocity_m_ns"))
    );
}

#[test]
fn what_radar_could_show() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let ask = |inputs: &str| {
        let answer = server
            .get(&format!("/queries/detectability?{inputs}"))
            .with_status(200)
            .json();
        assert!(
            answer["caution"].as_str().unwrap().contains("licence"),
            "{answer}"
        );
        features(&answer)
            .iter()
            .map(|one| one["properties"].clone())
            .collect::<Vec<_>>()
    };
    let fine = &ask("permittivity=6&frequency_mhz=900&depth_m=0.2&print_length_m=0.3&print_depth_m=0.05")[0];
    assert_eq!(
        (&fine["resolved"], &fine["seen"]),
        (&json!(true), &json!("resolved"))
    );
    let coarse = &ask("permittivity=6&frequency_mhz=100&depth_m=2&print_length_m=0.3&print_depth_m=0.05")[0];
    assert_eq!(
        (&coarse["resolved"], &coarse["seen"]),
        (&json!(false), &json!("not detectable"))
    );
    let without_size = &ask("velocity_m_ns=0.1&frequency_mhz=400&depth_m=1")[0];
    assert!(without_size["seen"].is_null() && without_size["not_enough_data"].is_object());
    let both = ask("material=limestone&frequency_mhz=400&depth_m=1");
    let permittivity = |no: usize| both[no]["permittivity"].as_f64().unwrap();
    assert!((permittivity(0) - 4.0).abs() < 1e-9 && (permittivity(1) - 8.0).abs() < 1e-9);
    for (inputs, faulty) in [
        ("frequency_mhz=400&depth_m=1", "permittivity"),
        (
            "permittivity=9&material=clay&frequency_mhz=400&depth_m=1",
            "material",
        ),
        ("material=cheese&frequency_mhz=400&depth_m=1", "material"),
        ("permittivity=9&frequency_mhz=0&depth_m=1", "frequency_mhz"),
        ("permittivity=0.5&frequency_mhz=400&depth_m=1", "permittivity"),
        ("permittivity=9&frequency_mhz=400&depth_m=-1", "depth_m"),
        ("permittivity=9&depth_m=1", "frequency_mhz"),
    ] {
        let told = problem(&server.get(&format!("/queries/detectability?{inputs}")), 400);
        assert_eq!(told["faults"][0]["input"], faulty, "{inputs}: {told}");
    }
}
