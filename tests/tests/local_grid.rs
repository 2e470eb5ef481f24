//! A field party that measures with pegs and tapes ties its grid to the map, and brings its sheets in.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::Value;
use std::process::Stdio;
use std::thread;
use std::time::Instant;
use tests::story::{Ledger, Ran, features, problem};

const SITE: &str = "plover-flat";

/// The corners of the party's grid, and how it truly lies: the y axis at this grid azimuth, tapes that give this scale.
const PEGS: [(&str, f64, f64); 4] = [
    ("north stake", 0.0, 25.0),
    ("origin", 0.0, 0.0),
    ("rock bolt", 40.0, 24.0),
    ("tree", 40.0, -1.0),
];
const AZIMUTH_DEG: f64 = 326.25;
const SCALE: f64 = 0.999_86;
const ORIGIN: [f64; 2] = [480_123.456, 4_790_321.987];

/// Where a place of the grid truly lies: turned and stretched as a complex number, then shifted.
fn truth([x, y]: [f64; 2]) -> [f64; 2] {
    let (sine, cosine) = (-AZIMUTH_DEG.to_radians()).sin_cos();
    let [real, imaginary] = [cosine * x - sine * y, sine * x + cosine * y];
    [ORIGIN[0] + SCALE * real, ORIGIN[1] + SCALE * imaginary]
}

/// Control points as a total station gives them, to the tenth of a millimetre; `spoil` may misread some.
fn pegs(spoil: impl Fn(&str, &mut [f64; 4])) -> String {
    let mut sheet = String::from("name,easting_m,northing_m,local_x_m,local_y_m\n");
    for (name, x, y) in PEGS {
        let [easting_m, northing_m] = truth([x, y]);
        let mut row = [easting_m, northing_m, x, y];
        spoil(name, &mut row);
        let [easting_m, northing_m, x, y] = row;
        sheet += &format!("{name},{easting_m:.4},{northing_m:.4},{x},{y}\n");
    }
    sheet
}

/// Thirty prints in the grid, and their places there.
fn walk() -> Vec<[f64; 2]> {
    let step = |no: u32| [0.25 + 1.21 * f64::from(no), 20.0 - 0.43 * f64::from(no)];
    (0..30).map(step).collect()
}

fn local_sheet() -> String {
    let rows = walk().into_iter().zip(0..);
    let rows = rows.map(|([x, y], no)| format!("S1,P{no:02},{x:.3},{y:.3},0.3\n"));
    "surface,print,local_x_m,local_y_m,length_m\n".to_owned() + &rows.collect::<String>()
}

fn tie(ledger: &Ledger, sheet: &str, more: &[&str]) -> Ran {
    let path = ledger.write("pegs.csv", sheet);
    ledger.run(&[&["site", "tie", SITE, path.to_str().unwrap()], more].concat())
}

fn site(ledger: &Ledger) -> Value {
    ledger.run(&["site", "show", SITE, "--json"]).done().json()
}

/// The refusal of a command, which says all of these, leaves a problem document, and has stored nothing.
fn is_refused(ledger: &Ledger, sheet: &str, says: &[&str]) {
    let before = site(ledger);
    let ran = tie(ledger, sheet, &["--json"]);
    assert_eq!(ran.code, 1, "{ran:?}");
    assert_eq!(ran.json()["status"], 400, "{ran:?}");
    for part in says {
        assert!(ran.err.contains(part), "{part}: {}", ran.err);
    }
    assert_eq!(site(ledger), before);
}

fn is_at_the_truth(prints: &[(String, [f64; 2])]) {
    assert_eq!(prints.len(), walk().len());
    for ((label, found), local) in prints.iter().zip(walk()) {
        let [easting_m, northing_m] = truth(local);
        let away = (found[0] - easting_m).hypot(found[1] - northing_m);
        assert!(away < 0.001, "{label}: {found:?} for {easting_m}, {northing_m}");
    }
}

