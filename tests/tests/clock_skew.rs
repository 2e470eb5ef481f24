//! Nodes and workers whose clocks are hours apart lose nothing: one machine's battery is flat, another was set to the wrong zone.
//!
//! `libfaketime` gives each program a clock of its own.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use cluster::{Cluster, Database};
use jiff::Timestamp;
use serde_json::{Value, json};
use std::process::Command;
use tests::story::cove::{item, print};
use tests::story::{Client, Ledger, Server, features, ran, until, walk};

const FEATURE: (&str, &str) = ("content-type", "application/geo+json");
const PATCH: (&str, &str) = ("content-type", "application/merge-patch+json");
const ROUNDS: usize = 30;

/// The same program with a clock that is so many hours off.
///
/// The library is loaded as `faketime` itself loads it, which however does not start where a program that was killed has left its
/// semaphore and the number of the process comes again.
fn by_another_clock(mut command: Command, hours: i64) -> Command {
    command
        .env("LD_PRELOAD", "/usr/$LIB/faketime/libfaketimeMT.so.1")
        .env("FAKETIME", format!("{hours:+}h"))
        // Waits go by the monotonic clock, which no machine has wrong.
        .env("FAKETIME_DONT_FAKE_MONOTONIC", "1");
    command
}

/// A node whose clock is so many hours off.
fn node(command: Command, hours: i64) -> Server {
    let node = Server::start(by_another_clock(command, hours));
    let page = node
        .get("/collections/prints/items?limit=1")
        .with_status(200)
        .json();
    let told: Timestamp = page["timeStamp"].as_str().unwrap().parse().unwrap();
    // A library that is not found is only warned of.
    let off_h = told.duration_since(Timestamp::now()).as_secs_f64() / 3600.0;
    assert!((off_h - hours as f64).abs() < 0.1, "its clock is {off_h} h off");
    node
}

/// A database, and two nodes whose clocks are four hours apart.
struct Consortium {
    ledger: Ledger,
    database: Database,
}

impl Consortium {
    fn new() -> Self {
        let consortium = Self {
            ledger: Ledger::new(),
            database: Cluster::shared().database(),
        };
        let sheet = consortium.ledger.write("sheet.csv", walk("S1", 0, 40));
        let sheet = sheet.to_str().unwrap();
        for arguments in [
            &["site", "add", "cove", "--crs", "EPSG:25830"][..],
            &["import", "cove", sheet],
        ] {
            // Before whatever comes, by the clock of each node.
            ran(&mut by_another_clock(consortium.command(arguments), -5)).done();
        }
        consortium
    }

    fn command(&self, arguments: &[&str]) -> Command {
        self.ledger.command_on(self.database.url(), arguments)
    }

    fn nodes(&self, workers: &str) -> [Server; 2] {
        let serve = ["serve", "--listen", "127.0.0.1:0", "--workers", workers];
        [2, -2].map(|hours| node(self.command(&serve), hours))
    }
}

impl Drop for Consortium {
    fn drop(&mut self) {
        Cluster::shared().drop(&self.database);
    }
}

fn send(client: &Client, method: &str, path: &str, headers: &[(&str, &str)], body: &Value) -> u16 {
    let answer = client.ask(method, path, headers, body.to_string().as_bytes());
    answer.status
}

/// Prints, without the moment of the answer.
fn page(node: &Server) -> Vec<Value> {
    let page = node
        .get("/collections/prints/items?limit=1000")
        .with_status(200)
        .json();
    features(&page).to_vec()
}

#[test]
fn what_nodes_with_clocks_hours_apart_write_is_all_there() {
    let consortium = Consortium::new();
    let nodes = consortium.nodes("0");
    for round in 0..ROUNDS {
        let (one, other) = (&nodes[round % 2].client, &nodes[(round + 1) % 2].client);
        let label = format!("N{round}");
        let made = print(&label, 480_100.0 + round as f64);
        let once = ("idempotency-key", &*format!("key-{round}"));
        let path = "/collections/prints/items";
        assert_eq!(send(one, "POST", path, &[FEATURE, once], &made), 201, "{label}");
        // Asked again of the other node, it is not made again.
        assert_eq!(send(other, "POST", path, &[FEATURE, once], &made), 201, "{label}");
        let path = item("prints", &format!("cove:S1:{label}"));
        let change = json!({ "properties": { "length_m": 0.5 } });
        until("the other node shows it", || {
            other.try_get(&path).filter(|answer| answer.status == 200)
        });
        let headers = [PATCH, ("if-match", "\"1\"")];
        assert_eq!(send(other, "PATCH", &path, &headers, &change), 200, "{label}");
        // What was seen before is no longer what stands, whatever the clocks say.
        assert_eq!(send(one, "PATCH", &path, &headers, &change), 412, "{label}");
    }
    until("both show the same", || {
        let [one, other] = [&nodes[0], &nodes[1]].map(page);
        (one == other && one.len() == 40 + ROUNDS).then_some(())
    });
    for round in 0..ROUNDS {
        let path = item("prints", &format!("cove:S1:N{round}"));
        let now = nodes[0].get(&path).with_status(200).json();
        assert_eq!(
            (&now["properties"]["length_m"], &now["properties"]["revision"]),
            (&json!(0.5), &json!(2)),
            "{round}"
        );
        let history = nodes[1].get(&format!("{path}/history")).with_status(200).json();
        let told: Vec<&Value> = history["revisions"].as_array().unwrap().iter().collect();
        assert_eq!(told.len(), 2, "{history}");
        // A change that bears an earlier time than the record before it counts from then on, and never the other way round.
        let at = told[1]["at"].as_str().unwrap();
        let then = nodes[1]
            .get(&format!("{path}?as_of={at}"))
            .with_status(200)
            .json();
        assert_eq!(then["properties"]["revision"], 2, "as of {at}: {history}");
    }
    ran(&mut consortium.command(&["check"])).done();
}

#[test]
fn workers_with_clocks_hours_apart_do_each_job_once() {
    const JOBS: usize = 12;
    let consortium = Consortium::new();
    let nodes = consortium.nodes("1");
    // Long enough that the other worker looks for jobs meanwhile, and would take it if leases went by its clock.
    let body = json!({ "inputs": { "surface": "cove:S1", "permutations": 9999 } });
    let jobs: Vec<String> = (0..JOBS)
        .map(|no| {
            let headers = [("content-type", "application/json"), ("prefer", "respond-async")];
            let path = "/processes/scene/execution";
            let client = &nodes[no % 2].client;
            let answer = client.ask("POST", path, &headers, body.to_string().as_bytes());
            answer.with_status(201).json()["jobID"]
                .as_str()
                .unwrap()
                .to_owned()
        })
        .collect();
    let mut workers: Vec<String> = jobs
        .iter()
        .map(|job| {
            let shown = until("each is done", || {
                let shown = ran(&mut consortium.command(&["jobs", "show", job])).done().json();
                (shown["status"] == "successful").then_some(shown)
            });
            assert_eq!(shown["attempts"], 1, "{shown}");
            let result = nodes[1].get(&format!("/jobs/{job}/results")).with_status(200);
            assert_eq!(result.json()["query"]["surface"], "cove:S1");
            shown["worker"].as_str().unwrap().to_owned()
        })
        .collect();
    workers.sort_unstable();
    workers.dedup();
    assert_eq!(workers.len(), 2, "both have worked: {workers:?}");
}
