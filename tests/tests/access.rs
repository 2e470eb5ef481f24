//! Tokens and what they open; what is kept of who came.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use api::access::{Role, Secret, Token};
use api::store::{SqliteStore, Store};
use serde_json::{Value, json};
use tests::story::{Holder, Ledger, Server, features, problem, until, walk};

/// An open, a generalised and a closed site.
fn consortium() -> Ledger {
    let ledger = Ledger::new();
    for (site, policy) in [
        ("open-cove", "open"),
        ("shut-cove", "closed"),
        ("vague-cove", "generalised"),
    ] {
        ledger.add_site(site, "EPSG:25830", &["--policy", policy]);
        ledger.import(site, "sheet.csv", walk("S1", 0, 30)).done();
    }
    ledger
}

fn sites(holder: &Holder) -> Vec<String> {
    let sites = holder.get("/collections/sites/items").with_status(200).json();
    let slug = |site: &Value| site["id"].as_str().unwrap().to_owned();
    features(&sites).iter().map(slug).collect()
}

fn ledger_of(ledger: &Ledger) -> Vec<Value> {
    let lines = ledger.run(&["ledger", "--json", "--limit", "1000"]).done().json();
    lines.as_array().unwrap().clone()
}

#[test]
fn a_token_is_shown_once_and_lists_tell_what_it_is() {
    let ledger = consortium();
    let secret = ledger.token("North party", "contributor", &["open-cove", "shut-cove"]);
    assert!(secret.starts_with("stridebed_") && secret.len() == 74, "{secret}");
    let listed = ledger.run(&["token", "list", "--json"]).done();
    assert!(!listed.out.contains(&secret), "a token is shown once");
    let token = &listed.json()[0];
    assert_eq!(token["holder"], "North party");
    assert_eq!(token["role"], "contributor");
    assert_eq!(token["sites"], json!(["open-cove", "shut-cove"]));
    assert_eq!(token["state"], "open");
    let file = std::fs::read(ledger.path()).unwrap();
    let digits = &secret.as_bytes()[10..];
    assert!(
        !file.windows(digits.len()).any(|window| window == digits),
        "the store has the token itself"
    );
}

#[test]
fn a_token_needs_no_name() {
    let ledger = consortium();
    let secret = ledger
        .run(&["token", "issue", "--role", "admin", "--expires", "2099-12-31"])
        .done()
        .out;
    assert_eq!(secret.lines().count(), 1, "the token alone: {secret}");
    let listed = ledger.run(&["token", "list", "--json"]).done().json();
    let name = format!("admin {}", listed[0]["id"].as_str().unwrap());
    assert_eq!(
        (&listed[0]["holder"], &listed[0]["expires"]),
        (&json!(name), &json!("2100-01-01T00:00:00Z"))
    );
    assert_eq!(sites(&Holder::of(&ledger.serve(&[]), &secret)).len(), 3);
}

#[test]
fn tokens_that_make_no_sense_are_not_issued() {
    let ledger = consortium();
    for (more, told) in [
        (
            &["--role", "admin", "--site", "open-cove", "--holder", "x"][..],
            "admin",
        ),
        (
            &["--role", "reader", "--site", "no-cove", "--holder", "x"],
            "no-cove",
        ),
        (
            &["--role", "reader", "--holder", "x", "--expires", "2020-01-01"],
            "over",
        ),
        (&["--role", "reader", "--holder", " "], "name"),
    ] {
        let ran = ledger.run(&[&["token", "issue"], more].concat());
        assert_eq!(ran.code, 1, "{ran:?}");
        assert!(ran.err.contains(told), "{ran:?}");
    }
    assert_eq!(
        ledger
            .run(&["token", "issue", "--role", "king", "--holder", "x"])
            .code,
        2
    );
    assert_eq!(ledger.run(&["token", "revoke", "none"]).code, 1);
    assert_eq!(ledger.run(&["token", "list", "--json"]).done().json(), json!([]));
}