#[test]
fn from_pegs_to_prints_on_the_map() {
    let ledger = Ledger::with_site(SITE);
    // The server runs all the while: it sees the tie as soon as it stands.
    let server = ledger.serve(&[]);
    let imports = format!("/sites/{SITE}/imports");
    let refused = problem(&server.client.post(&imports, "text/csv", local_sheet()), 400);
    let expected = refused["faults"][0]["expected"].as_str().unwrap();
    assert!(expected.contains("stridebed site tie plover-flat"), "{expected}");

    let told = tie(&ledger, &pegs(|_, _| ()), &[]).done().out;
    for part in [
        "origin",
        "rotation: 326.25",
        "ppm",
        "RMS: 0.000 m",
        "redundancy: 4",
        "revision 2",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let taken = server.client.post(&imports, "text/csv", local_sheet());
    assert_eq!(taken.with_status(200).json()["added"], 30);
    let items = server
        .get("/collections/prints/items?limit=100")
        .with_status(200)
        .json();
    let at = |print: &Value| {
        let own = &print["properties"];
        let place = ["easting_m", "northing_m"].map(|name| own[name].as_f64().unwrap());
        (print["id"].as_str().unwrap().to_owned(), place)
    };
    is_at_the_truth(&features(&items).iter().map(at).collect::<Vec<_>>());

    // What is exported is in the CRS, and comes in again as the same.
    let exported = ledger.export(SITE, "csv");
    let mut rows = exported.lines().map(|row| row.split(',').collect::<Vec<_>>());
    let columns = ["surface", "print", "easting_m", "northing_m", "length_m"];
    assert_eq!(rows.next().unwrap(), columns);
    let rows = rows.map(|row| {
        (
            row[1].to_owned(),
            [row[2], row[3]].map(|cell| cell.parse().unwrap()),
        )
    });
    is_at_the_truth(&rows.collect::<Vec<_>>());
    for sheet in [exported, local_sheet()] {
        let again = ledger.import(SITE, "again.csv", sheet).done().json();
        assert_eq!((&again["unchanged"], &again["changed"]), (&30.into(), &0.into()));
    }

    let history = ledger.run(&["history", SITE]).done().out;
    assert!(
        history.contains("site add plover-flat") && history.contains("pegs.csv"),
        "{history}"
    );
    let history = ledger.run(&["history", SITE, "--json"]).done().json();
    let revisions = history.as_array().unwrap();
    assert_eq!(revisions.len(), 2);
    assert!(revisions[0]["record"]["local_grid"].is_null());
    assert_eq!(
        revisions[1]["record"]["local_grid"]["control"]
            .as_array()
            .unwrap()
            .len(),
        4
    );
}

#[test]
fn a_misread_peg_is_named_and_nothing_is_stored_unless_it_is_accepted() {
    let ledger = Ledger::with_site(SITE);
    let blunder = pegs(|name, row| row[1] += if name == "tree" { 0.5 } else { 0.0 });
    is_refused(
        &ledger,
        &blunder,
        &["tree (0.2", "Without tree the others fit", "--accept"],
    );
    let refused = tie(&ledger, &blunder, &[]);
    assert_eq!(refused.code, 1);
    assert!(
        refused
            .out
            .lines()
            .any(|line| line.contains("tree") && line.contains("over")),
        "{refused:?}"
    );
    // A wider tolerance, or a good reason, lets it stand; looking alone changes nothing.
    let looked = tie(&ledger, &blunder, &["--accept", "--check", "--json"])
        .done()
        .json();
    assert_eq!(looked["outcome"], "checked");
    assert!(site(&ledger)["local_grid"].is_null());
    let wide = tie(&ledger, &blunder, &["--tolerance-m", "0.5", "--check", "--json"])
        .done()
        .json();
    assert_eq!(wide["tie"]["over_tolerance"], Value::Array(vec![]));
    let accepted = tie(&ledger, &blunder, &["--accept", "--json"]).done().json();
    assert_eq!(
        (&accepted["outcome"], &accepted["revision"]),
        (&"tied".into(), &2.into())
    );
    let shown = ledger.run(&["site", "show", SITE]).done().out;
    assert!(
        shown.contains("accepted over the tolerance: ") && shown.contains("tree (0.2"),
        "{shown}"
    );
    let history = ledger.run(&["history", SITE]).done().out;
    assert!(history.contains("--accept"), "{history}");
    // Mended, it replaces the other, and says what that means for prints that came before.
    let mended = tie(&ledger, &pegs(|_, _| ()), &[]).done().out;
    assert!(
        mended.contains("revision 3") && mended.contains("import their sheets again"),
        "{mended}"
    );
}

#[test]
fn what_cannot_be_tied_is_refused() {
    let ledger = Ledger::with_site(SITE);
    is_refused(&ledger, &pegs(|_, row| row.swap(2, 3)), &["mirror image"]);
    is_refused(&ledger, &pegs(|_, row| row[2] = -row[2]), &["mirror image"]);
    is_refused(
        &ledger,
        &pegs(|_, row| row.swap(0, 1)),
        &["row 2, ", "row 5, ", "swapped"],
    );
    let first = |rows: usize| {
        pegs(|_, _| ())
            .lines()
            .take(1 + rows)
            .collect::<Vec<_>>()
            .join("\n")
    };
    is_refused(&ledger, &first(1), &["too few control points (1)"]);
    is_refused(&ledger, &first(0), &["a row for each control point"]);
    let same = pegs(|name, row| {
        if name == "tree" {
            (row[2], row[3]) = (0.0, 0.0);
        }
    });
    is_refused(
        &ledger,
        &same,
        &["\"origin\" and \"tree\" lie at the same local place"],
    );
    is_refused(
        &ledger,
        &pegs(|_, row| row[0] += 5e6),
        &["easting_m, northing_m", "EPSG:25830"],
    );
    is_refused(
        &ledger,
        &pegs(|_, _| ()).replace(",40,", ",forty,"),
        &["row 4, local_x_m: \"forty\""],
    );
    let ran = tie(&ledger, &pegs(|_, _| ()), &["--tolerance-m", "-1"]);
    assert!(ran.code == 1 && ran.err.contains("makes no sense"), "{ran:?}");
    let missing = ledger.run(&["site", "tie", "no-flat", "pegs.csv", "--json"]);
    assert_eq!((missing.code, &missing.json()["status"]), (1, &404.into()));
    for wrong in [
        vec!["site", "tie", SITE],
        vec!["site", "tie", SITE, "--point", "a,1,2,3"],
    ] {
        assert_eq!(ledger.run(&wrong).code, 2, "{wrong:?}");
    }
}

#[test]
fn two_pegs_tie_a_grid_and_check_nothing() {
    let ledger = Ledger::with_site(SITE);
    let points: Vec<String> = PEGS[..2]
        .iter()
        .map(|(name, x, y)| {
            let [easting_m, northing_m] = truth([*x, *y]);
            format!("{name},{x},{y},{easting_m:.4},{northing_m:.4}")
        })
        .collect();
    let command = ["site", "tie", SITE, "--point", &points[0], "--point", &points[1]];
    let told = ledger.run(&command).done().out;
    assert!(
        told.contains("redundancy: 0") && told.contains("nothing is checked"),
        "{told}"
    );
    let again = ledger.run(&[&command[..], &["--json"]].concat()).done().json();
    assert_eq!(again["outcome"], "unchanged");
    assert!(
        again["cautions"][0]
            .as_str()
            .unwrap()
            .contains("nothing is checked"),
        "{again}"
    );
    ledger.import(SITE, "day.csv", local_sheet()).done();
}

#[test]
fn the_same_tie_changes_nothing_in_whatever_order_and_after_any_kill() {
    let ledger = Ledger::with_site(SITE);
    let path = ledger.write("pegs.csv", pegs(|_, _| ()));
    let command = ["site", "tie", SITE, path.to_str().unwrap(), "--json"];
    let started = Instant::now();
    ledger.run(&[&command[..], &["--check"]].concat()).done();
    let usual = started.elapsed();
    for part in 1..8 {
        let mut child = ledger
            .command(&command)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        thread::sleep(usual.mul_f64(f64::from(part) / 6.0));
        child.kill().unwrap();
        let done = child.wait().unwrap().success();
        let shown = site(&ledger);
        let revision = shown["revision"].as_u64().unwrap();
        assert_eq!(
            shown["local_grid"].is_null(),
            revision == 1,
            "half a tie: {shown}"
        );
        assert!(revision == 2 || (revision == 1 && !done), "{shown}");
    }
    ledger.run(&command).done();
    let before = site(&ledger);
    assert_eq!(before["revision"], 2);
    let mut rows: Vec<String> = pegs(|_, _| ()).lines().map(str::to_owned).collect();
    rows[1..].reverse();
    let again = tie(&ledger, &rows.join("\n"), &[]).done().out;
    assert!(
        again.contains("Nothing changed") && again.contains("revision 2"),
        "{again}"
    );
    assert_eq!(site(&ledger), before);
    assert_eq!(
        ledger
            .run(&["history", SITE, "--json"])
            .done()
            .json()
            .as_array()
            .unwrap()
            .len(),
        2
    );
}

#[test]
fn the_grid_is_not_told_over_http() {
    let ledger = Ledger::new();
    ledger.add_site(SITE, "EPSG:25830", &["--policy", "open"]);
    tie(&ledger, &pegs(|_, _| ()), &[]).done();
    for arguments in [&[][..], &["--read-only"]] {
        let server = ledger.serve(arguments);
        for path in [
            "/collections/sites/items".to_owned(),
            format!("/collections/sites/items/{SITE}"),
            format!("/collections/sites/items/{SITE}?f=html"),
            "/collections/sites?f=json".to_owned(),
        ] {
            let page = server.get(&path).with_status(200);
            for secret in ["local_grid", "rock bolt", "480123.4"] {
                assert!(!page.text().contains(secret), "{path}: {secret}");
            }
        }
        let own = server.get(&format!("/collections/sites/items/{SITE}")).json();
        assert_eq!(own["properties"]["revision"], 2);
    }
}

#[test]
fn a_geojson_sheet_and_one_that_mixes_pairs() {
    let ledger = Ledger::with_site(SITE);
    tie(&ledger, &pegs(|_, _| ()), &[]).done();
    let print = |no: usize, more: &str| {
        format!(
            r#"{{"type":"Feature","geometry":null,"properties":{{"surface":"S1","print":"P{no:02}","length_m":0.3,{more}}}}}"#
        )
    };
    let local =
        |no: usize, [x, y]: [f64; 2]| print(no, &format!("\"local_x_m\":{x:.3},\"local_y_m\":{y:.3}"));
    let all: Vec<String> = walk()
        .into_iter()
        .enumerate()
        .map(|(no, at)| local(no, at))
        .collect();
    let collection = |features: &[String]| {
        format!(
            r#"{{"type":"FeatureCollection","features":[{}]}}"#,
            features.join(",")
        )
    };
    let taken = ledger.import(SITE, "day.geojson", collection(&all)).done().json();
    assert_eq!(taken["added"], 30);
    // The same places as CSV are the same prints.
    let again = ledger.import(SITE, "day.csv", local_sheet()).done().json();
    assert_eq!(again["unchanged"], 30);
    let both = print(
        30,
        r#""local_x_m":1,"local_y_m":1,"easting_m":480001,"northing_m":4790001"#,
    );
    let refused = ledger.import(SITE, "both.geojson", collection(&[both]));
    assert_eq!(refused.code, 1);
    assert!(refused.err.contains("one pair"), "{refused:?}");
    let header =
        "surface,print,easting_m,northing_m,local_x_m,local_y_m,length_m\nS1,P1,480001,4790001,1,1,0.3\n";
    let refused = ledger.import(SITE, "both.csv", header);
    assert!(
        refused.code == 1 && refused.err.contains("one pair"),
        "{refused:?}"
    );
}

#[test]
fn azimuths_of_the_grid_are_turned_with_it() {
    let ledger = Ledger::with_site(SITE);
    let sheet =
        "surface,print,local_x_m,local_y_m,length_m,azimuth_deg\nS1,P1,1.0,2.0,0.3,50\nS1,P2,2.0,2.0,0.3,\n";
    let path = ledger.write("azimuths.csv", sheet);
    let import = [
        "import",
        SITE,
        path.to_str().unwrap(),
        "--north",
        "local",
        "--json",
    ];
    let _ = tie(&ledger, &pegs(|_, _| ()), &[]).done();
    let report = ledger.run(&import).done().json();
    assert_eq!(report["azimuths"]["turned"], 1, "{report}");
    let items = ledger.export(SITE, "geojson");
    let items: Value = serde_json::from_str(&items).unwrap();
    let azimuth_deg = features(&items)[0]["properties"]["azimuth_deg"].as_f64().unwrap();
    assert!(
        (azimuth_deg - (50.0 + AZIMUTH_DEG - 360.0)).abs() < 1e-3,
        "{azimuth_deg}"
    );
    assert_eq!(ledger.run(&import).done().json()["unchanged"], 2);
    // Where no grid is tied, the sheet is refused once and not for each print.
    let without = Ledger::with_site(SITE);
    let rows = "surface,print,easting_m,northing_m,length_m,azimuth_deg\nS1,P1,480000,4790000,0.3,50\nS1,P2,480001,4790000,0.3,60\n";
    let path = without.write("azimuths.csv", rows);
    let refused = without.run(&[
        "import",
        SITE,
        path.to_str().unwrap(),
        "--north",
        "local",
        "--json",
    ]);
    let faults = &refused.json()["faults"];
    assert_eq!(
        (refused.code, faults.as_array().unwrap().len()),
        (1, 1),
        "{refused:?}"
    );
    assert!(
        faults[0]["expected"].as_str().unwrap().contains("site tie"),
        "{faults}"
    );
}
