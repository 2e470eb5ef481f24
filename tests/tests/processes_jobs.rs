//! A GIS analyst asks by OGC API Processes, and comes back for the answer.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::processes::{ASYNC, EXCEPTIONS, accepted, execute, job_status, processes_schema as schema};
use tests::story::{Ledger, Server, problem, walk};

const RESULTS: &str = "http://www.opengis.net/def/rel/ogc/1.0/results";
const ELSEWHERE: (&str, &str) = ("host", "tracks.example");

fn waiting_room() -> (Ledger, Server) {
    let ledger = Ledger::demo();
    let server = ledger.serve(&["--workers", "0"]);
    (ledger, server)
}

#[test]
fn a_job_goes_its_way() {
    let (ledger, server) = waiting_room();
    let client = &server.client;
    let inputs = json!({ "surface": "gannet-ledge:S2" });
    let job = accepted(&execute(
        client,
        "grouping",
        &json!({ "inputs": inputs }),
        &[("prefer", "wait=5, Respond-Async")],
    ));
    let document = json!({ "inputs": inputs, "response": "document" });
    let other = accepted(&execute(client, "grouping", &document, &[ASYNC]));
    let early = problem(&client.get(&format!("{job}/results")), 404);
    assert_eq!(early["type"], format!("{EXCEPTIONS}/result-not-ready"));
    ledger.run(&["work", "--once"]).done();
    let done = job_status(client, &job);
    assert_eq!(
        (&done["status"], &done["progress"], &done["processID"]),
        (&json!("successful"), &json!(100), &json!("grouping"))
    );
    assert!(
        done["created"].as_str() <= done["started"].as_str()
            && done["started"].as_str() <= done["finished"].as_str()
    );
    let link = done["links"]
        .as_array()
        .unwrap()
        .iter()
        .find(|link| link["rel"] == RESULTS)
        .unwrap();
    let asked = client.get("/queries/grouping?surface=gannet-ledge:S2");
    let result = client.get(link["href"].as_str().unwrap());
    assert_eq!((result.status, result.media()), (200, "application/geo+json"));
    assert_eq!(result.body, asked.body);
    assert_eq!(result.header("content-crs"), asked.header("content-crs"));
    let document = client.get(&format!("{other}/results"));
    schema("results").fits(&document.json());
    assert_eq!(document.json()["answer"]["value"], asked.json());
    let id = done["jobID"].as_str().unwrap();
    assert_eq!(
        ledger.run(&["jobs", "results", id]).done().out.as_bytes(),
        asked.body
    );
}

#[test]
fn a_job_fails_as_its_answer_would() {
    let (ledger, server) = waiting_room();
    let client = &server.client;
    let job = accepted(&execute(
        client,
        "grouping",
        &json!({ "inputs": { "surface": "gannet-ledge:S9" } }),
        &[ASYNC],
    ));
    ledger.run(&["work", "--once"]).done();
    let failed = job_status(client, &job);
    let at_once = problem(&client.get("/queries/grouping?surface=gannet-ledge:S9"), 404);
    assert_eq!(
        (&failed["status"], &failed["message"]),
        (&json!("failed"), &at_once["detail"])
    );
    let result = client.get(&format!("{job}/results"));
    assert_eq!(problem(&result, 404), at_once);
    schema("exception").fits(&result.json());
    let shown = ledger
        .run(&["jobs", "list", "--status", "failed", "--json"])
        .done()
        .json();
    assert_eq!(
        (&shown[0]["attempts"], &shown[0]["problem"]),
        (&json!(1), &at_once),
        "what is wrong is not tried again"
    );
}

#[test]
fn a_job_is_called_off() {
    let (ledger, server) = waiting_room();
    let client = &server.client;
    let body = json!({ "inputs": { "stride_m": 2.7, "hip_height_m": 1.93 } });
    let [waiting, done] = [0, 1].map(|_| accepted(&execute(client, "speed", &body, &[ASYNC])));
    let called_off = |job: &str| {
        let answer = client.ask("DELETE", job, &[], b"");
        assert_eq!(answer.status, 200, "{}", answer.text());
        schema("statusInfo").fits(&answer.json());
        assert_eq!(answer.json()["status"], "dismissed");
    };
    called_off(&waiting);
    ledger.run(&["work", "--once"]).done();
    assert_eq!(job_status(client, &waiting)["status"], "dismissed");
    assert_eq!(job_status(client, &done)["status"], "successful");
    called_off(&done);
    called_off(&done);
    problem(&client.get(&format!("{done}/results")), 410);
    for job in ["/jobs/1", "/jobs/0123456789abcdef0123456789abcdef"] {
        for (method, path) in [
            ("GET", job.to_owned()),
            ("DELETE", job.to_owned()),
            ("GET", format!("{job}/results")),
        ] {
            let missing = problem(&client.ask(method, &path, &[], b""), 404);
            assert_eq!(missing["type"], format!("{EXCEPTIONS}/no-such-job"));
        }
    }
}

