//! A field party brings its sheets in, on the command line and over HTTP, and takes them out again.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use tests::story::{Ledger, Ran, problem, walk};

const SITE: &str = "gull-ledge";
const IMPORTS: &str = "/sites/gull-ledge/imports";
const THREE: &str = "surface,print,easting_m,northing_m,length_m,note\n\
                     S1,P1,480000.125,4790000.250,0.31,\n\
                     S1,P2,480001.25,4790000.5,0.3,\"heel, \"\"blurred\"\"\"\n\
                     S2,P1,480010,4790003,0.28,wet\n";

fn sheet(name: &str) -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/sheets")).join(name)
}

fn tally(report: &Value) -> [u64; 3] {
    ["added", "changed", "unchanged"].map(|name| report[name].as_u64().unwrap())
}

/// The problem document on the standard output of a command that was refused, with its reasons on the other.
fn refused(ran: &Ran) -> Value {
    assert_eq!(ran.code, 1, "{ran:?}");
    assert!(ran.err.starts_with("stridebed: "), "{ran:?}");
    let document = ran.json();
    assert!(
        document["detail"].is_string() && document["status"].is_u64(),
        "{document}"
    );
    document
}

fn prints(ledger: &Ledger) -> u64 {
    let site = ledger.run(&["site", "show", SITE, "--json"]).done().json();
    let surfaces = site["surfaces"].as_array().unwrap().clone();
    surfaces
        .iter()
        .map(|surface| surface["prints"].as_u64().unwrap())
        .sum()
}

#[test]
fn a_sheet_comes_in_once_and_a_changed_row_makes_a_revision() {
    let ledger = Ledger::with_site(SITE);
    let taken = ledger.import(SITE, "day-1.csv", THREE).done().json();
    assert_eq!(tally(&taken), [3, 0, 0]);
    assert_eq!(taken["surfaces_added"], 2);
    assert_eq!(
        tally(&ledger.import(SITE, "day-1.csv", THREE).done().json()),
        [0, 0, 3]
    );
    let mended = THREE.replace("0.28,wet", "0.27,wet");
    assert_eq!(
        tally(&ledger.import(SITE, "day-2.csv", mended).done().json()),
        [0, 1, 2]
    );
    let server = ledger.serve(&[]);
    let at = |id: &str| {
        server
            .get(&format!("/collections/prints/items/{id}"))
            .with_status(200)
            .json()["properties"]
            .clone()
    };
    assert_eq!(at("gull-ledge:S2:P1")["revision"], 2);
    assert_eq!(at("gull-ledge:S2:P1")["length_m"], 0.27);
    assert_eq!(at("gull-ledge:S1:P1")["revision"], 1);
    assert_eq!(at("gull-ledge:S1:P2")["note"], "heel, \"blurred\"");
}

#[test]
fn without_json_people_read_what_happened() {
    let ledger = Ledger::with_site(SITE);
    let path = ledger.write("day.csv", THREE);
    let ran = ledger.run(&["import", SITE, path.to_str().unwrap()]).done();
    assert!(ran.out.contains("3 added, 0 changed, 0 unchanged"), "{ran:?}");
    let list = ledger.run(&["site", "list"]).done().out;
    assert!(list.contains(SITE) && list.contains("EPSG:25830"), "{list}");
    let refused = ledger.run(&["import", SITE, sheet("text_in_numbers.csv").to_str().unwrap()]);
    assert_eq!((refused.code, refused.out.as_str()), (1, ""));
    assert!(
        refused.err.contains("row 2, length_m: \"about 0.3\""),
        "{}",
        refused.err
    );
}

