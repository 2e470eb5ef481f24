//! Workers die at any moment, and the database with them: each job is done once, and rightly.
//!
//! `JOBS_KILLS=300` kills workers so often; ten times where nothing is said.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use cluster::Cluster;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use std::collections::HashMap;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;
use tests::story::{Ledger, Ran, Server, ran};

const HEADERS: [(&str, &str); 2] = [("content-type", "application/json"), ("prefer", "respond-async")];

/// The program on a file, or on a database beside it.
struct Office {
    ledger: Ledger,
    store: String,
}

impl Office {
    fn on_a_file() -> Self {
        let ledger = Ledger::demo();
        let store = ledger.path().to_str().unwrap().to_owned();
        Self { ledger, store }
    }

    fn on_a_database(url: &str) -> Self {
        let office = Self {
            ledger: Ledger::new(),
            store: url.to_owned(),
        };
        office.run(&["demo", "--no-serve"]).done();
        office
    }

    fn command(&self, arguments: &[&str]) -> Command {
        self.ledger.command_on(&self.store, arguments)
    }

    fn run(&self, arguments: &[&str]) -> Ran {
        ran(&mut self.command(arguments))
    }

    fn serve(&self) -> Server {
        Server::start(self.command(&["serve", "--listen", "127.0.0.1:0", "--workers", "0"]))
    }

    /// A worker whose jobs are soon another's when it dies. So many deaths are no fault of a job's.
    fn worker(&self) -> Child {
        let mut command = self.command(&["work", "--lease", "500ms", "--attempts", "100000"]);
        command
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    }

    /// Each job with its status and the moment of its end.
    fn ended(&self) -> HashMap<String, (String, Value)> {
        let jobs = self
            .run(&["jobs", "list", "--limit", "10000", "--json"])
            .done()
            .json();
        let all = jobs.as_array().unwrap().iter();
        all.map(|job| {
            let [id, status] = ["job", "status"].map(|name| job[name].as_str().unwrap().to_owned());
            (id, (status, job["finished"].clone()))
        })
        .collect()
    }
}

fn kills() -> u64 {
    std::env::var("JOBS_KILLS").map_or(10, |kills| kills.parse().unwrap())
}

/// Queries of all kinds, some short, some of a few hundred milliseconds; as a request and as inputs.
fn questions() -> Vec<(String, Value)> {
    let mut questions = Vec::new();
    for surface in [
        "gannet-ledge:S1",
        "gannet-ledge:S2",
        "heron-bend:B1",
        "tussock-quarry:Q2",
    ] {
        for query in ["grouping", "headings", "linking"] {
            questions.push((query.to_owned(), json!({ "surface": surface })));
        }
        for seed in 1..=2 {
            questions.push((
                "companions".to_owned(),
                json!({ "surface": surface, "permutations": 9_999, "seed": seed }),
            ));
        }
    }
    questions
}

fn enqueue(server: &Server, (process, inputs): &(String, Value)) -> String {
    let body = json!({ "inputs": inputs }).to_string();
    let at = format!("/processes/{process}/execution");
    let mut answer = server.client.ask("POST", &at, &HEADERS, body.as_bytes());
    // Just after a restart of the database the service may not have noticed that it is back; it says so, and to ask again.
    while answer.status == 503 {
        assert!(answer.header("retry-after").is_some());
        std::thread::sleep(std::time::Duration::from_millis(50));
        answer = server.client.ask("POST", &at, &HEADERS, body.as_bytes());
    }
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["jobID"].as_str().unwrap().to_owned()
}

/// The answer that a job must have: that of its query, asked at once.
fn asked_at_once(server: &Server, (query, inputs): &(String, Value)) -> Vec<u8> {
    let inputs = inputs.as_object().unwrap().iter();
    let inputs: Vec<String> = inputs
        .map(|(name, value)| format!("{name}={}", value.to_string().trim_matches('"')))
        .collect();
    let answer = server.get(&format!("/queries/{query}?{}", inputs.join("&")));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.body
}

/// No job that had ended ends once more.
fn keeps_what_ended(before: &HashMap<String, (String, Value)>, after: &HashMap<String, (String, Value)>) {
    for (id, (status, finished)) in before.iter().filter(|(_, (status, _))| status == "successful") {
        assert_eq!(
            after.get(id),
            Some(&(status.clone(), finished.clone())),
            "{id} was done twice"
        );
    }
}

fn all_are_done_once_and_rightly(office: &Office, seed: u64, mut besides: impl FnMut(u64)) {
    let server = office.serve();
    let questions = questions();
    let right: Vec<Vec<u8>> = questions
        .iter()
        .map(|question| asked_at_once(&server, question))
        .collect();
    let mut jobs: Vec<(String, usize)> = Vec::new();
    let mut ended = HashMap::new();
    let mut draw = ChaCha8Rng::seed_from_u64(seed);
    let mut workers = [office.worker(), office.worker()];
    for round in 0..kills() {
        for _ in 0..6 {
            let no = draw.random_range(0..questions.len());
            jobs.push((enqueue(&server, &questions[no]), no));
        }
        thread::sleep(Duration::from_millis(draw.random_range(50..700)));
        let victim = &mut workers[draw.random_range(0..2)];
        // On Unix this is SIGKILL: no handler, no destructor, nothing is given back.
        victim.kill().unwrap();
        victim.wait().unwrap();
        *victim = office.worker();
        besides(round);
        let now = office.ended();
        keeps_what_ended(&ended, &now);
        ended = now;
    }
    while ended.len() < jobs.len() || ended.values().any(|(status, _)| status != "successful") {
        assert!(
            ended
                .values()
                .all(|(status, _)| matches!(status.as_str(), "accepted" | "running" | "successful")),
            "{ended:?}"
        );
        thread::sleep(Duration::from_millis(100));
        let now = office.ended();
        keeps_what_ended(&ended, &now);
        ended = now;
    }
    for worker in &mut workers {
        assert!(worker.try_wait().unwrap().is_none(), "a worker ended by itself");
        worker.kill().unwrap();
        worker.wait().unwrap();
    }
    for (job, no) in &jobs {
        let result = server.get(&format!("/jobs/{job}/results"));
        assert!(
            result.body == right[*no],
            "{:?} has another answer as a job",
            questions[*no]
        );
    }
    let again: i64 = office
        .run(&["jobs", "list", "--limit", "10000", "--json"])
        .done()
        .json()
        .as_array()
        .unwrap()
        .iter()
        .map(|job| job["attempts"].as_i64().unwrap() - 1)
        .sum();
    println!("{} jobs, {} kills, {again} begun once more", jobs.len(), kills());
}

#[test]
fn killed_workers_lose_nothing_on_a_file() {
    all_are_done_once_and_rightly(&Office::on_a_file(), 20_260_701, |_| {});
}

#[test]
fn killed_workers_and_a_restarted_server_lose_nothing_on_a_database() {
    // Its own: the server of the other tests is not theirs to restart.
    let cluster = Cluster::start().unwrap();
    let database = cluster.database();
    let office = Office::on_a_database(database.url());
    all_are_done_once_and_rightly(&office, 20_260_702, |round| {
        if round % 5 == 2 {
            cluster.restart();
        }
    });
}
