//! Those who run the service: figures, logs, backups, and whether a store is whole.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use rusqlite::Connection;
use serde_json::{Value, json};
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use tests::story::{Ledger, Server, problem, walk};

fn cove() -> Ledger {
    let ledger = Ledger::with_site("cove");
    ledger.import("cove", "sheet.csv", walk("S1", 0, 30)).done();
    ledger
}

/// The value of a figure with its labels.
fn figure(text: &str, name: &str) -> f64 {
    let line = text.lines().find(|line| line.split(' ').next() == Some(name));
    let line = line.unwrap_or_else(|| panic!("no {name} in {text}"));
    line.rsplit(' ').next().unwrap().parse().unwrap()
}

#[test]
fn figures_count_requests_and_name_no_site() {
    let ledger = cove();
    let server = ledger.serve(&[]);
    for _ in 0..3 {
        server
            .get("/collections/prints/items/cove:S1:P0000001")
            .with_status(200);
    }
    problem(&server.get("/collections/prints/items/cove:S1:P0000099"), 404);
    problem(&server.get("/nothing/cove"), 404);
    let answer = server.get("/metrics").with_status(200);
    assert_eq!(answer.media(), "text/plain");
    let text = answer.text();
    let requests = |status: u16| {
        let route = "/collections/{collection}/items/{id}";
        figure(
            text,
            &format!("stridebed_http_requests_total{{method=\"GET\",route=\"{route}\",status=\"{status}\"}}"),
        )
    };
    assert_eq!((requests(200), requests(404)), (3.0, 1.0));
    assert_eq!(figure(text, "stridebed_indexes{what=\"held\"}"), 1.0);
    assert_eq!(figure(text, "stridebed_indexes{what=\"loaded\"}"), 1.0);
    assert!(figure(text, "stridebed_indexes{what=\"bytes\"}") > 1_000.0);
    assert_eq!(figure(text, "stridebed_store_reachable"), 1.0);
    assert_eq!(figure(text, "stridebed_jobs{status=\"accepted\"}"), 0.0);
    assert_eq!(
        figure(text, "stridebed_http_requests_in_flight"),
        1.0,
        "the one that asks"
    );
    assert!(!text.contains("cove"), "{text}");
    let strange = server.client.get_with("/metrics", &[("host", "tracks.example")]);
    problem(&strange, 403);
    let proxied = ledger.serve(&["--trusted-proxy", "127.0.0.1", "--metrics-to", "192.0.2.7"]);
    let from = |address: &str| {
        proxied
            .client
            .get_with("/metrics", &[("x-forwarded-for", address)])
            .status
    };
    assert_eq!((from("192.0.2.7"), from("192.0.2.8")), (200, 403));
}

#[test]
fn each_request_has_an_id_in_its_answer_and_in_the_log() {
    let ledger = cove();
    let server = ledger.serve(&["--log-format", "json"]);
    let given = server
        .client
        .get_with("/conformance", &[("x-request-id", "trace-7")]);
    assert_eq!(given.header("x-request-id"), Some("trace-7"));
    let odd = server.client.get_with(
        "/collections/prints/items?site=cove",
        &[("x-request-id", "no id {}")],
    );
    let drawn = odd.header("x-request-id").unwrap().to_owned();
    assert!(drawn.len() == 16 && drawn != "no id {}", "{drawn}");
    let (_, log) = server.stop();
    let lines: Vec<Value> = log
        .iter()
        .filter_map(|line| serde_json::from_str(line).ok())
        .collect();
    let line = |id: &str| {
        let found = lines
            .iter()
            .find(|line| line["span"]["id"] == id && line["message"] == "answered");
        found.unwrap_or_else(|| panic!("{id}: {log:?}")).clone()
    };
    assert_eq!(
        (&line("trace-7")["status"], &line("trace-7")["path"]),
        (&json!(200), &json!("/conformance"))
    );
    assert_eq!(
        line(&drawn)["path"],
        "/collections/prints/items",
        "what is asked stays out of the log"
    );
}

#[test]
fn a_backup_is_a_store_of_its_own_made_while_others_write() {
    let ledger = cove();
    let server = ledger.serve(&[]);
    let done = AtomicBool::new(false);
    let client = &server.client;
    let copy = ledger.file("copy.db");
    let copy = copy.to_str().unwrap();
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut count = 31;
            while !done.load(Ordering::Relaxed) {
                client
                    .post("/sites/cove/imports", "text/csv", walk("S1", 0, count))
                    .with_status(200);
                count += 1;
            }
        });
        for _ in 0..5 {
            ledger.run(&["backup", copy, "--force"]).done();
        }
        done.store(true, Ordering::Relaxed);
    });
    let refused = ledger.run(&["backup", copy]);
    assert!(
        refused.code == 1 && refused.err.contains("--force"),
        "{refused:?}"
    );
    let whole = ledger.run(&["--store", copy, "check", "--json"]).done();
    assert_eq!(whole.json(), json!([]));
    let shown = ledger
        .run(&["--store", copy, "surface", "show", "cove:S1", "--json"])
        .done()
        .json();
    assert!(shown["prints"].as_u64().unwrap() >= 30, "{shown}");
    let left = std::fs::read_dir(ledger.file("x").parent().unwrap())
        .unwrap()
        .flatten();
    assert!(
        left.into_iter()
            .all(|one| !one.file_name().to_string_lossy().contains("-backup-"))
    );
    let nothing = ledger.run(&["--store", "none.db", "backup", "other.db"]);
    assert_eq!(nothing.code, 1, "{nothing:?}");
    let database = ledger.run(&[
        "--store",
        "postgres://party@127.0.0.1/ledges",
        "backup",
        "other.db",
    ]);
    assert!(
        database.code == 1 && database.err.contains("pg_dump"),
        "{database:?}"
    );
}