#[test]
fn what_is_exported_comes_in_again_unchanged() {
    for (site, crs) in [
        ("gannet-ledge", "EPSG:25830"),
        ("heron-bend", "EPSG:32736"),
        ("tussock-quarry", "EPSG:2193"),
    ] {
        let demo = Ledger::demo();
        for format in ["csv", "geojson"] {
            let exported = demo.export(site, format);
            let again = demo
                .import(site, &format!("again.{format}"), &exported)
                .done()
                .json();
            assert_eq!(tally(&again)[..2], [0, 0], "{site} {format}: {again}");
            assert!(tally(&again)[2] > 200, "{site} {format}: {again}");

            let elsewhere = Ledger::new();
            elsewhere.add_site(site, crs, &[]);
            let _ = elsewhere
                .import(site, &format!("moved.{format}"), &exported)
                .done();
            assert!(
                elsewhere.export(site, format) == exported,
                "{site}: a store made from the {format} gives another"
            );
        }
    }
}

#[test]
fn a_sheet_with_faults_is_refused_whole_with_every_fault_named() {
    let ledger = Ledger::with_site(SITE);
    let faulty = "surface,print,easting_m,northing_m,length_m,side\n\
                  S1,P1,480000,4790000,0.3,left\n\
                  S1,P2,east,4790000,0.3,left\n\
                  S1,P3,480000,4790000,NaN,middle\n\
                  S1,P1,480001,4790000,inf,right\n";
    let document = refused(&ledger.import(SITE, "faulty.csv", faulty));
    assert_eq!(document["status"], 400);
    let faults: Vec<(u64, &str, &str)> = document["faults"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| {
            assert!(!fault["expected"].as_str().unwrap().is_empty());
            let text = |name: &str| fault[name].as_str().unwrap();
            (fault["row"].as_u64().unwrap(), text("column"), text("value"))
        })
        .collect();
    for expected in [
        (3, "easting_m", "east"),
        (4, "length_m", "NaN"),
        (4, "side", "middle"),
        (5, "length_m", "inf"),
    ] {
        assert!(faults.contains(&expected), "{expected:?} is not in {faults:?}");
    }
    assert_eq!(prints(&ledger), 0, "something of the sheet was kept");
    let duplicates = refused(&ledger.import_file(SITE, &sheet("duplicate_labels.csv")));
    assert_eq!(duplicates["faults"][0]["row"], 5, "{duplicates}");
    assert_eq!(prints(&ledger), 0);
}

#[test]
fn every_kind_of_bad_sheet_is_a_clear_fault_at_both_doors() {
    let ledger = Ledger::with_site(SITE);
    let server = ledger.serve(&[]);
    for (name, said) in [
        ("semicolons.csv", "comma"),
        ("semicolons_decimal_commas.csv", "comma"),
        ("tabs.csv", "comma"),
        ("missing_column.csv", "length_m"),
        ("misspelt_column.csv", "northing"),
        ("duplicate_column.csv", "column"),
        ("text_in_numbers.csv", "number"),
        ("not_finite.csv", "number"),
        ("longitude_latitude.csv", "longitude"),
        ("outside_area.csv", "EPSG:25830"),
        ("latin1.csv", "UTF-8"),
        ("utf16.csv", "UTF-8"),
        ("empty.csv", "header"),
        ("spreadsheet.csv", "CSV UTF-8"),
        ("quote_not_closed.csv", "quot"),
    ] {
        let told = refused(&ledger.import_file(SITE, &sheet(name)));
        assert!(
            told.to_string().contains(said),
            "{name}: {said:?} is not in {told}"
        );
        assert!(!told["faults"].as_array().unwrap().is_empty(), "{name}: {told}");
        let answer = server
            .client
            .post(IMPORTS, "text/csv", std::fs::read(sheet(name)).unwrap());
        assert_eq!(problem(&answer, 400), told, "{name}");
    }
    let wide = format!("{}S3,P1,480000,4790000,0.3,{}\n", THREE, "x".repeat(10 << 20));
    let told = refused(&ledger.import(SITE, "wide.csv", &wide)).to_string();
    assert!(
        told.contains("\"row\":5") && told.len() < 10_000,
        "{}",
        &told[..500]
    );
    assert_eq!(prints(&ledger), 0);
}

