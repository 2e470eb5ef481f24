//! A trackway is measured on the ground and from true north, a speed is the published one, animals are counted
//! with reasons, and what cannot be measured is said to be so.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

mod refused;

use serde_json::{Value, json};
use std::fmt::Write;
use tests::story::{Ledger, features};

/// Convergence and point scale of EPSG:25830 at 700000, 4790000: pyproj 3.7.2, `Proj.get_factors`.
const CONVERGENCE_DEG: f64 = 1.687_835_248_7;
const SCALE: f64 = 1.000_092_077_9;

/// A walk on the ground towards a true azimuth: right and left in turn, a step every 0.7 m along the way, each
/// print 0.1 m off it, feet turned outward by 5 degrees.
fn walk(trackway: &str, true_deg: f64, steps: u32, length_m: f64) -> String {
    let grid_rad = (true_deg - CONVERGENCE_DEG).to_radians();
    let (sine, cosine) = grid_rad.sin_cos();
    let mut rows = String::new();
    for no in 0..steps {
        let (off_m, side, out_deg) = if no % 2 == 0 {
            (0.1, "right", 5.0)
        } else {
            (-0.1, "left", -5.0)
        };
        let along_m = 0.7 * f64::from(no);
        let [east, north] = [along_m * sine + off_m * cosine, along_m * cosine - off_m * sine];
        let (easting, northing) = (700_000.0 + SCALE * east, 4_790_000.0 + SCALE * north);
        let azimuth_deg = (grid_rad.to_degrees() + out_deg).rem_euclid(360.0);
        writeln!(
            rows,
            "S1,{trackway}-{no},{easting:.7},{northing:.7},{length_m},{azimuth_deg:.7},{side},{trackway},{}",
            no + 1
        )
        .unwrap();
    }
    rows
}

const HEADER: &str = "surface,print,easting_m,northing_m,length_m,azimuth_deg,side,trackway,order\n";

fn ledger(rows: &str) -> Ledger {
    let ledger = Ledger::with_site("invented-shore");
    ledger
        .import("invented-shore", "sheet.csv", format!("{HEADER}{rows}"))
        .done();
    ledger
}

fn only(answer: &Value) -> &Value {
    let [one] = features(answer) else {
        panic!("{answer}")
    };
    &one["properties"]
}

fn near(value: &Value, expected: f64, within: f64) {
    let found = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((found - expected).abs() <= within, "{found} is not {expected}");
}

#[test]
fn a_walk_is_measured_on_the_ground_and_from_true_north() {
    let ledger = ledger(&walk("T1", 40.0, 12, 0.3));
    let trackway = "trackway=invented-shore:S1:T1";
    let answer = ledger.ask("gait", &[trackway, "morphotype_group=theropod"]);
    let gait = only(&answer);
    assert_eq!((&gait["part"], &gait["n"]), (&json!("trackway"), &json!(12)));
    near(&gait["stride_m"], 1.4, 1e-6);
    near(&gait["pace_m"], 0.7f64.hypot(0.2), 1e-6);
    near(
        &gait["pace_angulation_deg"],
        2.0 * (0.7f64 / 0.2).atan().to_degrees(),
        1e-4,
    );
    near(&gait["gauge_m"], 0.2, 1e-6);
    // Convergence grows by 0.9e-5 degrees a metre here, and is taken where each print lies.
    near(&gait["heading_deg"], 40.0, 5e-5);
    near(&gait["foot_rotation_deg"], 5.0, 1e-4);
    assert_eq!((&gait["stride_m_n"], &gait["pace_m_n"]), (&json!(10), &json!(11)));
    // Thulborn 1990, as quoted by others: large theropods have hips at 4.9 foot lengths.
    near(&gait["hip_height_m"], 4.9 * 0.3, 1e-9);
    // Alexander 1976.
    near(
        &gait["speed_m_s"],
        0.25 * 9.81f64.sqrt() * 1.4f64.powf(1.67) * 1.47f64.powf(-1.17),
        1e-5,
    );
    assert_eq!((&gait["gait"], &gait["changes"]), (&json!("walk"), &json!([])));
    assert_eq!(gait["steps"].as_array().unwrap().len(), 12);
    near(&gait["steps"][3]["travel_deg"], 40.0, 1e-4);
    let [low, high] = [0, 1].map(|end| gait["speed_interval_m_s"][end].as_f64().unwrap());
    let speed = gait["speed_m_s"].as_f64().unwrap();
    assert!(low < speed && speed < high);
    let by_grid = ledger.ask("gait", &[trackway, "north=grid"]);
    near(&only(&by_grid)["heading_deg"], 40.0 - CONVERGENCE_DEG, 1e-6);
    near(
        &only(&by_grid)["steps"][3]["travel_deg"],
        40.0 - CONVERGENCE_DEG,
        1e-4,
    );
}

