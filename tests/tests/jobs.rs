//! A consortium has surfaces reviewed each night, by workers on many machines.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;
use tests::story::{Client, Ledger, problem, walk};

const JSON: (&str, &str) = ("content-type", "application/json");
const ASYNC: (&str, &str) = ("prefer", "respond-async");
/// Takes seconds, so that a worker is found at it.
const LONG: &str = r#"{ "inputs": { "surface": "heron-bend:B2", "permutations": 99999 } }"#;

fn enqueue(client: &Client, process: &str, body: &str) -> String {
    let at = format!("/processes/{process}/execution");
    let answer = client.ask("POST", &at, &[JSON, ASYNC], body.as_bytes());
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["jobID"].as_str().unwrap().to_owned()
}

fn shown(ledger: &Ledger, job: &str) -> Value {
    ledger.run(&["jobs", "show", job]).done().json()
}

fn wait_for(ledger: &Ledger, job: &str, status: &str) -> Value {
    loop {
        let shown = shown(ledger, job);
        if shown["status"] == status {
            return shown;
        }
        assert!(
            matches!(shown["status"].as_str(), Some("accepted" | "running")),
            "{shown}"
        );
        thread::sleep(Duration::from_millis(20));
    }
}

/// A worker that has said that it works.
fn worker(mut command: Command) -> Child {
    let mut child = command
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let first = lines.find(|line| line.as_ref().is_ok_and(|line| line.starts_with("Working as")));
    assert!(first.is_some(), "the worker ended instead");
    thread::spawn(move || lines.for_each(drop));
    child
}

fn tell_to_stop(child: &Child) {
    let told = Command::new("kill")
        .args(["-TERM", &child.id().to_string()])
        .status();
    assert!(told.unwrap().success());
}

#[test]
fn surfaces_that_have_moved_are_reviewed() {
    let ledger = Ledger::new();
    ledger.add_site("gull-ledge", "EPSG:25830", &[]);
    ledger.import("gull-ledge", "ledge.csv", walk("S1", 0, 12)).done();
    ledger.import("gull-ledge", "other.csv", walk("S2", 0, 12)).done();
    let schedule = || ledger.run(&["schedule", "--json"]).done().json();
    let first = schedule();
    let reviews = first["reviews"].as_array().unwrap();
    assert_eq!(
        (reviews.len(), &first["waiting"], &first["unmoved"]),
        (2, &json!(0), &json!(0))
    );
    let again = schedule();
    assert_eq!((&again["reviews"], &again["waiting"]), (&json!([]), &json!(2)));
    ledger.run(&["work", "--once"]).done();
    // What `trackways propose` would have kept, and by whom.
    let kept = ledger
        .run(&["trackways", "list", "gull-ledge:S1", "--json"])
        .done()
        .json();
    assert_eq!(
        (&kept[0]["basis"], &kept[0]["status"]),
        (&json!("grouping"), &json!("proposed"))
    );
    assert_eq!(kept[0]["prints"].as_array().unwrap().len(), 12);
    let history = ledger
        .run(&["history", kept[0]["id"].as_str().unwrap(), "--json"])
        .done()
        .json();
    assert_eq!(
        (&history[0]["author"], &history[0]["deed"]),
        (&json!("an invented party"), &json!("review gull-ledge:S1"))
    );
    let proposed = ledger
        .run(&["trackways", "propose", "gull-ledge", "--json"])
        .done()
        .json();
    for surface in ["gull-ledge:S1", "gull-ledge:S2"] {
        assert_eq!(
            (&proposed[surface]["unchanged"], &proposed[surface]["added"]),
            (&json!(1), &json!(0))
        );
    }
    for review in reviews {
        let links = ledger
            .run(&["jobs", "results", review["job"].as_str().unwrap()])
            .done()
            .out;
        let surface = format!("surface={}", review["surface"].as_str().unwrap());
        assert_eq!(
            links,
            ledger.run(&["query", "linking", &surface, "--json"]).done().out
        );
    }
    // The review's own proposals do not count as a move.
    let third = schedule();
    assert_eq!((&third["reviews"], &third["unmoved"]), (&json!([]), &json!(2)));
    ledger.import("gull-ledge", "more.csv", walk("S1", 12, 4)).done();
    let fourth = schedule();
    assert_eq!(
        (&fourth["reviews"][0]["surface"], &fourth["unmoved"]),
        (&json!("gull-ledge:S1"), &json!(1))
    );
    ledger.run(&["work", "--once"]).done();
    assert_eq!(schedule()["unmoved"], 2);
}