#[test]
fn a_whole_store_is_found_whole_after_all_that_can_be_done_to_it() {
    let ledger = Ledger::demo();
    let whole = ledger.run(&["check"]).done();
    assert!(whole.out.contains("Nothing is wrong"), "{whole:?}");
    let server = ledger.serve(&[]);
    let path = "/collections/prints/items/tussock-quarry:Q2:P001";
    if server.get(path).status == 200 {
        let _ = server.client.ask("DELETE", path, &[("if-match", "*")], b"");
    }
    ledger.run(&["trackways", "propose", "gannet-ledge"]).done();
    assert_eq!(ledger.run(&["check", "--json"]).done().json(), json!([]));
}

#[test]
fn what_is_broken_by_hand_is_found() {
    // Each statement breaks one thing, past the guards that the schema has against it.
    for (statement, about, wrong) in [
        (
            "UPDATE print SET easting_m = easting_m + 1e5 WHERE label = 'P0000003'",
            "print cove:S1:P0000003",
            "box",
        ),
        (
            "UPDATE print SET revision = 3 WHERE label = 'P0000004'",
            "print cove:S1:P0000004",
            "gap",
        ),
        ("UPDATE surface SET prints = 29", "surface cove:S1", "30"),
        (
            "DELETE FROM print WHERE label = 'P0000005'",
            "surface cove:S1",
            "29",
        ),
        (
            "UPDATE print SET change = 77 WHERE label = 'P0000006'",
            "print cove:S1:P0000006",
            "change 77",
        ),
        (
            "INSERT INTO trackway (surface, label, prints, basis, status, revision, change) \
             VALUES (1, 'T1', '[\"P9\"]', 'editor', 'accepted', 1, 1)",
            "trackway cove:S1:T1",
            "P9",
        ),
        (
            "UPDATE print SET remarks = '{\"overlies\":[\"P8\"]}' WHERE label = 'P0000007'",
            "print cove:S1:P0000007",
            "P8",
        ),
        (
            "UPDATE print SET side = 'port' WHERE label = 'P0000008'",
            "store",
            "cannot be read",
        ),
        (
            "INSERT INTO past VALUES ('print', 1, 'P99', 1, 1, '{}')",
            "print cove:S1:P99",
            "neither stands",
        ),
    ] {
        let ledger = cove();
        let conn = Connection::open(ledger.path()).unwrap();
        let triggers: Vec<String> = conn
            .prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
            .unwrap()
            .query_map([], |row| row.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect();
        for trigger in triggers {
            conn.execute_batch(&format!("DROP TRIGGER {trigger}")).unwrap();
        }
        conn.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
        conn.execute_batch(statement).unwrap();
        drop(conn);
        let ran = ledger.run(&["check", "--json"]);
        assert_eq!(ran.code, 1, "{statement}: {ran:?}");
        let findings = ran.json();
        let found =
            findings.as_array().unwrap().iter().any(|finding| {
                finding["about"] == about && finding["wrong"].as_str().unwrap().contains(wrong)
            });
        assert!(found, "{statement}: {findings}");
    }
}

#[test]
fn settings_come_from_the_environment_and_health_can_be_asked() {
    let ledger = cove();
    let mut command = ledger.command(&["serve"]);
    command
        .env("STRIDEBED_LISTEN", "127.0.0.1:0")
        .env("STRIDEBED_READ_ONLY", "true");
    let server = Server::start(command);
    problem(
        &server
            .client
            .post("/sites/cove/imports", "text/csv", walk("S1", 0, 31)),
        403,
    );
    assert_eq!(ledger.run(&["health", server.base()]).done().out.trim(), "ready");
    assert_eq!(ledger.run(&["health", "http://127.0.0.1:9"]).code, 1);
    let help = ledger.run(&["serve", "--help"]).done().out;
    for name in [
        "STRIDEBED_LISTEN",
        "STRIDEBED_RATE_LIMIT",
        "STRIDEBED_WORKERS",
        "STRIDEBED_LOG_FORMAT",
    ] {
        assert!(help.contains(name), "{name}");
    }
}

#[test]
fn a_disk_that_is_full_is_told_and_nothing_is_half_stored() {
    let ledger = cove();
    let sheet = ledger.write("big.csv", walk("S1", 0, 60_000));
    let before = ledger.export("cove", "csv");
    // Files may not grow beyond 512 KB there: what the system answers then is what it answers on a full disk.
    let full = |arguments: &[&str]| {
        let program = tests::story::program().to_str().unwrap();
        let script = format!("trap '' XFSZ; ulimit -f 1000; exec {program} \"$@\"");
        let mut shell = Command::new("sh");
        shell.args([&["-c", &script, "sh"], arguments].concat());
        shell.env("STRIDEBED_STORE", ledger.path());
        shell
    };
    let ran = tests::story::ran(&mut full(&["import", "cove", sheet.to_str().unwrap()]));
    assert_eq!(ran.code, 1, "{ran:?}");
    assert!(ran.err.contains("full"), "{ran:?}");
    let server = Server::start(full(&["serve", "--listen", "127.0.0.1:0"]));
    let refused = server
        .client
        .post("/sites/cove/imports", "text/csv", std::fs::read(&sheet).unwrap());
    problem(&refused, 507);
    drop(server);
    assert_eq!(ledger.export("cove", "csv"), before);
    assert_eq!(ledger.run(&["check", "--json"]).done().json(), json!([]));
}
