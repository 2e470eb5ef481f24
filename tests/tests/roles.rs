//! Every operation of the interface, asked by everybody: who may, may; who may not, may not. Operations and the roles that
//! they need are read from the interface's own definition, so that a new one without a rule fails here.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use api::access::{Role, Secret, Token};
use api::store::{SqliteStore, Store};
use serde_json::{Value, json};
use tests::story::{Answer, Holder, Ledger, Server, walk};

/// The closed site that all is asked of.
const SITE: &str = "shut-cove";

/// Somebody, the role that he has at the site, and whether his token opens anything.
struct Somebody {
    name: &'static str,
    role: Option<Role>,
    opens: bool,
    holder: Holder,
}

fn everybody(ledger: &Ledger, server: &Server) -> Vec<Somebody> {
    let mut everybody = Vec::new();
    let mut add = |name, role, opens, holder| {
        everybody.push(Somebody {
            name,
            role,
            opens,
            holder,
        });
    };
    let stale = Secret::random().unwrap();
    let past = "2026-01-01T00:00:00Z".parse().unwrap();
    let token = Token::new("late".to_owned(), Role::Admin, vec![], Some(past)).unwrap();
    let store = SqliteStore::open_existing(&ledger.path()).unwrap();
    store.gatekeeper().issue(&token, &stale.digest()).unwrap();
    add("nobody", None, true, Holder::nobody(server));
    add("a forger", None, false, Holder::of(server, "stridebed_0"));
    add("late", None, false, Holder::of(server, stale.reveal()));
    for (name, role, sites, held) in [
        ("a steward elsewhere", "steward", &["open-cove"][..], None),
        ("reader", "reader", &[SITE], Some(Role::Reader)),
        ("contributor", "contributor", &[SITE], Some(Role::Contributor)),
        (
            "contributor of many",
            "contributor",
            &[SITE, "open-cove"],
            Some(Role::Contributor),
        ),
        ("steward", "steward", &[SITE], Some(Role::Steward)),
        ("reader everywhere", "reader", &[], Some(Role::Reader)),
        ("admin", "admin", &[], Some(Role::Admin)),
    ] {
        let token = ledger.token(name, role, sites);
        add(name, held, true, Holder::of(server, &token));
    }
    everybody
}

/// One operation, filled in so that it speaks of the closed site.
struct Operation {
    method: String,
    path: String,
    role: String,
    media: String,
    body: String,
    /// Whether the closed site is asked for by name.
    names_it: bool,
}

fn operations(api: &Value, job: &str) -> Vec<Operation> {
    let mut found = Vec::new();
    for (path, item) in api["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let role = operation["x-role"]
                .as_str()
                .unwrap_or_else(|| panic!("{method} {path} has no rule"));
            let (path, query) = (fill(path, job), query(operation));
            let content = operation["requestBody"]["content"].as_object();
            let media = content
                .and_then(|content| content.keys().next())
                .cloned()
                .unwrap_or_default();
            let body = match path.as_str() {
                _ if media == "text/csv" => walk("S1", 0, 12),
                _ if path.ends_with("/execution") => execution(&path, api),
                _ if path.ends_with("/items") => named(),
                _ => "{}".to_owned(),
            };
            let path = format!("{path}{query}");
            let names_it = path.contains(SITE) || (method != "get" && body.contains(SITE));
            found.push(Operation {
                method: method.to_uppercase(),
                path,
                role: role.to_owned(),
                media,
                body,
                names_it,
            });
        }
    }
    found
}

fn fill(path: &str, job: &str) -> String {
    let record = match path.split('/').nth(2) {
        Some("sites") => SITE.to_owned(),
        Some("surfaces") => format!("{SITE}:S1"),
        Some("trackways") => format!("{SITE}:S1:G1"),
        Some("extents") => format!("{SITE}:S1:E1"),
        _ => format!("{SITE}:S1:P0000001"),
    };
    path.replace("{site}", SITE)
        .replace("{surface}", &format!("{SITE}:S1"))
        .replace("{trackway}", &format!("{SITE}:S1:G1"))
        .replace("{id}", &record)
        .replace("{job}", job)
        .replace("{file}", "map.js")
}