#[test]
fn sheets_as_spreadsheets_write_them_come_in() {
    for name in [
        "windows_line_ends.csv",
        "byte_order_mark.csv",
        "free_column_order.csv",
        "blank_lines_and_trailing_commas.csv",
        "complete.csv",
        "prints.geojson",
        "projected.geojson",
    ] {
        let ledger = Ledger::with_site(SITE);
        let first = ledger.import_file(SITE, &sheet(name)).done().json();
        assert!(tally(&first)[0] >= 1, "{name}: {first}");
        let again = ledger.import_file(SITE, &sheet(name)).done().json();
        assert_eq!(tally(&again), [0, 0, tally(&first)[0]], "{name}");
    }
}

#[test]
fn a_site_needs_a_projected_crs_that_is_known() {
    let ledger = Ledger::new();
    for (crs, said) in [
        ("EPSG:4326", "projected"),
        ("EPSG:4258", "projected"),
        ("EPSG:99999", "not known"),
        ("EPSG:2263", "metres"),
        ("somewhere", "EPSG"),
    ] {
        let told = refused(&ledger.run(&["site", "add", "cove", "--crs", crs, "--json"]));
        assert!(told["detail"].as_str().unwrap().contains(said), "{crs}: {told}");
    }
    assert!(!ledger.path().exists(), "a refused site left a store behind");
    ledger.add_site("cove", "EPSG:25830", &[]);
    let twice = refused(&ledger.run(&["site", "add", "cove", "--crs", "EPSG:25830", "--json"]));
    assert_eq!(twice["status"], 409);
}

#[test]
fn scripts_can_trust_the_exit_status() {
    let ledger = Ledger::with_site(SITE);
    for wrong in [
        &["fly"][..],
        &["import", SITE],
        &["site", "add", "Not A Slug", "--crs", "EPSG:25830"],
        &["export", SITE, "--format", "xls"],
        &["query", "nearest", "no-equals-sign"],
    ] {
        assert_eq!(ledger.run(wrong).code, 2, "{wrong:?}");
    }
    for refused in [
        &["import", "nowhere", "sheet.csv"][..],
        &["import", SITE, "not-there.csv"],
        &["site", "show", "nowhere"],
        &["export", "nowhere", "--format", "csv"],
        &["query", "fly"],
        &["plan", "gull-ledge:S9", "--svg", "out.svg"],
    ] {
        let ran = ledger.run(refused);
        assert_eq!(ran.code, 1, "{refused:?}: {ran:?}");
        assert!(
            ran.out.is_empty() && ran.err.starts_with("stridebed: "),
            "{ran:?}"
        );
    }
    assert_eq!(
        refused(&ledger.run(&["import", "nowhere", "x.csv", "--json"]))["status"],
        404
    );
    assert_eq!(
        refused(&ledger.run(&["site", "show", "nowhere", "--json"]))["status"],
        404
    );
    assert_eq!(refused(&ledger.run(&["query", "fly", "--json"]))["status"], 404);
    assert_eq!(ledger.run(&["--help"]).code, 0);
    assert!(
        ledger
            .run(&["completions", "bash"])
            .done()
            .out
            .contains("stridebed")
    );
}

#[test]
fn a_sheet_over_http_gives_the_report_that_the_command_line_gives() {
    let (ledger, other) = (Ledger::with_site(SITE), Ledger::with_site(SITE));
    let server = ledger.serve(&[]);
    for content in [THREE.to_owned(), THREE.to_owned(), THREE.replace("0.31", "0.32")] {
        let answer = server.client.post(IMPORTS, "text/csv; charset=utf-8", &content);
        assert_eq!(answer.media(), "application/json");
        let over_http = answer.with_status(200).json();
        assert_eq!(over_http, other.import(SITE, "sheet.csv", &content).done().json());
    }
    let prints = std::fs::read(sheet("prints.geojson")).unwrap();
    let answer = server.client.post(IMPORTS, "application/geo+json", &prints);
    let by_hand = other.import(SITE, "sheet.geojson", &prints).done().json();
    assert_eq!(answer.with_status(200).json(), by_hand);
    for format in ["csv", "geojson"] {
        assert_eq!(
            ledger.export(SITE, format),
            other.export(SITE, format),
            "{format}"
        );
    }
}

