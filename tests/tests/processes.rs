//! A GIS analyst asks the queries by OGC API Processes, at once and as jobs.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::{Answer, Client, Ledger, Schema, Server, problem, walk};

const EXCEPTIONS: &str = "http://www.opengis.net/def/exceptions/ogcapi-processes-1/1.0";
const RESULTS: &str = "http://www.opengis.net/def/rel/ogc/1.0/results";
const JSON: (&str, &str) = ("content-type", "application/json");
const ASYNC: (&str, &str) = ("prefer", "respond-async");
const ELSEWHERE: (&str, &str) = ("host", "tracks.example");

fn schema(name: &str) -> Schema {
    Schema::of(&format!("processes-1-1.0/{name}.json"))
}

fn execute(client: &Client, process: &str, body: &Value, headers: &[(&str, &str)]) -> Answer {
    schema("execute").fits(body);
    let headers = [&[JSON], headers].concat();
    client.ask(
        "POST",
        &format!("/processes/{process}/execution"),
        &headers,
        body.to_string().as_bytes(),
    )
}

/// A job that was accepted: its path.
fn accepted(answer: &Answer) -> String {
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(answer.header("preference-applied"), Some("respond-async"));
    let status = answer.json();
    schema("statusInfo").fits(&status);
    assert_eq!(
        (&status["status"], &status["type"]),
        (&json!("accepted"), &json!("process"))
    );
    let at = answer.header("location").unwrap().to_owned();
    assert!(
        at.ends_with(&format!("/jobs/{}", status["jobID"].as_str().unwrap())),
        "{at}"
    );
    at
}

fn status(client: &Client, job: &str) -> Value {
    let answer = client.get(job);
    assert_eq!(answer.status, 200, "{}", answer.text());
    let status = answer.json();
    schema("statusInfo").fits(&status);
    status
}

fn waiting_room() -> (Ledger, Server) {
    let ledger = Ledger::demo();
    let server = ledger.serve(&["--workers", "0"]);
    (ledger, server)
}

