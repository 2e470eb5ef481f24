//! The program is killed at any moment, and loses nothing that it had said was taken.
//!
//! `STRIDEBED_SOAK=20` kills it twenty times as often.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::net::{Shutdown, TcpStream};
use std::process::Stdio;
use std::thread;
use std::time::{Duration, Instant};
use tests::story::{Ledger, walk};

const SITE: &str = "gull-ledge";
const IMPORTS: &str = "/sites/gull-ledge/imports";
const ROWS: u64 = 3_000;

fn kills() -> u64 {
    let times = std::env::var("STRIDEBED_SOAK").map_or(1, |times| times.parse().unwrap());
    10 * times
}

/// Prints by surface; a surface's sheet is whole or absent.
fn standing(ledger: &Ledger) -> BTreeMap<String, u64> {
    let shown = ledger.run(&["site", "show", SITE, "--json"]).done().json();
    let surfaces = shown["surfaces"].as_array().unwrap().iter();
    surfaces
        .map(|surface| {
            let label = surface["label"].as_str().unwrap().to_owned();
            (label, surface["prints"].as_u64().unwrap())
        })
        .collect()
}

fn all_whole(ledger: &Ledger) -> BTreeMap<String, u64> {
    let standing = standing(ledger);
    assert!(
        standing.values().all(|prints| *prints == ROWS),
        "a sheet is there in part: {standing:?}"
    );
    standing
}

#[test]
fn killed_while_it_imports_it_keeps_whole_sheets_only() {
    let ledger = Ledger::with_site(SITE);
    let path = ledger.write("whole.csv", walk("WHOLE", 0, ROWS));
    let started = Instant::now();
    ledger.import_file(SITE, &path).done();
    let usual = started.elapsed();
    let mut draw = ChaCha8Rng::seed_from_u64(20_260_621);
    let mut acknowledged = vec!["WHOLE".to_owned()];
    for no in 0..kills() {
        let label = format!("K{no}");
        let path = ledger.write("sheet.csv", walk(&label, 0, ROWS));
        let mut child = ledger
            .command(&["import", SITE, path.to_str().unwrap()])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        thread::sleep(usual.mul_f64(draw.random_range(0.3..1.1)));
        // On Unix this is SIGKILL: no handler, no destructor, no flush.
        child.kill().unwrap();
        if child.wait().unwrap().success() {
            acknowledged.push(label);
        }
        let standing = all_whole(&ledger);
        for label in &acknowledged {
            assert!(standing.contains_key(label), "{label} was taken and is lost");
        }
    }
    let again = ledger
        .import(SITE, "again.csv", walk("K0", 0, ROWS))
        .done()
        .json();
    let total = again["added"].as_u64().unwrap() + again["unchanged"].as_u64().unwrap();
    assert_eq!(total, ROWS, "after all kills the store takes sheets: {again}");
}

#[test]
fn a_killed_server_has_all_that_it_had_acknowledged() {
    let ledger = Ledger::with_site(SITE);
    let mut draw = ChaCha8Rng::seed_from_u64(20_260_622);
    let mut acknowledged: Vec<String> = Vec::new();
    for round in 0..kills() {
        let mut server = ledger.serve(&[]);
        thread::scope(|scope| {
            let parties = ["A", "B"].map(|party| {
                let client = server.client.clone();
                scope.spawn(move || {
                    let mut taken = Vec::new();
                    for no in 0.. {
                        let label = format!("R{round}{party}{no}");
                        let sheet = walk(&label, 0, ROWS);
                        match client.try_post(IMPORTS, "text/csv", sheet) {
                            // An answer that broke off in the middle is no word that the sheet was taken.
                            Some(answer) if answer.status == 200 => taken.push(label),
                            Some(answer) => panic!("{}", answer.text()),
                            None => break,
                        }
                    }
                    taken
                })
            });
            thread::sleep(Duration::from_millis(draw.random_range(50..900)));
            server.kill();
            acknowledged.extend(parties.into_iter().flat_map(|party| party.join().unwrap()));
        });
        let standing = all_whole(&ledger);
        for label in &acknowledged {
            assert!(
                standing.contains_key(label),
                "{label} was acknowledged and is lost"
            );
        }
    }
    assert!(
        !acknowledged.is_empty(),
        "every kill came before any sheet: nothing was tried"
    );
}

#[test]
fn a_sheet_whose_line_breaks_leaves_nothing() {
    let ledger = Ledger::with_site(SITE);
    let server = ledger.serve(&[]);
    let sheet = walk("S1", 0, 100);
    // Cut after a whole row: what came would be a sheet of its own.
    let cut = sheet.match_indices('\n').nth(60).unwrap().0 + 1;
    let head = format!(
        "POST {IMPORTS} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: text/csv\r\nContent-Length: {}\r\n\r\n",
        sheet.len()
    );
    let mut line = TcpStream::connect(server.base().strip_prefix("http://").unwrap()).unwrap();
    line.write_all(head.as_bytes()).unwrap();
    line.write_all(&sheet.as_bytes()[..cut]).unwrap();
    line.shutdown(Shutdown::Write).unwrap();
    let mut answer = String::new();
    line.read_to_string(&mut answer).unwrap();
    assert!(
        answer.is_empty() || answer.starts_with("HTTP/1.1 400 "),
        "{answer}"
    );
    assert_eq!(server.get("/collections/prints/items").json()["numberMatched"], 0);
}
