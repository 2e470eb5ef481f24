//! The record as it was, and who changed it.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::cove::{Cove, item, print};
use tests::story::{features, problem};

/// What comes of a job.
fn result_of(cove: &Cove, job: &Value) -> Value {
    let at = format!("/jobs/{}", job["jobID"].as_str().unwrap());
    loop {
        let job = cove.server.get(&at).with_status(200).json();
        match job["status"].as_str() {
            Some("successful") => return cove.server.get(&format!("{at}/results")).with_status(200).json(),
            Some("accepted" | "running") => std::thread::sleep(std::time::Duration::from_millis(10)),
            _ => panic!("{job}"),
        }
    }
}

#[test]
fn the_record_is_read_as_it_was_and_its_history_tells_who_changed_it() {
    for cove in [Cove::in_a_file(), Cove::in_a_database()] {
        let moment = || {
            // Later than what has been, earlier than what comes.
            std::thread::sleep(std::time::Duration::from_millis(5));
            let now = jiff::Timestamp::now();
            std::thread::sleep(std::time::Duration::from_millis(5));
            now
        };
        let before = moment();
        cove.post("prints", &print("N1", 480_003.0)).with_status(201);
        let made = moment();
        let path = item("prints", "cove:S1:N1");
        cove.ask(
            "PATCH",
            &path,
            &[("if-match", "\"1\"")],
            &json!({ "properties": { "length_m": 0.5 } }),
        )
        .with_status(200);
        assert_eq!(
            cove.ask("DELETE", &path, &[("if-match", "\"2\"")], &json!(null))
                .status,
            204
        );
        let then = cove.server.get(&format!("{path}?as_of={made}")).with_status(200);
        assert_eq!(then.json()["properties"]["length_m"], 0.3);
        assert!(then.header("memento-datetime").unwrap().ends_with("GMT"));
        problem(&cove.server.get(&format!("{path}?as_of={before}")), 404);
        problem(&cove.server.get(&format!("{path}?as_of={}", moment())), 404);
        problem(&cove.server.get(&format!("{path}?as_of=yesterday")), 400);
        let page = cove
            .server
            .get(&format!("/collections/prints/items?limit=3&as_of={made}"))
            .with_status(200)
            .json();
        assert_eq!(page["numberMatched"], 11);
        let links = page["links"].as_array().unwrap();
        let next = links.iter().find(|link| link["rel"] == "next").unwrap()["href"]
            .as_str()
            .unwrap();
        assert!(next.contains("as_of="), "{next}");
        assert_eq!(features(&cove.server.get(next).with_status(200).json()).len(), 3);
        let nearest =
            format!("/queries/nearest?surface=cove:S1&at=480003,4790001&crs=EPSG:25830&k=1&as_of={made}");
        let nearest = cove.server.get(&nearest).with_status(200).json();
        assert_eq!(nearest["features"][0]["id"], "cove:S1:N1", "{nearest}");
        assert_eq!(nearest["query"]["as_of"], made.to_string());
        let execution = json!({ "inputs": { "surface": "cove:S1", "at": "480003,4790001", "crs": "EPSG:25830", "k": 1 } });
        let asked = |prefer: &str| {
            let headers = [("content-type", "application/json"), ("prefer", prefer)];
            let path = format!("/processes/nearest/execution?as_of={made}");
            cove.server
                .client
                .ask("POST", &path, &headers, execution.to_string().as_bytes())
        };
        assert_eq!(
            asked("").with_status(200).json()["features"][0]["id"],
            "cove:S1:N1"
        );
        let job = asked("respond-async").with_status(201).json();
        let result = result_of(&cove, &job);
        assert_eq!(result["features"][0]["id"], "cove:S1:N1");
        assert_eq!(result["query"]["as_of"], made.to_string());
        cove.server
            .get(&format!("/surfaces/cove:S1/plan.svg?as_of={made}"))
            .with_status(200);
        problem(&cove.server.get(&format!("/jobs?as_of={made}")), 400);
        let export = |moment: jiff::Timestamp| {
            let sheet = cove
                .server
                .get(&format!("/sites/cove/export?format=csv&as_of={moment}"))
                .with_status(200);
            assert!(sheet.header("memento-datetime").is_some());
            sheet.text().contains("N1,")
        };
        assert_eq!([before, made, moment()].map(export), [false, true, false]);
        let then = cove
            .server
            .get(&format!("{path}/history?as_of={made}"))
            .with_status(200)
            .json();
        assert_eq!(
            (&then["numberMatched"], &then["revisions"][0]["revision"]),
            (&json!(1), &json!(1))
        );
        problem(&cove.server.get(&format!("{path}/history?as_of={before}")), 404);

        let history = cove
            .server
            .get(&format!("{path}/history"))
            .with_status(200)
            .json();
        let told: Vec<(u64, &str)> = history["revisions"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| (one["revision"].as_u64().unwrap(), one["deed"].as_str().unwrap()))
            .collect();
        let deed = |verb: &str| format!("{verb} print cove:S1:N1 over HTTP");
        let deeds = [deed("create"), deed("update"), deed("remove")];
        assert_eq!(told, [(1, &*deeds[0]), (2, &*deeds[1]), (3, &*deeds[2])]);
        assert_eq!(history["revisions"][2]["record"], Value::Null);
        let second = cove
            .server
            .get(&format!("{path}/history?limit=1&after=1"))
            .with_status(200)
            .json();
        assert_eq!(
            (&second["numberMatched"], &second["revisions"][0]["revision"]),
            (&json!(3), &json!(2))
        );
        problem(
            &cove
                .server
                .get(&format!("{}/history", item("prints", "cove:S1:N9"))),
            404,
        );
    }
}