#[test]
fn every_query_is_a_process() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let list = server.get("/processes").json();
    schema("processList").fits(&list);
    let processes = list["processes"].as_array().unwrap();
    let queries = server.get("/queries").json();
    let ids = |list: &Value| -> Vec<String> {
        list.as_array()
            .unwrap()
            .iter()
            .map(|one| one["id"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(ids(&list["processes"]), ids(&queries["queries"]));
    for (process, query) in processes.iter().zip(queries["queries"].as_array().unwrap()) {
        let described = server
            .get(&format!("/processes/{}", process["id"].as_str().unwrap()))
            .json();
        schema("process").fits(&described);
        assert_eq!(described["title"], process["title"]);
        for (name, schema) in query["inputs"].as_object().unwrap() {
            let input = &described["inputs"][name];
            assert_eq!(&input["schema"], schema);
            let required = query["required"]
                .as_array()
                .is_some_and(|all| all.contains(&json!(name)));
            assert_eq!(input["minOccurs"], u8::from(required), "{name}");
        }
        assert!(described["outputs"]["answer"]["schema"].is_object());
    }
    let landing = server.get("/").json();
    for rel in ["processes", "conformance", "job-list"] {
        let rel = format!("http://www.opengis.net/def/rel/ogc/1.0/{rel}");
        let link = landing["links"]
            .as_array()
            .unwrap()
            .iter()
            .find(|link| link["rel"] == rel)
            .unwrap();
        assert_eq!(server.get(link["href"].as_str().unwrap()).status, 200);
    }
    let declared = server.get("/conformance").json();
    for class in [
        "core",
        "ogc-process-description",
        "json",
        "oas30",
        "job-list",
        "dismiss",
    ] {
        let class = format!("http://www.opengis.net/spec/ogcapi-processes-1/1.0/conf/{class}");
        assert!(
            declared["conformsTo"].as_array().unwrap().contains(&json!(class)),
            "{class}"
        );
    }
}

#[test]
fn a_list_of_processes_is_paged() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let whole = server.get("/processes").json()["processes"].clone();
    let (mut at, mut seen) = ("/processes?limit=4".to_owned(), Vec::new());
    loop {
        let page = server.get(&at).json();
        let processes = page["processes"].as_array().unwrap();
        assert!(processes.len() <= 4);
        seen.extend(processes.clone());
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
    assert_eq!(Value::from(seen), whole);
    problem(&server.get("/processes?limit=0"), 400);
    problem(&server.get("/processes?colour=red"), 400);
}

#[test]
fn a_process_answers_with_the_bytes_of_the_query() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for (process, query, inputs) in [
        (
            "speed",
            "stride_m=2.7&hip_height_m=1.93",
            json!({ "stride_m": 2.7, "hip_height_m": 1.93 }),
        ),
        (
            "headings",
            "azimuths_deg=12,48,350",
            json!({ "azimuths_deg": [12, 48, 350] }),
        ),
        (
            "nearest",
            "surface=gannet-ledge:S2&at=480000,4790000&k=3&crs=EPSG:25830",
            json!({ "surface": { "href": "data:,gannet-ledge:S2" }, "at": [480_000, 4_790_000], "k": { "value": 3 }, "crs": "EPSG:25830" }),
        ),
        (
            "grouping",
            "surface=gannet-ledge:S1&explain=true",
            json!({ "surface": "gannet-ledge:S1", "explain": true }),
        ),
    ] {
        let asked = server.get(&format!("/queries/{process}?{query}"));
        assert_eq!(asked.status, 200, "{}", asked.text());
        let body = json!({ "inputs": inputs });
        let raw = execute(&server.client, process, &body, &[]);
        assert_eq!(
            (raw.status, raw.media()),
            (200, "application/geo+json"),
            "{}",
            raw.text()
        );
        assert_eq!(raw.body, asked.body, "{process}");
        assert_eq!(raw.header("content-crs"), asked.header("content-crs"));
        let document = json!({ "inputs": inputs, "outputs": { "answer": { "transmissionMode": "value" } }, "response": "document" });
        let document = execute(&server.client, process, &document, &[]);
        assert_eq!((document.status, document.media()), (200, "application/json"));
        schema("results").fits(&document.json());
        assert_eq!(document.json()["answer"]["value"], asked.json());
    }
}

#[test]
fn what_cannot_be_executed_is_refused_at_once() {
    let (ledger, server) = waiting_room();
    let client = &server.client;
    for at in ["/processes/augury", "/processes/review"] {
        assert_eq!(
            problem(&client.get(at), 404)["type"],
            format!("{EXCEPTIONS}/no-such-process")
        );
    }
    let unknown = execute(client, "augury", &json!({}), &[]);
    assert_eq!(
        problem(&unknown, 404)["type"],
        format!("{EXCEPTIONS}/no-such-process")
    );
    let good = json!({ "stride_m": 2.7, "hip_height_m": 1.93 });
    for headers in [&[][..], &[ASYNC]] {
        let faults = problem(
            &execute(
                client,
                "speed",
                &json!({ "inputs": { "colour": "red" } }),
                headers,
            ),
            400,
        );
        let named: Vec<&str> = faults["faults"]
            .as_array()
            .unwrap()
            .iter()
            .map(|fault| fault["input"].as_str().unwrap())
            .collect();
        assert_eq!(named, ["colour", "stride_m"]);
        let by_reference = json!({ "inputs": { "stride_m": { "href": format!("{}/", server.base()), "type": "application/json" } } });
        problem(&execute(client, "speed", &by_reference, headers), 400);
        let picture = json!({ "inputs": good, "outputs": { "picture": {} } });
        problem(&execute(client, "speed", &picture, headers), 400);
        let called_back =
            json!({ "inputs": good, "subscriber": { "successUri": "http://tracks.example/done" } });
        problem(&execute(client, "speed", &called_back, headers), 400);
    }
    let at = "/processes/speed/execution";
    problem(&client.ask("POST", at, &[JSON, ASYNC], b"{\"inputs\":"), 400);
    problem(&client.ask("POST", at, &[JSON], b"[]"), 400);
    problem(
        &client.ask("POST", at, &[("content-type", "text/plain")], b"{}"),
        415,
    );
    problem(&client.ask("POST", at, &[JSON], &vec![b' '; 3 << 20]), 413);
    let got = client.get(at);
    assert_eq!((got.status, got.header("allow")), (405, Some("POST")));
    assert_eq!(ledger.run(&["jobs", "list", "--json"]).done().json(), json!([]));
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
    let done = status(client, &job);
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
    let failed = status(client, &job);
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
    assert_eq!(status(client, &waiting)["status"], "dismissed");
    assert_eq!(status(client, &done)["status"], "successful");
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
        status(&server.client, &job)["status"].as_str(),
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