#[test]
fn the_first_token_closes_the_door_to_all_who_have_none() {
    let ledger = consortium();
    let server = ledger.serve(&[]);
    let nobody = Holder::nobody(&server);
    assert_eq!(sites(&nobody).len(), 3, "the house sees everything");
    nobody
        .post("/sites/open-cove/imports", "text/csv", walk("S1", 0, 31))
        .with_status(200);
    let secret = ledger.token("warden", "admin", &[]);
    until("the token is known", || (sites(&nobody).len() == 2).then_some(()));
    assert_eq!(sites(&nobody), ["open-cove", "vague-cove"]);
    let refused = nobody.post("/sites/open-cove/imports", "text/csv", walk("S1", 0, 32));
    problem(&refused, 401);
    assert!(refused.header("www-authenticate").unwrap().starts_with("Bearer"));
    let warden = Holder::of(&server, &secret);
    assert_eq!(sites(&warden).len(), 3);
    warden
        .post("/sites/shut-cove/imports", "text/csv", walk("S1", 0, 32))
        .with_status(200);
    let history = ledger
        .run(&["history", "shut-cove:S1:P0000031", "--json"])
        .done()
        .json();
    assert_eq!(history[0]["author"], "warden", "{history}");
    let listed = ledger.run(&["token", "list", "--json"]).done().json();
    assert!(listed[0]["used"].is_string(), "{listed}");
}

#[test]
fn what_opens_no_more_is_told_so() {
    let ledger = consortium();
    let (secret, stale) = (ledger.token("party", "reader", &[]), Secret::random().unwrap());
    let yesterday = "2026-01-01T00:00:00Z".parse().unwrap();
    let expired = Token::new("late".to_owned(), Role::Admin, vec![], Some(yesterday)).unwrap();
    let store = SqliteStore::open_existing(&ledger.path()).unwrap();
    store.gatekeeper().issue(&expired, &stale.digest()).unwrap();
    let server = ledger.serve(&[]);
    assert_eq!(sites(&Holder::of(&server, &secret)).len(), 3);
    let refused = |token: &str, word: &str| {
        let answer = Holder::of(&server, token).get("/collections/sites/items");
        let told = problem(&answer, 401);
        assert!(told["detail"].as_str().unwrap().contains(word), "{told}");
        let challenge = answer.header("www-authenticate").unwrap();
        assert!(challenge.contains("invalid_token"), "{challenge}");
    };
    refused(stale.reveal(), "expired");
    refused(Secret::random().unwrap().reveal(), "none of this service's");
    refused("nonsense", "none of this service's");
    refused("", "none of this service's");
    let id = ledger.run(&["token", "list", "--json"]).done().json()[0]["id"].clone();
    ledger.run(&["token", "revoke", id.as_str().unwrap()]).done();
    let again = Holder::of(&server, &secret);
    until("the revocation is felt", || {
        (again.get("/collections/sites/items").status == 401).then_some(())
    });
    refused(&secret, "revoked");
}

#[test]
fn roles_hold_at_their_sites_alone() {
    let ledger = consortium();
    let reader = ledger.token("reader", "reader", &["shut-cove"]);
    let party = ledger.token("party", "contributor", &["shut-cove"]);
    let server = ledger.serve(&[]);
    let (reader, party) = (Holder::of(&server, &reader), Holder::of(&server, &party));
    assert_eq!(sites(&reader), ["open-cove", "shut-cove", "vague-cove"]);
    let prints = |site: &str| {
        let path = format!("/collections/prints/items?site={site}");
        reader.get(&path).with_status(200).json()["numberMatched"].clone()
    };
    assert_eq!(prints("shut-cove"), 30);
    assert_eq!(
        prints("vague-cove"),
        0,
        "another's site is what strangers see of it"
    );
    let answer = reader.get("/collections/prints/items?site=shut-cove");
    assert_eq!(answer.header("cache-control"), Some("private, no-cache"));
    let sheet = || walk("S1", 0, 33);
    problem(&reader.post("/sites/shut-cove/imports", "text/csv", sheet()), 403);
    party
        .post("/sites/shut-cove/imports", "text/csv", sheet())
        .with_status(200);
    let (there, nowhere) = ("/sites/vague-cove/imports", "/sites/no-cove/imports");
    let told = problem(&party.post(there, "text/csv", sheet()), 403);
    let absent = problem(&party.post(nowhere, "text/csv", sheet()), 403);
    assert_eq!(
        told.to_string().replace("vague-cove", "no-cove"),
        absent.to_string()
    );
}

