//! What the grouping proposes is accepted or rejected, by command and over HTTP, and keeps where it comes from.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::{Ledger, features, problem};

const PLACE: &str = "gannet-ledge:S2";

fn trackways(ledger: &Ledger) -> Vec<Value> {
    ledger
        .run(&["trackways", "list", PLACE, "--json"])
        .done()
        .json()
        .as_array()
        .unwrap()
        .clone()
}

/// A proposal that shares no print with an accepted trackway.
fn proposed(ledger: &Ledger) -> Value {
    let gait = ledger
        .run(&["query", "gait", &format!("surface={PLACE}"), "--json"])
        .done()
        .json();
    let standing = features(&gait)
        .iter()
        .find(|one| one["properties"]["status"] == "proposed");
    one(ledger, &standing.expect("the demonstration has proposals")["id"])
}

fn one(ledger: &Ledger, id: &Value) -> Value {
    trackways(ledger)
        .into_iter()
        .find(|one| one["id"] == *id)
        .unwrap()
}

#[test]
fn an_accepted_proposal_tells_where_it_comes_from() {
    let ledger = Ledger::demo();
    let before = proposed(&ledger);
    let id = before["id"].as_str().unwrap().to_owned();
    let told = ledger.run(&["trackways", "accept", &id]).done().out;
    assert!(told.contains(&format!("Accepted {id}, revision 2.")), "{told}");
    let after = one(&ledger, &before["id"]);
    assert_eq!(
        (&after["status"], &after["judged_by"]),
        (&json!("accepted"), &json!("an invented party"))
    );
    for kept in ["basis", "probability", "prints", "morphotype"] {
        assert_eq!(after[kept], before[kept], "{kept}");
    }
    let history = ledger.run(&["history", &id]).done().out;
    assert!(
        history.contains("trackways accept") && history.contains("demo: group"),
        "{history}"
    );
    // Accepted trackways stand whatever is proposed.
    let _ = ledger.run(&["trackways", "propose", PLACE]).done();
    assert_eq!(one(&ledger, &before["id"]), after);
}

#[test]
fn a_print_is_not_accepted_in_two_trackways() {
    let ledger = Ledger::demo();
    let accepted: Vec<Value> = trackways(&ledger)
        .into_iter()
        .filter(|one| one["status"] == "accepted")
        .collect();
    let shares = |one: &Value| {
        let prints = one["prints"].as_array().unwrap();
        accepted.iter().any(|other| {
            other["prints"]
                .as_array()
                .unwrap()
                .iter()
                .any(|print| prints.contains(print))
        })
    };
    let all = trackways(&ledger);
    let more = all
        .iter()
        .find(|one| one["status"] == "proposed" && shares(one))
        .expect("a proposal says more");
    let refused = ledger.run(&["trackways", "accept", more["id"].as_str().unwrap(), "--json"]);
    assert_eq!(
        (refused.code, &refused.json()["status"]),
        (1, &json!(409)),
        "{refused:?}"
    );
    assert!(refused.err.contains("reject that one first"), "{refused:?}");
}

#[test]
fn a_rejected_proposal_does_not_come_back() {
    let ledger = Ledger::demo();
    let before = proposed(&ledger);
    let id = before["id"].as_str().unwrap().to_owned();
    let _ = ledger.run(&["trackways", "reject", &id]).done();
    let _ = ledger.run(&["trackways", "propose", PLACE]).done();
    assert_eq!(one(&ledger, &before["id"])["status"], "rejected");
    let standing = ledger
        .run(&["query", "gait", &format!("surface={PLACE}"), "--json"])
        .done()
        .out;
    assert!(
        !standing.contains(&format!("\"{id}\"")),
        "a rejected trackway is still measured"
    );
    let unknown = ledger.run(&["trackways", "reject", "gannet-ledge:S2:G99", "--json"]);
    assert_eq!((unknown.code, &unknown.json()["status"]), (1, &json!(404)));
    assert_eq!(ledger.run(&["trackways", "accept"]).code, 2);
}

#[test]
fn over_http_a_judge_says_which_revision_he_has_seen() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let id = proposed(&ledger)["id"].as_str().unwrap().to_owned();
    let etag = server
        .get(&format!("/collections/trackways/items/{id}"))
        .header("etag")
        .unwrap()
        .to_owned();
    let path = format!("/trackways/{id}/accept");
    let post = |headers: &[(&str, &str)]| server.client.ask("POST", &path, headers, b"");
    problem(&post(&[]), 428);
    problem(&post(&[("if-match", "yesterday")]), 400);
    problem(&post(&[("if-match", "\"7\"")]), 412);
    let judged = post(&[("if-match", &etag)]);
    assert_eq!(judged.header("etag").unwrap(), "\"2\"");
    assert_eq!(judged.with_status(200).json()["status"], "accepted");
    // Somebody else has seen the proposal only.
    let late = server.client.ask(
        "POST",
        &format!("/trackways/{id}/reject"),
        &[("if-match", &etag)],
        b"",
    );
    problem(&late, 412);
    let proposals = server
        .client
        .ask("POST", &format!("/surfaces/{PLACE}/proposals"), &[], b"");
    assert!(proposals.with_status(200).json()["trackways"].as_u64().unwrap() > 0);
    problem(
        &server
            .client
            .ask("POST", "/surfaces/gannet-ledge:S9/proposals", &[], b""),
        404,
    );
    problem(
        &server.client.ask(
            "POST",
            "/trackways/gannet-ledge/accept",
            &[("if-match", "\"1\"")],
            b"",
        ),
        404,
    );
    // A page of somebody else's may not judge.
    let strange = [("if-match", "\"2\""), ("origin", "https://tracks.example")];
    problem(&post(&strange), 403);
    let read_only = ledger.serve(&["--read-only"]);
    problem(
        &read_only.client.ask("POST", &path, &[("if-match", "\"2\"")], b""),
        403,
    );
}
