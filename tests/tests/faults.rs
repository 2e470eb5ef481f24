//! Whatever dies at whatever moment: what was acknowledged is there, nothing is half done, and the service goes on by itself.
//! `FAULTS=100` (in `make soak`) kills more often.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use cluster::{Cluster, Database};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use std::process::Command;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};
use tests::story::{Client, Ledger, Server, ran, walk};

const PATIENCE: Duration = Duration::from_secs(60);
const WRITERS: usize = 4;

fn kills() -> u64 {
    std::env::var("FAULTS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(6)
}

/// A store with ten prints, in a file or in a database of a cluster of its own.
struct Cove {
    ledger: Ledger,
    /// Dropped after what uses it.
    database: Option<(Cluster, Database)>,
}

impl Cove {
    fn in_a_file() -> Self {
        let ledger = Ledger::with_site("cove");
        ledger.import("cove", "sheet.csv", walk("S1", 0, 10)).done();
        Self {
            ledger,
            database: None,
        }
    }

    fn in_a_database() -> Self {
        let mut cove = Self::in_a_file();
        let cluster = Cluster::start().unwrap();
        let database = cluster.database();
        cove.ledger.copy_to(database.url());
        cove.database = Some((cluster, database));
        cove
    }

    fn command(&self, arguments: &[&str]) -> Command {
        match &self.database {
            Some((_, database)) => self.ledger.command_on(database.url(), arguments),
            None => self.ledger.command(arguments),
        }
    }

    fn serve(&self, port: u16) -> Server {
        let listen = format!("127.0.0.1:{port}");
        Server::start(self.command(&[
            "serve",
            "--listen",
            &listen,
            "--workers",
            "0",
            "--rate-limit",
            "0",
        ]))
    }
}

fn item(no: usize) -> String {
    format!("/collections/prints/items/cove:S1:P{no:07}")
}

/// What a writer knows of its print: how often a millimetre was acknowledged, and how often it was sent and not answered.
#[derive(Default)]
struct Told {
    acknowledged: AtomicU64,
    open: AtomicU64,
}

/// Adds a millimetre to a print again and again, each time to what it has read.
fn write(client: &Client, no: usize, told: &Told, over: &AtomicBool) {
    while !over.load(Ordering::Relaxed) {
        let Some(stands) = client.try_get(&item(no)).filter(|answer| answer.status == 200) else {
            std::thread::sleep(Duration::from_millis(5));
            continue;
        };
        let length = stands.json()["properties"]["length_m"].as_f64().unwrap();
        let patch = json!({ "properties": { "length_m": ((length + 0.001) * 1e6).round() / 1e6 } });
        let tag = stands.header("etag").unwrap();
        let headers = [
            ("if-match", tag),
            ("content-type", "application/merge-patch+json"),
        ];
        match client
            .try_ask("PATCH", &item(no), &headers, patch.to_string().as_bytes())
            .map(|answer| answer.status)
        {
            Ok(200) => told.acknowledged.fetch_add(1, Ordering::Relaxed),
            // Somebody else's, or not taken at the moment.
            Ok(412) => 0,
            // Whether it was stored before the line broke, the writer cannot know.
            Ok(_) | Err(_) => told.open.fetch_add(1, Ordering::Relaxed),
        };
    }
}

fn until(what: &str, mut is: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is() {
        assert!(begun.elapsed() < PATIENCE, "never: {what}");
        std::thread::sleep(Duration::from_millis(10));
    }
}

fn kill_and_look(cove: &Cove) {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut server = cove.serve(0);
    let port: u16 = server.base().rsplit(':').next().unwrap().parse().unwrap();
    let (client, over) = (server.client.clone(), AtomicBool::new(false));
    let told: Vec<Told> = (0..WRITERS).map(|_| Told::default()).collect();
    std::thread::scope(|scope| {
        for (no, told) in told.iter().enumerate() {
            let (client, over) = (&client, &over);
            scope.spawn(move || write(client, no, told, over));
        }
        for kill in 0..kills() {
            let before: u64 = told
                .iter()
                .map(|told| told.acknowledged.load(Ordering::Relaxed))
                .sum();
            let due = random.random_range(3..30);
            until("writes are acknowledged", || {
                told.iter()
                    .map(|told| told.acknowledged.load(Ordering::Relaxed))
                    .sum::<u64>()
                    >= before + due
            });
            std::thread::sleep(Duration::from_micros(random.random_range(0..3_000)));
            match &cove.database {
                Some((cluster, _)) if kill % 2 == 0 => cluster.restart(),
                _ => {
                    server.kill();
                    server = cove.serve(port);
                }
            }
        }
        over.store(true, Ordering::Relaxed);
    });
    for (no, told) in told.iter().enumerate() {
        let (acknowledged, open) = (
            told.acknowledged.load(Ordering::Relaxed),
            told.open.load(Ordering::Relaxed),
        );
        let mut stands = Value::Null;
        until("the print is read", || {
            let answer = client.try_get(&item(no)).filter(|answer| answer.status == 200);
            stands = answer.map(|answer| answer.json()).unwrap_or_default();
            !stands.is_null()
        });
        let revisions = stands["properties"]["revision"].as_u64().unwrap() - 1;
        assert!(
            (acknowledged..=acknowledged + open).contains(&revisions),
            "{revisions} revisions, {acknowledged} acknowledged, {open} not answered"
        );
        let length = stands["properties"]["length_m"].as_f64().unwrap();
        assert!(
            (length - (0.3 + revisions as f64 * 0.001)).abs() < 1e-6,
            "{length} after {revisions}"
        );
    }
    drop(server);
    let checked = ran(&mut cove.command(&["check", "--json"]));
    assert_eq!((checked.code, checked.out.trim()), (0, "[]"), "{checked:?}");
}

#[test]
fn a_killed_service_loses_no_acknowledged_write_to_a_file() {
    kill_and_look(&Cove::in_a_file());
}

#[test]
fn a_killed_service_and_a_killed_database_lose_no_acknowledged_write() {
    kill_and_look(&Cove::in_a_database());
}

#[test]
fn two_identical_imports_at_once_make_one_set_of_revisions() {
    for cove in [Cove::in_a_file(), Cove::in_a_database()] {
        let servers = [cove.serve(0), cove.serve(0)];
        let sheet = walk("S2", 0, 2_000);
        std::thread::scope(|scope| {
            for server in &servers {
                let (client, sheet) = (&server.client, &sheet);
                scope.spawn(move || {
                    client
                        .post("/sites/cove/imports", "text/csv", sheet)
                        .with_status(200)
                });
            }
        });
        until("both show them", || {
            servers.iter().all(|server| {
                let path = "/collections/prints/items?surface=cove:S2&limit=1";
                server.get(path).json()["numberMatched"] == 2_000
            })
        });
        let last = "/collections/prints/items/cove:S2:P0001999/history";
        assert_eq!(servers[0].get(last).with_status(200).json()["numberMatched"], 1);
    }
}