#[test]
fn jobs_are_computed_as_their_asker_sees_the_record() {
    let ledger = consortium();
    ledger.run(&["trackways", "propose", "shut-cove"]).done();
    let tokens = ["shut-cove", "open-cove"].map(|site| ledger.token(site, "reader", &[site]));
    let server = ledger.serve(&[]);
    let [shut, open] = tokens.map(|token| Holder::of(&server, &token));
    let body = json!({ "inputs": { "surface": "shut-cove:S1" } }).to_string();
    let start = |holder: &Holder| {
        let headers = [("content-type", "application/json"), ("prefer", "respond-async")];
        let answer = holder.ask("POST", "/processes/gait/execution", &headers, body.as_bytes());
        let at = answer.with_status(201).header("location").unwrap().to_owned();
        until("the job has ended", || {
            let status = holder.get(&at).with_status(200).json()["status"].clone();
            ["successful", "failed"]
                .contains(&status.as_str().unwrap())
                .then_some(())
        });
        at
    };
    let (own, blind) = (start(&shut), start(&open));
    shut.get(&format!("{own}/results")).with_status(200);
    problem(&open.get(&format!("{blind}/results")), 404);
    problem(&open.get(&own), 404);
    problem(&Holder::nobody(&server).get(&own), 404);
}

#[test]
fn the_ledger_knows_writes_and_refusals() {
    let ledger = consortium();
    let party = ledger.token("party", "contributor", &["open-cove"]);
    let server = ledger.serve(&[]);
    let (party, nobody) = (Holder::of(&server, &party), Holder::nobody(&server));
    party.get("/collections/prints/items").with_status(200);
    party
        .post("/sites/open-cove/imports", "text/csv", walk("S1", 0, 31))
        .with_status(200);
    let line = |lines: &[Value], status: u16, path: &str| {
        let found = lines
            .iter()
            .find(|line| line["status"] == status && line["path"] == path);
        found.cloned()
    };
    // A write is answered when it is in the ledger.
    let wrote = line(&ledger_of(&ledger), 200, "/sites/open-cove/imports").unwrap();
    assert_eq!(
        (&wrote["who"], &wrote["site"]),
        (&json!("party"), &json!("open-cove"))
    );
    assert_eq!(
        (&wrote["method"], &wrote["address"]),
        (&json!("POST"), &json!("127.0.0.1"))
    );
    problem(
        &party.post("/sites/shut-cove/imports", "text/csv", walk("S1", 0, 3)),
        403,
    );
    problem(
        &nobody.post("/sites/open-cove/imports", "text/csv", walk("S1", 0, 3)),
        401,
    );
    problem(
        &nobody.get("/collections/prints/items/shut-cove:S1:P0000001"),
        404,
    );
    problem(&nobody.get("/queries/grouping?surface=vague-cove:S1"), 404);
    problem(&nobody.get("/collections/prints/items/no-cove:S1:P0000001"), 404);
    problem(&Holder::of(&server, "stridebed_x").get("/"), 401);
    for (status, path, site) in [
        (403, "/sites/shut-cove/imports", json!("shut-cove")),
        (401, "/sites/open-cove/imports", json!("open-cove")),
        (
            404,
            "/collections/prints/items/shut-cove:S1:P0000001",
            json!("shut-cove"),
        ),
        (404, "/queries/grouping", json!("vague-cove")),
        (401, "/", Value::Null),
    ] {
        let found = until("the refusal is in the ledger", || {
            line(&ledger_of(&ledger), status, path)
        });
        assert_eq!(found["site"], site, "{found}");
    }
    let lines = ledger_of(&ledger);
    assert_eq!(
        lines.len(),
        6,
        "what nobody has is no refusal, and reading is not kept: {lines:?}"
    );
    let refused = ledger.run(&["ledger", "--refused", "--json"]).done().json();
    assert_eq!(refused.as_array().unwrap().len(), 5);
    assert!(ledger.run(&["ledger"]).done().out.contains("shut-cove"));
}