#[test]
fn what_is_no_sheet_is_refused_over_http() {
    let ledger = Ledger::with_site(SITE);
    let server = ledger.serve(&["--largest-sheet", "1"]);
    let client = &server.client;
    for media in ["application/xml", "text/plain", "multipart/form-data"] {
        problem(&client.post(IMPORTS, media, THREE), 415);
    }
    problem(&client.ask("POST", IMPORTS, &[], THREE.as_bytes()), 415);
    let large = walk("S1", 0, 40_000);
    assert!(large.len() > 1 << 20);
    problem(&client.post(IMPORTS, "text/csv", &large), 413);
    problem(&client.post("/sites/nowhere/imports", "text/csv", THREE), 404);
    let through_a_page = [
        ("content-type", "text/csv"),
        ("origin", "https://elsewhere.example"),
    ];
    problem(
        &client.ask("POST", IMPORTS, &through_a_page, THREE.as_bytes()),
        403,
    );
    problem(&client.ask("GET", IMPORTS, &[], b""), 405);
    assert_eq!(prints(&ledger), 0);
    let small = client.post(IMPORTS, "text/csv", THREE).with_status(200);
    assert_eq!(tally(&small.json()), [3, 0, 0]);
}

#[test]
fn a_read_only_service_takes_no_sheet() {
    let ledger = Ledger::with_site(SITE);
    let server = ledger.serve(&["--read-only"]);
    problem(&server.client.post(IMPORTS, "text/csv", THREE), 403);
    assert_eq!(prints(&ledger), 0);
}

#[test]
fn two_clients_import_and_two_read_at_once() {
    const SHEETS: u64 = 8;
    const ROWS: u64 = 400;
    let ledger = Ledger::with_site(SITE);
    let server = ledger.serve(&[]);
    let over = AtomicBool::new(false);
    thread::scope(|scope| {
        let writers = ["A", "B"].map(|surface| {
            let client = server.client.clone();
            scope.spawn(move || {
                for no in 0..SHEETS {
                    let answer = client.post(IMPORTS, "text/csv", walk(surface, no * ROWS, ROWS));
                    assert_eq!(
                        tally(&answer.with_status(200).json()),
                        [ROWS, 0, 0],
                        "{surface} {no}"
                    );
                }
            })
        });
        let readers = ["A", "B"].map(|surface| {
            let (client, over) = (server.client.clone(), &over);
            scope.spawn(move || {
                let (mut last, mut reads) = (0, 0);
                while !over.load(Ordering::Relaxed) {
                    let path = format!("/collections/prints/items?limit=1&surface={SITE}:{surface}");
                    let seen = client.get(&path).with_status(200).json()["numberMatched"]
                        .as_u64()
                        .unwrap();
                    assert!(
                        seen >= last && seen % ROWS == 0,
                        "{seen} after {last}: half a sheet is seen"
                    );
                    (last, reads) = (seen, reads + 1);
                }
                reads
            })
        });
        let written = writers.map(|writer| writer.join());
        over.store(true, Ordering::Relaxed);
        let read = readers.map(|reader| reader.join().unwrap());
        assert!(written.iter().all(Result::is_ok) && read.iter().all(|reads: &u32| *reads > 0));
    });
    let all = server.get("/collections/prints/items?limit=1").json();
    assert_eq!(all["numberMatched"], json!(2 * SHEETS * ROWS));
}
