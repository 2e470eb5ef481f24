//! Records that are sent twice, and changed by many at once: nothing is made twice, and nothing is lost.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::json;
use std::sync::atomic::{AtomicU64, Ordering};
use tests::story::cove::{Cove, PATCH, item, print};
use tests::story::{Answer, problem};

fn etag(answer: &Answer) -> String {
    answer.header("etag").unwrap().to_owned()
}

#[test]
fn what_is_sent_twice_with_one_key_is_made_once() {
    for cove in [Cove::in_a_file(), Cove::in_a_database()] {
        let key = [("idempotency-key", "7b1c-one")];
        let path = "/collections/prints/items";
        let first = cove
            .ask("POST", path, &key, &print("N1", 480_003.0))
            .with_status(201);
        let second = cove
            .ask("POST", path, &key, &print("N1", 480_003.0))
            .with_status(201);
        assert_eq!(
            (etag(&first), first.header("location")),
            (etag(&second), second.header("location"))
        );
        problem(&cove.ask("POST", path, &key, &print("N2", 480_004.0)), 422);
        let elsewhere = [
            key[0],
            ("content-crs", "<http://www.opengis.net/def/crs/EPSG/0/25829>"),
        ];
        problem(&cove.ask("POST", path, &elsewhere, &print("N1", 480_003.0)), 422);
        let longer = json!({ "properties": { "length_m": 0.5 } });
        cove.ask(
            "PATCH",
            &item("prints", "cove:S1:N1"),
            &[("if-match", "\"1\"")],
            &longer,
        )
        .with_status(200);
        let third = cove
            .ask("POST", path, &key, &print("N1", 480_003.0))
            .with_status(201);
        assert_eq!(
            (etag(&third).as_str(), third.text()),
            ("\"1\"", ""),
            "what stands now is not what the ETag names"
        );
        let site = json!({ "type": "Feature", "geometry": null, "properties": { "site": "bay", "crs": "EPSG:25830" } });
        for _ in 0..2 {
            let made = cove.ask(
                "POST",
                "/collections/sites/items",
                &[("idempotency-key", "bay-1")],
                &site,
            );
            assert_eq!(etag(&made.with_status(201)), "\"1\"");
        }
        problem(&cove.post("sites", &site), 409);
        problem(&cove.post("prints", &print("N1", 480_003.0)), 409);
        problem(
            &cove.ask("POST", path, &[("idempotency-key", " ")], &print("N3", 480_003.0)),
            400,
        );
        assert_eq!(
            cove.server.get("/collections/prints/items?limit=1").json()["numberMatched"],
            11
        );
    }
}

#[test]
fn thirty_two_writers_lose_no_update() {
    const WRITERS: usize = 32;
    const ROUNDS: usize = 4;
    for cove in [Cove::in_a_file(), Cove::in_a_database()] {
        let path = item("prints", "cove:S1:P0000005");
        let refused = AtomicU64::new(0);
        let client = &cove.server.client;
        std::thread::scope(|scope| {
            for _ in 0..WRITERS {
                scope.spawn(|| {
                    let mut won = 0;
                    while won < ROUNDS {
                        let stands = client.get(&path).with_status(200);
                        let length = stands.json()["properties"]["length_m"].as_f64().unwrap();
                        let patch =
                            json!({ "properties": { "length_m": ((length + 0.001) * 1e6).round() / 1e6 } });
                        let tag = etag(&stands);
                        let headers = [("if-match", tag.as_str()), ("content-type", PATCH)];
                        match client
                            .ask("PATCH", &path, &headers, patch.to_string().as_bytes())
                            .status
                        {
                            200 => won += 1,
                            412 | 503 => {
                                refused.fetch_add(1, Ordering::Relaxed);
                            }
                            other => panic!("{other}"),
                        }
                    }
                });
            }
        });
        let stands = cove.server.get(&path).json();
        let wins = (WRITERS * ROUNDS) as f64;
        assert_eq!(stands["properties"]["revision"], 1.0 + wins);
        let length = stands["properties"]["length_m"].as_f64().unwrap();
        assert!((length - (0.3 + wins * 0.001)).abs() < 1e-6, "{length}");
        assert!(refused.load(Ordering::Relaxed) > 0, "nobody met another");
    }
}