#[test]
fn hip_height_is_the_users_where_he_gives_it() {
    let ledger = ledger(&walk("T1", 40.0, 12, 0.3));
    let hip = |input: &str| only(&ledger.ask("gait", &["trackway=invented-shore:S1:T1", input])).clone();
    near(&hip("hip_ratio=4.2")["hip_height_m"], 1.26, 1e-9);
    let given = hip("hip_height_m=1.5");
    assert_eq!(
        (&given["hip_height_m"], &given["hip_height_m_sd"]),
        (&json!(1.5), &json!(0.0))
    );
    // Where the group has an allometric equation: small ornithopods, 3.97 L^1.08 in centimetres (Thulborn 1990, from memory).
    let answer = ledger.ask(
        "gait",
        &[
            "trackway=invented-shore:S1:T1",
            "morphotype_group=small_ornithopod",
            "allometric=true",
        ],
    );
    near(
        &only(&answer)["hip_height_m"],
        3.97 * 30f64.powf(1.08) / 100.0,
        1e-9,
    );
}

#[test]
fn all_that_stand_on_a_surface_are_measured_once() {
    let ledger = Ledger::demo();
    let answer = ledger.ask("gait", &["surface=gannet-ledge:S2"]);
    let mut seen = std::collections::BTreeSet::new();
    for feature in features(&answer) {
        let own = &feature["properties"];
        assert!(
            own["steps"].is_null(),
            "steps of a surface are given when asked for"
        );
        assert_eq!(feature["geometry"]["type"], "LineString");
        for print in own["prints"].as_array().unwrap() {
            assert!(seen.insert(print.to_string()), "{print} counts twice");
        }
    }
    assert!(features(&answer).len() >= 6);
    let with_steps = ledger.ask("gait", &["surface=gannet-ledge:S2", "steps=true"]);
    assert!(
        features(&with_steps)
            .iter()
            .all(|one| one["properties"]["steps"].is_array())
    );
}

#[test]
fn an_animal_that_breaks_into_a_run_shows_where() {
    let mut rows = String::new();
    let mut north = 4_790_000.0;
    for no in 0..24 {
        let side = if no % 2 == 0 { "right" } else { "left" };
        let easting = if no % 2 == 0 { 480_000.1 } else { 479_999.9 };
        writeln!(rows, "S1,P{no},{easting},{north:.3},0.3,,{side},T1,{}", no + 1).unwrap();
        // A little unevenness, so that steps are not all of one length.
        north += if no < 11 { 0.60 } else { 1.10 } + 0.02 * f64::from(no % 3);
    }
    let answer = ledger(&rows).ask("gait", &["trackway=invented-shore:S1:T1"]);
    let changes = only(&answer)["changes"].as_array().unwrap();
    assert_eq!(changes.len(), 1, "{changes:?}");
    assert_eq!(
        (&changes[0]["turn"], &changes[0]["at_print"]),
        (&json!("faster"), &json!("P11"))
    );
    assert!(changes[0]["p"].as_f64().unwrap() < 0.01);
    assert!(answer["caution"].as_str().unwrap().contains("gait"));
}

#[test]
fn published_speeds_come_to_the_printed_digits() {
    let ledger = Ledger::demo();
    let speed = |stride: &str| only(&ledger.ask("speed", &[stride, "hip_height_m=1.93"])).clone();
    // Day et al. (2002), Nature 415:494: strides of 2.7 m and 5.65 m, hip height 1.93 m: 6.8 and 29.2 km/h. The
    // former is truncated or had a hip a little larger: the formula gives 6.86.
    let (walk, run) = (speed("stride_m=2.7"), speed("stride_m=5.65"));
    near(&json!(walk["speed_m_s"].as_f64().unwrap() * 3.6), 6.8, 0.1);
    near(&json!(run["speed_m_s"].as_f64().unwrap() * 3.6), 29.2, 0.05);
    assert_eq!((&walk["gait"], &run["gait"]), (&json!("walk"), &json!("run")));
    assert!(walk["speed_interval_m_s"].is_null() && walk["not_enough_data"].is_object());
    let answer = ledger.ask(
        "speed",
        &["stride_m=2.7", "foot_length_m=0.4", "morphotype_group=theropod"],
    );
    let by_foot = only(&answer);
    near(&by_foot["hip_height_m"], 4.9 * 0.4, 1e-9);
    assert!(by_foot["speed_interval_m_s"].is_array());
    assert_eq!(features(&answer)[0]["geometry"], Value::Null);
}

