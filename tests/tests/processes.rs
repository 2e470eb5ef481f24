//! A GIS analyst asks the queries by OGC API Processes.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::processes::{ASYNC, EXCEPTIONS, JSON, execute, processes_schema as schema};
use tests::story::{Ledger, Server, problem};

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
