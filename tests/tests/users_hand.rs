//! A grouping keeps what the user is sure of, never makes what he rules out, and says of each link why it is there.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::{Ledger, features, problem};

const PLACE: &str = "surface=gannet-ledge:S2";

fn ask(ledger: &Ledger, inputs: &[&str]) -> Value {
    ledger.ask("grouping", &[&[PLACE], inputs].concat())
}

/// The prints of each trackway by label, in walking order.
fn rows(answer: &Value) -> Vec<Vec<String>> {
    let of = |one: &Value| {
        let prints = one["properties"]["prints"].as_array()?;
        Some(
            prints
                .iter()
                .map(|id| id.as_str().unwrap().rsplit(':').next().unwrap().to_owned())
                .collect(),
        )
    };
    features(answer).iter().filter_map(of).collect()
}

fn follow(rows: &[Vec<String>], from: &str, to: &str) -> bool {
    rows.iter()
        .any(|row| row.windows(2).any(|pair| pair[0] == from && pair[1] == to))
}

#[test]
fn accepted_trackways_are_kept_as_they_are() {
    let ledger = Ledger::demo();
    let accepted = ledger
        .run(&["trackways", "list", "gannet-ledge:S2", "--json"])
        .done()
        .json();
    let kept = rows(&ask(&ledger, &[]));
    let mut compared = 0;
    for trackway in accepted
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["status"] == "accepted")
    {
        let prints: Vec<&str> = trackway["prints"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one.as_str().unwrap())
            .collect();
        let row = kept.iter().find(|row| row.iter().any(|print| print == prints[0]));
        let row = row.unwrap_or_else(|| panic!("{trackway} is not kept"));
        assert!(
            prints.iter().all(|print| row.iter().any(|one| one == print)),
            "{prints:?} and {row:?}"
        );
        compared += 1;
    }
    assert!(compared >= 5, "{compared}");
}

#[test]
fn fixed_links_are_kept_and_forbidden_ones_never_made() {
    let ledger = Ledger::demo();
    let free = rows(&ask(&ledger, &["keep_accepted=false"]));
    let row = free.iter().max_by_key(|row| row.len()).unwrap();
    let (a, b) = (&row[3], &row[4]);
    let without = rows(&ask(
        &ledger,
        &["keep_accepted=false", &format!("forbidden={a}:{b}")],
    ));
    assert!(!follow(&without, a, b) && !follow(&without, b, a), "{without:?}");
    // Two prints that the evidence would not link: the ends of two rows.
    let other = free.iter().find(|other| other[0] != row[0]).unwrap();
    let (from, to) = (row.last().unwrap(), &other[0]);
    assert!(!follow(&free, from, to));
    let with = rows(&ask(
        &ledger,
        &["keep_accepted=false", &format!("fixed={from}:{to}")],
    ));
    assert!(
        with.iter().any(|row| row.contains(from) && row.contains(to)),
        "{with:?}"
    );
}

#[test]
fn each_link_says_what_spoke_for_it_and_against_it() {
    let ledger = Ledger::demo();
    let plain = ask(&ledger, &[]);
    assert!(features(&plain)[0]["properties"]["explained"].is_null());
    let explained = ask(&ledger, &["explain=true"]);
    let mut links = 0;
    for one in features(&explained)
        .iter()
        .filter(|one| one["properties"]["part"] == "trackway")
    {
        for link in one["properties"]["explained"].as_array().unwrap() {
            let terms = link["terms"].as_array().unwrap();
            let sum: f64 = terms.iter().map(|term| term["log_odds"].as_f64().unwrap()).sum();
            assert!((sum - link["log_odds"].as_f64().unwrap()).abs() < 1e-6, "{link}");
            assert!(terms.iter().all(|term| term["what"].is_string()));
            links += 1;
        }
    }
    assert!(links > 30, "{links}");
}

#[test]
fn wishes_that_contradict_each_other_are_refused() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for (inputs, faulty) in [
        ("fixed=P001", "fixed"),
        ("fixed=P001:P999", "fixed"),
        ("forbidden=:P001", "forbidden"),
        ("fixed=P001:P001", "fixed"),
        ("fixed=P001:P005&forbidden=P005:P001", "fixed"),
        ("fixed=P001:P005,P001:P012", "fixed"),
        ("fixed=P001:P005,P005:P001", "fixed"),
    ] {
        let told = problem(&server.get(&format!("/queries/grouping?{PLACE}&{inputs}")), 400);
        assert_eq!(told["faults"][0]["input"], json!(faulty), "{inputs}: {told}");
    }
}