#[test]
fn who_asks_too_often_waits() {
    let ledger = consortium();
    let (one, other) = (
        ledger.token("one", "reader", &[]),
        ledger.token("other", "reader", &[]),
    );
    let server = ledger.serve(&["--rate-limit", "1"]);
    let (one, other) = (Holder::of(&server, &one), Holder::of(&server, &other));
    let refused = until("the limit is met", || {
        let answer = one.get("/conformance");
        (answer.status != 200).then_some(answer)
    });
    problem(&refused, 429);
    let wait: u64 = refused.header("retry-after").unwrap().parse().unwrap();
    assert!((1..=5).contains(&wait), "{wait}");
    other.get("/conformance").with_status(200);
}

#[test]
fn other_machines_are_served_once_there_are_tokens() {
    let ledger = consortium();
    let party = ledger.token("party", "contributor", &["open-cove"]);
    let listening = Server::start(ledger.command(&["serve", "--listen", "0.0.0.0:0"]));
    let port = listening.base().rsplit(':').next().unwrap().to_owned();
    let here = listening.client.at(&format!("http://127.0.0.1:{port}"));
    let nobody = here.get("/collections/sites/items").with_status(200).json();
    assert_eq!(features(&nobody).len(), 2);
    let bearer = format!("Bearer {party}");
    let headers = [("authorization", bearer.as_str()), ("content-type", "text/csv")];
    let sheet = walk("S1", 0, 31);
    here.ask("POST", "/sites/open-cove/imports", &headers, sheet.as_bytes())
        .with_status(200);
}

#[test]
fn a_changed_policy_holds_from_the_next_question_on() {
    let ledger = consortium();
    let server = ledger.serve(&["--public-url", "https://tracks.example"]);
    let nobody = Holder::nobody(&server);
    let set = |policy: &str| {
        ledger
            .run(&["site", "set", "open-cove", "--policy", policy])
            .done()
    };
    let print = || {
        nobody
            .get("/collections/prints/items/open-cove:S1:P0000001")
            .status
    };
    assert_eq!((sites(&nobody).len(), print()), (2, 200));
    assert!(set("closed").out.contains("revision 2"));
    assert_eq!((sites(&nobody).len(), print()), (1, 404));
    set("generalised");
    assert_eq!((sites(&nobody).len(), print()), (2, 404));
    set("open");
    assert_eq!((sites(&nobody).len(), print()), (2, 200));
    assert!(set("open").out.contains("as it was"));
    let shown = ledger
        .run(&[
            "site",
            "set",
            "open-cove",
            "--name",
            "Open Cove",
            "--age",
            "Barremian",
            "--json",
        ])
        .done()
        .json();
    assert_eq!(
        (&shown["name"], &shown["age"]),
        (&json!("Open Cove"), &json!("Barremian"))
    );
    assert_eq!(
        (&shown["policy"], &shown["revision"]),
        (&json!("open"), &json!(5))
    );
    assert_eq!(ledger.run(&["site", "set", "no-cove", "--name", "x"]).code, 1);
}