#[test]
fn what_was_open_once_is_not_open_for_ever() {
    let ledger = Cove::ledger();
    let server = ledger.serve(&["--public-url", "https://tracks.example"]);
    let opened = jiff::Timestamp::now();
    let path = item("prints", "cove:S1:P0000001");
    server.get(&format!("{path}?as_of={opened}")).with_status(200);
    let told = server.get(&format!("{path}/history")).with_status(200).json();
    assert_eq!(
        told["revisions"][0]["author"],
        Value::Null,
        "strangers are not told who"
    );
    for policy in ["generalised", "closed"] {
        ledger.run(&["site", "set", "cove", "--policy", policy]).done();
        problem(&server.get(&format!("{path}?as_of={opened}")), 404);
        problem(&server.get(&format!("{path}/history")), 404);
        problem(&server.get(&format!("{}/history", item("sites", "cove"))), 404);
        // Neither by a moment at which it was open.
        for read in [
            format!("{path}/history?as_of={opened}"),
            format!("{}/history?as_of={opened}", item("sites", "cove")),
            format!("{}?as_of={opened}", item("sites", "cove")),
            format!("/sites/cove/export?format=csv&as_of={opened}"),
            format!("/sites/cove/export?format=dwca&as_of={opened}"),
            format!("/surfaces/cove:S1/plan.svg?as_of={opened}"),
        ] {
            problem(&server.get(&read), 404);
        }
        problem(
            &server.get(&format!("/queries/gait?surface=cove:S1&as_of={opened}")),
            404,
        );
    }
    // Who sees all of it has it as it was, but for publication by the policy of now.
    let export = |format: &str| {
        let now = opened.to_string();
        ledger.run(&["export", "cove", "--format", format, "--as-of", &now])
    };
    export("csv").done();
    assert_eq!(export("dwca").code, 1);
    let day = ledger.run(&["query", "individuals", "surface=cove:S1", "--as-of", "2020-01-01"]);
    assert_eq!(day.code, 1, "{day:?}");
    let now = opened.to_string();
    ledger
        .run(&[
            "query",
            "nearest",
            "surface=cove:S1",
            "at=-3.2,43.26",
            "k=1",
            "--as-of",
            &now,
        ])
        .done();
}