#[test]
fn the_least_number_of_animals_has_its_reasons() {
    // Two of one size that go the same way, one larger, one that crosses the first on the same spot.
    let rows = [
        walk("A", 40.0, 10, 0.30),
        walk("B", 220.0, 10, 0.31),
        walk("C", 130.0, 10, 0.30),
        walk("D", 310.0, 10, 0.60),
    ];
    let ledger = ledger(&rows.concat());
    let answer = ledger.ask("individuals", &["surface=invented-shore:S1"]);
    let whole = &features(&answer)[0]["properties"];
    assert_eq!(
        (&whole["least"], &whole["most"], &whole["trackways"]),
        (&json!(2), &json!(4), &json!(4))
    );
    let pairs = whole["surely"]["pairs"].as_array().unwrap();
    assert_eq!(pairs.len(), 1);
    assert_eq!(pairs[0]["reasons"][0]["reason"], "size");
    assert!(whole["least_if_none_came_back"].as_u64().unwrap() > 2, "{whole}");
    let parts: Vec<&str> = features(&answer)
        .iter()
        .map(|one| one["properties"]["part"].as_str().unwrap())
        .collect();
    assert_eq!(parts.iter().filter(|part| **part == "trackway").count(), 4);
    let classes: Vec<&Value> = features(&answer)[1..]
        .iter()
        .filter(|one| one["properties"]["part"] == "summary")
        .collect();
    assert_eq!(classes.len(), 2, "two sizes");
    assert!(answer["caution"].as_str().unwrap().contains("least number"));
}

/// A walk on a bed that was flat then and dips by 30 degrees now, its strike to grid north: east is down the dip, and
/// lengths that way are shorter on the map by the cosine.
fn tilted(with_elevation: bool) -> String {
    let dip_rad = 30f64.to_radians();
    let mut rows =
        String::from("surface,print,easting_m,northing_m,elevation_m,length_m,side,trackway,order\n");
    for no in 0..12u32 {
        // Then: towards 60 degrees, half strides of 0.7 m, prints 0.1 m off the way.
        let (off_m, side) = if no % 2 == 0 {
            (0.1, "right")
        } else {
            (-0.1, "left")
        };
        let (sine, cosine) = 60f64.to_radians().sin_cos();
        let along_m = 0.7 * f64::from(no);
        let [down, along_strike] = [along_m * sine + off_m * cosine, along_m * cosine - off_m * sine];
        let easting = 700_000.0 + SCALE * down * dip_rad.cos();
        let northing = 4_790_000.0 + SCALE * along_strike;
        let elevation = if with_elevation {
            format!("{:.7}", 50.0 - down * dip_rad.sin())
        } else {
            String::new()
        };
        writeln!(
            rows,
            "S1,P{no},{easting:.7},{northing:.7},{elevation},0.3,{side},T1,{}",
            no + 1
        )
        .unwrap();
    }
    rows
}

#[test]
fn a_dipping_bed_is_turned_back_before_it_is_measured() {
    for with_elevation in [true, false] {
        let ledger = Ledger::with_site("invented-shore");
        ledger
            .import("invented-shore", "sheet.csv", tilted(with_elevation))
            .done();
        let set = [
            "surface",
            "set",
            "invented-shore:S1",
            "--strike-deg",
            "0",
            "--dip-deg",
            "30",
        ];
        let _ = ledger.run(&set).done();
        let grid = "north=grid";
        let answer = ledger.ask("gait", &["trackway=invented-shore:S1:T1", "restore=true", grid]);
        let restored = only(&answer);
        near(&restored["stride_m"], 1.4, 1e-6);
        near(&restored["heading_deg"], 60.0, 1e-5);
        assert_eq!(
            restored["restored"]["without_elevation"],
            if with_elevation { 0 } else { 12 }
        );
        assert!(answer["caution"].as_str().unwrap().contains("turned back"));
        // As it lies now, strides are shorter and lead more along the strike: tan 60 cos 30 = tan 56.3.
        let answer = ledger.ask("gait", &["trackway=invented-shore:S1:T1", grid]);
        let now = only(&answer);
        near(
            &now["heading_deg"],
            (60f64.to_radians().tan() * 30f64.to_radians().cos())
                .atan()
                .to_degrees(),
            1e-5,
        );
        assert!(now["stride_m"].as_f64().unwrap() < 1.3 && now["restored"].is_null());
        let headings = ledger.ask("headings", &["surface=invented-shore:S1", "restore=true", grid]);
        near(&features(&headings)[0]["properties"]["resultant_deg"], 60.0, 1e-5);
    }
}