/// The inputs of a query that speak of the site, and those without which it does not answer.
fn inputs(names: &[&str]) -> Vec<(&'static str, &'static str)> {
    let place = [("surface", "shut-cove:S1"), ("trackway", "shut-cove:S1:G1")];
    let place = place.into_iter().find(|(name, _)| names.contains(name));
    let plain = [
        ("stride_m", "2.7"),
        ("hip_height_m", "1.9"),
        ("material", "limestone"),
        ("frequency_mhz", "400"),
        ("depth_m", "0.5"),
        ("print_length_m", "0.4"),
        ("print_depth_m", "0.05"),
    ];
    match place {
        Some(place) if names.contains(&"at") => vec![place, ("at", "-3.2,43.3")],
        Some(place) => vec![place],
        None => plain
            .into_iter()
            .filter(|(name, _)| names.contains(name))
            .collect(),
    }
}

/// A feature of the closed site, whatever its kind, that is not sound.
fn named() -> String {
    let properties = json!({
        "site": SITE, "surface": "shut-cove:S1", "label": "N1", "print": "N1", "trackway": "N1", "length_m": "long",
    });
    json!({ "type": "Feature", "geometry": null, "properties": properties }).to_string()
}

/// What is asked of a query; lists of features are asked for whole.
fn query(operation: &Value) -> String {
    if !operation["operationId"].as_str().unwrap().starts_with("query-") {
        return String::new();
    }
    let parameters = operation["parameters"].as_array().unwrap();
    let names: Vec<&str> = parameters
        .iter()
        .filter_map(|parameter| parameter["name"].as_str())
        .collect();
    let inputs = inputs(&names)
        .into_iter()
        .map(|(name, value)| format!("{name}={value}"));
    format!("?{}", inputs.collect::<Vec<_>>().join("&"))
}

fn execution(path: &str, api: &Value) -> String {
    let query = path.split('/').nth(2).unwrap();
    let parameters = api["paths"][&format!("/queries/{query}")]["get"]["parameters"]
        .as_array()
        .unwrap();
    let names: Vec<&str> = parameters
        .iter()
        .filter_map(|parameter| parameter["name"].as_str())
        .collect();
    let typed = |text: &str| {
        text.parse::<f64>()
            .map_or_else(|_| json!(text), |number| json!(number))
    };
    let inputs: serde_json::Map<String, Value> = inputs(&names)
        .into_iter()
        .map(|(name, value)| (name.to_owned(), typed(value)))
        .collect();
    json!({ "inputs": inputs }).to_string()
}

fn check(operation: &Operation, somebody: &Somebody, answer: &Answer) {
    let told = || {
        format!(
            "{} asks {} {}: {} {}",
            somebody.name,
            operation.method,
            operation.path,
            answer.status,
            answer.text()
        )
    };
    assert!(answer.status < 500, "{}", told());
    if !somebody.opens {
        assert_eq!(answer.status, 401, "{}", told());
        return;
    }
    if operation.role != "anyone" {
        let needed: Role = operation.role.parse().unwrap();
        match (somebody.name, somebody.role) {
            ("nobody", _) => assert_eq!(answer.status, 401, "{}", told()),
            (_, held) if held < Some(needed) => assert_eq!(answer.status, 403, "{}", told()),
            _ => assert!(![401, 403, 404].contains(&answer.status), "{}", told()),
        }
        return;
    }
    assert!(![401, 403].contains(&answer.status), "{}", told());
    if !operation.names_it {
        let seen = answer.text().contains(SITE);
        assert!(somebody.role.is_some() || !seen, "{}", told());
    } else if somebody.role.is_none() {
        assert_eq!(answer.status, 404, "{}", told());
    } else {
        assert!(answer.status < 300, "{}", told());
    }
}