#[test]
fn schedulers_at_once_review_each_surface_once() {
    let ledger = Ledger::demo();
    let mut schedulers: Vec<Child> = (0..4)
        .map(|_| {
            ledger
                .command(&["schedule", "--json"])
                .stdout(Stdio::null())
                .spawn()
                .unwrap()
        })
        .collect();
    assert!(
        schedulers
            .iter_mut()
            .all(|scheduler| scheduler.wait().unwrap().success())
    );
    let jobs = ledger.run(&["jobs", "list", "--json"]).done().json();
    let mut surfaces: Vec<&str> = jobs
        .as_array()
        .unwrap()
        .iter()
        .map(|job| job["inputs"]["surface"].as_str().unwrap())
        .collect();
    surfaces.sort_unstable();
    assert_eq!(surfaces.len(), 6);
    surfaces.dedup();
    assert_eq!(surfaces.len(), 6);
}

#[test]
fn a_scheduler_goes_on_until_it_is_told_to_stop() {
    let ledger = Ledger::demo();
    let mut child = ledger
        .command(&["schedule", "--every", "1s", "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut next = || -> Value { serde_json::from_str(&lines.next().unwrap().unwrap()).unwrap() };
    assert_eq!(next()["reviews"].as_array().unwrap().len(), 6);
    assert_eq!(next()["waiting"], 6);
    tell_to_stop(&child);
    assert!(child.wait().unwrap().success());
}

#[test]
fn a_worker_that_is_told_to_stop_gives_its_job_back() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&["--workers", "0"]);
    let job = enqueue(&server.client, "scene", LONG);
    let mut child = worker(ledger.command(&["work"]));
    let held = wait_for(&ledger, &job, "running");
    assert_eq!(held["attempts"], 1);
    tell_to_stop(&child);
    assert!(child.wait().unwrap().success());
    let back = shown(&ledger, &job);
    assert_eq!(
        (&back["status"], &back["attempts"]),
        (&json!("accepted"), &json!(0)),
        "{back}"
    );
    // A server's own worker, too; and it stops all the same.
    let busy = ledger.serve(&[]);
    wait_for(&ledger, &job, "running");
    assert!(busy.stop().0.success());
    assert_eq!(shown(&ledger, &job)["status"], "accepted");
}

#[test]
fn a_running_job_is_called_off() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&["--lease", "400ms"]);
    let job = enqueue(&server.client, "scene", LONG);
    wait_for(&ledger, &job, "running");
    assert_eq!(
        server
            .client
            .ask("DELETE", &format!("/jobs/{job}"), &[], b"")
            .status,
        200
    );
    let next = enqueue(
        &server.client,
        "speed",
        r#"{ "inputs": { "stride_m": 2.7, "hip_height_m": 1.93 } }"#,
    );
    wait_for(&ledger, &next, "successful");
    assert_eq!(
        shown(&ledger, &job)["status"],
        "dismissed",
        "its result came too late"
    );
    problem(&server.get(&format!("/jobs/{job}/results")), 410);
}

#[test]
fn results_are_removed_in_time() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&["--workers", "0"]);
    let job = enqueue(
        &server.client,
        "speed",
        r#"{ "inputs": { "stride_m": 2.7, "hip_height_m": 1.93 } }"#,
    );
    ledger.run(&["work", "--once", "--keep-jobs", "0s"]).done();
    problem(&server.get(&format!("/jobs/{job}/results")), 404);
    let gone = ledger.run(&["jobs", "show", &job]);
    assert_eq!((gone.code, gone.out.as_str()), (1, ""));
    assert!(gone.err.contains("removed in time"), "{}", gone.err);
    for wrong in [
        ["--keep-jobs", "a week"],
        ["--lease", "0s"],
        ["--attempts", "0"],
        ["--threads", "0"],
    ] {
        assert_eq!(
            ledger.run(&["work", "--once", wrong[0], wrong[1]]).code,
            2,
            "{wrong:?}"
        );
    }
}

#[test]
fn threads_share_the_work() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&["--workers", "0"]);
    for _ in 0..20 {
        enqueue(
            &server.client,
            "headings",
            r#"{ "inputs": { "surface": "gannet-ledge:S1" } }"#,
        );
    }
    ledger.run(&["work", "--once", "--threads", "4"]).done();
    let jobs = ledger.run(&["jobs", "list", "--json"]).done().json();
    let once = |job: &Value| job["status"] == "successful" && job["attempts"] == 1;
    assert!(jobs.as_array().unwrap().iter().all(once), "{jobs}");
    let asked = server.get("/queries/headings?surface=gannet-ledge:S1");
    let result = format!("/jobs/{}/results", jobs[0]["job"].as_str().unwrap());
    assert_eq!(server.get(&result).body, asked.body);
}