#[test]
fn a_list_of_jobs_is_filtered_and_paged() {
    let (ledger, server) = waiting_room();
    let client = &server.client;
    let empty = server.get("/jobs").json();
    schema("jobList").fits(&empty);
    assert_eq!(empty["jobs"], json!([]));
    let speed = json!({ "inputs": { "stride_m": 2.7, "hip_height_m": 1.93 } });
    let mut all: Vec<String> = (0..3)
        .map(|_| accepted(&execute(client, "speed", &speed, &[ASYNC])))
        .collect();
    ledger.run(&["work", "--once"]).done();
    let rose = json!({ "inputs": { "azimuths_deg": [12, 48, 350] } });
    all.push(accepted(&execute(client, "headings", &rose, &[ASYNC])));
    let listed = |query: &str| -> Vec<usize> {
        let list = server.get(&format!("/jobs?{query}")).json();
        schema("jobList").fits(&list);
        let place = |job: &Value| {
            all.iter()
                .position(|at| at.ends_with(job["jobID"].as_str().unwrap()))
                .unwrap()
        };
        list["jobs"].as_array().unwrap().iter().map(place).collect()
    };
    assert_eq!(listed(""), [3, 2, 1, 0]);
    assert_eq!(listed("status=accepted"), [3]);
    assert_eq!(listed("status=successful,failed"), [2, 1, 0]);
    assert_eq!(listed("processID=headings"), [3]);
    assert_eq!(listed("processID=headings,speed&limit=2"), [3, 2]);
    assert_eq!(listed("type=process"), [3, 2, 1, 0]);
    assert_eq!(listed("datetime=2020-01-01T00:00:00Z/.."), [3, 2, 1, 0]);
    assert_eq!(listed("datetime=../2020-01-01"), [] as [usize; 0]);
    assert_eq!(listed("minDuration=0&maxDuration=1000"), [2, 1, 0]);
    assert_eq!(listed("minDuration=1000"), [] as [usize; 0]);
    let (mut at, mut seen) = ("/jobs?limit=1&processID=speed".to_owned(), 0);
    loop {
        let page = server.get(&at).json();
        seen += page["jobs"].as_array().unwrap().len();
        match page["links"]
            .as_array()
            .unwrap()
            .iter()
            .find(|link| link["rel"] == "next")
        {
            Some(next) => next["href"].as_str().unwrap().clone_into(&mut at),
            None => break,
        }
    }
    assert_eq!(seen, 3);
    for wrong in [
        "status=done",
        "limit=none",
        "datetime=march",
        "minDuration=-1",
        "colour=red",
        "before=x",
    ] {
        problem(&server.get(&format!("/jobs?{wrong}")), 400);
    }
}

#[test]
fn strangers_find_no_jobs_but_their_own() {
    let (ledger, server) = waiting_room();
    let client = &server.client;
    ledger.add_site("hidden-cove", "EPSG:25830", &["--policy", "closed"]);
    ledger.import("hidden-cove", "cove.csv", walk("S1", 0, 8)).done();
    let closed = json!({ "inputs": { "surface": "hidden-cove:S1" } });
    let local = accepted(&execute(client, "grouping", &closed, &[ASYNC]));
    let path = |job: &str| format!("/jobs/{}", job.rsplit('/').next().unwrap());
    let (local, strange) = (
        path(&local),
        path(&accepted(&execute(
            client,
            "grouping",
            &closed,
            &[ASYNC, ELSEWHERE],
        ))),
    );
    ledger.run(&["work", "--once"]).done();
    assert_eq!(client.get(&format!("{local}/results")).status, 200);
    for at in [local.clone(), format!("{local}/results")] {
        problem(&client.get_with(&at, &[ELSEWHERE]), 404);
    }
    problem(&client.ask("DELETE", &local, &[ELSEWHERE], b""), 404);
    assert_eq!(client.get_with("/jobs", &[ELSEWHERE]).json()["jobs"], json!([]));
    // What a stranger asked was computed for a stranger.
    let own = client.get_with(&strange, &[ELSEWHERE]).json();
    assert_eq!(own["status"], "failed");
    let at_once = problem(
        &client.get_with("/queries/grouping?surface=hidden-cove:S1", &[ELSEWHERE]),
        404,
    );
    assert_eq!(
        problem(&client.get_with(&format!("{strange}/results"), &[ELSEWHERE]), 404),
        at_once
    );
}

#[test]
fn a_server_does_its_jobs_by_itself() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    // As the OWSLib client sends it.
    let headers = [("accept", "*/*"), ASYNC];
    let body = json!({ "inputs": { "surface": "gannet-ledge:S1" }, "response": "document" });
    let job = accepted(&execute(&server.client, "headings", &body, &headers));
    while !matches!(
        job_status(&server.client, &job)["status"].as_str(),
        Some("successful" | "failed")
    ) {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let result = server.get(&format!("{job}/results")).json();
    assert_eq!(
        result["answer"]["value"],
        server.get("/queries/headings?surface=gannet-ledge:S1").json()
    );
}