#[test]
fn every_operation_holds_to_its_rule() {
    let ledger = Ledger::new();
    ledger.add_site("open-cove", "EPSG:25830", &[]);
    ledger.add_site(SITE, "EPSG:25830", &["--policy", "closed"]);
    ledger.import(SITE, "sheet.csv", walk("S1", 0, 12)).done();
    let extent = json!({ "type": "FeatureCollection", "features": [{
        "type": "Feature",
        "properties": { "surface": "S1", "extent": "E1", "kind": "exposed" },
        "geometry": { "type": "Polygon", "coordinates": [[[-3.25, 43.26], [-3.24, 43.26], [-3.24, 43.27], [-3.25, 43.26]]] },
    }]});
    ledger.import(SITE, "extent.geojson", extent.to_string()).done();
    ledger.run(&["trackways", "propose", SITE]).done();
    // With a first token the house is closed before anybody asks.
    let _ = ledger.token("first", "reader", &["open-cove"]);
    let server = ledger.serve(&["--rate-limit", "0"]);
    let everybody = everybody(&ledger, &server);
    let admin = &everybody.last().unwrap().holder;
    let api = admin.get("/api").with_status(200).json();
    // A job that was computed for the site's reader: others must not read it.
    let reader = everybody
        .iter()
        .find(|somebody| somebody.name == "reader")
        .unwrap();
    let body = json!({ "inputs": { "surface": "shut-cove:S1" } }).to_string();
    let headers = [("content-type", "application/json"), ("prefer", "respond-async")];
    let accepted = reader
        .holder
        .ask("POST", "/processes/gait/execution", &headers, body.as_bytes());
    let job = accepted.with_status(201).json()["jobID"]
        .as_str()
        .unwrap()
        .to_owned();
    while reader.holder.get(&format!("/jobs/{job}")).json()["status"] != "successful" {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let operations = operations(&api, &job);
    assert!(operations.len() > 60, "{}", operations.len());
    for operation in &operations {
        // Of the job's own paths the name opens only for those who see as much as its asker; calling it off comes last.
        if operation.path.starts_with("/jobs/") {
            continue;
        }
        for somebody in &everybody {
            let headers: &[(&str, &str)] = &[("content-type", &operation.media)];
            let headers = if operation.media.is_empty() { &[] } else { headers };
            let body = if operation.method == "GET" {
                ""
            } else {
                &operation.body
            };
            let answer = somebody
                .holder
                .ask(&operation.method, &operation.path, headers, body.as_bytes());
            check(operation, somebody, &answer);
        }
    }
    for path in [format!("/jobs/{job}"), format!("/jobs/{job}/results")] {
        for somebody in everybody.iter().filter(|somebody| somebody.opens) {
            let expected = if somebody.role.is_some() { 200 } else { 404 };
            assert_eq!(
                somebody.holder.get(&path).status,
                expected,
                "{} {path}",
                somebody.name
            );
        }
    }
}

#[test]
fn a_service_for_reading_refuses_every_change() {
    let ledger = Ledger::new();
    ledger.add_site(SITE, "EPSG:25830", &["--policy", "closed"]);
    ledger.import(SITE, "sheet.csv", walk("S1", 0, 12)).done();
    let token = ledger.token("admin", "admin", &[]);
    let server = ledger.serve(&["--read-only"]);
    let admin = Holder::of(&server, &token);
    let api = admin.get("/api").with_status(200).json();
    let changes = operations(&api, &"0".repeat(32))
        .into_iter()
        .filter(|operation| operation.role != "anyone");
    for operation in changes {
        let media = [("content-type", operation.media.as_str())];
        let answer = admin.ask(
            &operation.method,
            &operation.path,
            &media,
            operation.body.as_bytes(),
        );
        assert_eq!(answer.status, 403, "{} {}", operation.method, operation.path);
        assert!(answer.text().contains("read-only"), "{}", answer.text());
    }
}
