//! Whatever is sent, the service answers with a reason and goes on. `FUZZ=100000` (in `make soak`) sends more.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use tests::story::cove::{Cove, item, print};

fn rounds() -> usize {
    std::env::var("FUZZ")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(600)
}

/// Values that programs stumble over.
fn odd(random: &mut ChaCha8Rng) -> Value {
    let odd = [
        json!(null),
        json!(true),
        json!(-0.0),
        json!(1e308),
        json!(-9_007_199_254_740_993_i64),
        json!(""),
        json!("\u{0}"),
        json!("NaN"),
        json!("𝔘\u{202e}\u{feff}"),
        json!("x".repeat(5_000)),
        json!([]),
        json!([[[]]]),
        json!([1, "2", null]),
        json!({}),
        json!({ "type": "Point", "coordinates": [1e308, -1e308] }),
        json!({ "type": "Polygon", "coordinates": [[[0, 0], [0, 0], [0, 0], [0, 0]]] }),
        json!({ "type": "Point", "coordinates": [] }),
        json!("cove:S1:P0000001"),
        json!("2026-02-30"),
    ];
    odd.choose(random).unwrap().clone()
}

/// Puts something odd in one place of a document.
fn spoil(value: &mut Value, random: &mut ChaCha8Rng) {
    match value {
        Value::Object(members) if !members.is_empty() && random.random_bool(0.8) => {
            let name = members
                .keys()
                .nth(random.random_range(0..members.len()))
                .unwrap()
                .clone();
            if random.random_bool(0.15) {
                members.remove(&name);
            } else {
                spoil(&mut members[&name], random);
            }
        }
        Value::Array(list) if !list.is_empty() && random.random_bool(0.7) => {
            let at = random.random_range(0..list.len());
            spoil(&mut list[at], random);
        }
        other => *other = odd(random),
    }
}

/// Cuts, repeats or overwrites some bytes.
fn scramble(text: &str, random: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..random.random_range(1..4) {
        if bytes.is_empty() {
            break;
        }
        let at = random.random_range(0..bytes.len());
        match random.random_range(0..3) {
            0 => bytes.truncate(at),
            1 => bytes[at] = random.random(),
            _ => bytes
                .splice(at..at, vec![b'['; random.random_range(1..200)])
                .for_each(drop),
        }
    }
    bytes
}

fn percent(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("%{byte:02X}")).collect()
}

#[test]
fn odd_bodies_are_refused_with_a_reason() {
    let cove = Cove::in_a_file();
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let whole = [
        ("prints", print("N1", 480_003.0)),
        (
            "extents",
            json!({ "type": "Feature",
            "geometry": { "type": "Polygon", "coordinates": [[[-3.246, 43.264], [-3.245, 43.264], [-3.245, 43.265], [-3.246, 43.264]]] },
            "properties": { "surface": "cove:S1", "label": "E1", "kind": "exposed" } }),
        ),
        (
            "trackways",
            json!({ "type": "Feature", "geometry": null, "properties": { "surface": "cove:S1", "trackway": "T1", "prints": ["P0000001"] } }),
        ),
        (
            "surfaces",
            json!({ "type": "Feature", "geometry": null, "properties": { "site": "cove", "label": "S2", "strike_deg": 1, "dip_deg": 2 } }),
        ),
        (
            "sites",
            json!({ "type": "Feature", "geometry": null, "properties": { "site": "bay", "crs": "EPSG:25830", "policy": "open" } }),
        ),
    ];
    for round in 0..rounds() {
        let (collection, body) = whole.choose(&mut random).unwrap();
        let mut body = body.clone();
        spoil(&mut body, &mut random);
        let text = body.to_string();
        let bytes = if random.random_bool(0.3) {
            scramble(&text, &mut random)
        } else {
            text.into_bytes()
        };
        let existing = item("prints", "cove:S1:P0000005");
        let (method, path) = match round % 4 {
            0 | 1 => ("POST", format!("/collections/{collection}/items")),
            2 => ("PUT", existing),
            _ => ("PATCH", existing),
        };
        let media = if method == "PATCH" {
            "application/merge-patch+json"
        } else {
            "application/geo+json"
        };
        let headers = [("if-match", "*"), ("content-type", media)];
        let answer = cove.server.client.ask(method, &path, &headers, &bytes);
        assert!(
            answer.status < 500,
            "{method} {path} {}: {}",
            String::from_utf8_lossy(&bytes),
            answer.text()
        );
    }
    cove.item("prints", "cove:S1:P0000001").with_status(200);
}

#[test]
fn odd_parameters_are_refused_with_a_reason() {
    let cove = Cove::in_a_file();
    let mut random = ChaCha8Rng::seed_from_u64(13);
    let names = [
        "bbox",
        "bbox-crs",
        "crs",
        "datetime",
        "limit",
        "after",
        "filter",
        "filter-lang",
        "filter-crs",
        "f",
        "as_of",
        "site",
        "surface",
        "at",
        "k",
        "radius_m",
        "trackway",
        "seed",
        "north",
        "permutations",
        "format",
    ];
    let paths = [
        "/collections/prints/items",
        "/collections/sites/items",
        "/collections/prints/items/cove:S1:P0000001",
        "/queries/nearest",
        "/queries/headings",
        "/queries/gait",
        "/queries/speed",
        "/surfaces/cove:S1/plan.svg",
        "/sites/cove/export",
        "/jobs",
        "/processes",
        "/collections/prints/items/cove:S1:P0000001/history",
    ];
    let sound = [
        "-3.3,43.2,-3.2,43.3",
        "EPSG:25830",
        "2026-05-01/..",
        "5",
        "cove:S1",
        "side = 'left' AND S_INTERSECTS(geometry, POINT(-3 43))",
        "{\"op\":\"=\",\"args\":[{\"property\":\"side\"},\"left\"]}",
        "NOT NOT NOT (length_m BETWEEN 0.1 AND 0.4)",
        "html",
    ];
    for _ in 0..rounds() {
        let path = paths.choose(&mut random).unwrap();
        let pairs: Vec<String> = (0..random.random_range(1..4))
            .map(|_| {
                let name = names.choose(&mut random).unwrap();
                let text = match random.random_bool(0.4) {
                    true => odd(&mut random).to_string(),
                    false => (*sound.choose(&mut random).unwrap()).to_owned(),
                };
                let bytes = if random.random_bool(0.6) {
                    scramble(&text, &mut random)
                } else {
                    text.into_bytes()
                };
                format!("{name}={}", percent(&bytes[..bytes.len().min(8_000)]))
            })
            .collect();
        let answer = cove.server.get(&format!("{path}?{}", pairs.join("&")));
        assert!(
            answer.status < 500,
            "{path}?{}: {}",
            pairs.join("&"),
            answer.text()
        );
    }
    cove.server.get("/health/ready").with_status(200);
}
