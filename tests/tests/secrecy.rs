//! Strangers learn nothing of places that are held back.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::{Ledger, Server, features, numbers, problem, walk};

const URL: &str = "https://tracks.example";

/// An open site in Spain; a generalised one and a closed one far to the west of it.
fn consortium() -> Ledger {
    let ledger = Ledger::new();
    ledger.add_site("open-cove", "EPSG:25830", &[]);
    ledger.add_site("shut-cove", "EPSG:32628", &["--policy", "closed"]);
    ledger.add_site("vague-cove", "EPSG:32629", &["--policy", "generalised"]);
    for site in ["open-cove", "shut-cove", "vague-cove"] {
        ledger.import(site, "sheet.csv", walk("S1", 0, 30)).done();
        ledger.run(&["trackways", "propose", site]).done();
    }
    ledger
}

fn ids(server: &Server, path: &str) -> Vec<String> {
    let collection = server.get(path).with_status(200).json();
    let own = |feature: &Value| feature["id"].as_str().unwrap().to_owned();
    features(&collection).iter().map(own).collect()
}

#[test]
fn without_tokens_other_machines_may_only_read() {
    let ledger = consortium();
    for listen in ["0.0.0.0:0", "[::]:0"] {
        let ran = ledger.run(&["serve", "--listen", listen]);
        assert_eq!(ran.code, 1, "{listen}: {ran:?}");
        assert!(ran.err.contains("--read-only"), "{listen}: {}", ran.err);
    }
    let ran = ledger.run(&[
        "serve",
        "--listen",
        "127.0.0.1:0",
        "--public-url",
        "tracks.example",
    ]);
    assert_eq!(ran.code, 1, "{ran:?}");
}

#[test]
fn the_people_of_this_machine_see_everything() {
    let ledger = consortium();
    let server = ledger.serve(&[]);
    assert_eq!(
        ids(&server, "/collections/sites/items"),
        ["open-cove", "shut-cove", "vague-cove"]
    );
}

#[test]
fn held_back_sites_are_nowhere() {
    let ledger = consortium();
    let server = ledger.serve(&["--public-url", URL]);
    assert_eq!(
        ids(&server, "/collections/sites/items"),
        ["open-cove", "vague-cove"]
    );
    problem(&server.get("/collections/sites/items/shut-cove"), 404);
    server.get("/collections/sites/items/vague-cove").with_status(200);
    assert_eq!(ids(&server, "/collections/surfaces/items"), ["open-cove:S1"]);
    for collection in ["prints", "trackways"] {
        let path = format!("/collections/{collection}/items?limit=1000");
        let found = ids(&server, &path);
        assert!(!found.is_empty(), "{collection}");
        assert!(found.iter().all(|id| id.starts_with("open-cove:")), "{found:?}");
    }
    assert_eq!(
        server.get("/collections/prints/items?limit=1").json()["numberMatched"],
        30
    );
    for site in ["shut-cove", "vague-cove"] {
        for path in [
            format!("/collections/surfaces/items/{site}:S1"),
            format!("/collections/prints/items/{site}:S1:P0000001"),
            format!("/surfaces/{site}:S1/plan.svg"),
            format!("/queries/nearest?surface={site}:S1&at=-9,43"),
            format!("/queries/grouping?surface={site}:S1"),
        ] {
            let told = problem(&server.get(&path), 404);
            let absent = problem(&server.get(&path.replace(site, "no-cove")), 404);
            assert_eq!(
                told.to_string().replace(site, "no-cove"),
                absent.to_string(),
                "the answer tells a held-back site from none"
            );
        }
        for collection in ["surfaces", "prints", "trackways", "extents"] {
            let path = format!("/collections/{collection}/items?site={site}");
            assert_eq!(ids(&server, &path), [""; 0], "{path}");
            assert_eq!(server.get(&path).json()["numberMatched"], 0, "{path}");
        }
    }
}

#[test]
fn boxes_and_lists_of_crss_do_not_give_them_away() {
    let ledger = consortium();
    let server = ledger.serve(&["--public-url", URL]);
    let collections = server.get("/collections").with_status(200).json();
    for collection in collections["collections"].as_array().unwrap() {
        let bbox = numbers(&collection["extent"]["spatial"]["bbox"][0]);
        // Easting 480 km of zone 30 (central meridian 3° W) lies west of it by 20 km, a quarter of a degree; the cell
        // of the generalised site lies so west of 9° W.
        let west = if collection["id"] == "sites" { -9.5 } else { -3.5 };
        assert!(bbox[0] > west && bbox[2] < -3.0, "{bbox:?}");
    }
    assert!(!collections.to_string().contains("32628"));
    let crs = "http://www.opengis.net/def/crs/EPSG/0/32628";
    problem(&server.get(&format!("/collections/prints/items?crs={crs}")), 400);
    // Zones 28 and 29 are centred at 15° W and 9° W: where the held-back prints lie.
    let there = ids(&server, "/collections/prints/items?bbox=-16,40,-8,45");
    assert_eq!(there, [""; 0]);
    for path in [
        "/",
        "/api",
        "/queries",
        "/collections",
        "/collections/sites/items?f=html",
    ] {
        let page = server.get(path).with_status(200);
        assert!(!page.text().contains("shut-cove"), "{path} names it");
    }
}

#[test]
fn strangers_change_nothing_and_links_start_with_the_public_address() {
    let ledger = consortium();
    let server = ledger.serve(&["--public-url", URL]);
    for site in ["open-cove", "shut-cove", "no-cove"] {
        let path = format!("/sites/{site}/imports");
        problem(&server.client.post(&path, "text/csv", walk("S1", 50, 3)), 403);
    }
    let forged = [("host", "evil.example"), ("x-forwarded-host", "evil.example")];
    let page = server
        .client
        .get_with("/collections/prints/items?limit=5", &forged);
    let page = page.with_status(200).json();
    let links = page["links"].as_array().unwrap();
    assert!(links.iter().any(|link| link["rel"] == json!("next")));
    for link in links {
        assert!(
            link["href"].as_str().unwrap().starts_with(&format!("{URL}/")),
            "{link}"
        );
    }
}

#[test]
fn pages_of_strangers_in_a_browser_of_this_machine_see_what_strangers_see() {
    let ledger = consortium();
    let server = ledger.serve(&[]);
    for (header, value) in [
        ("origin", "https://evil.example"),
        ("origin", "null"),
        ("host", "evil.example"),
    ] {
        let sites = server
            .client
            .get_with("/collections/sites/items", &[(header, value)])
            .with_status(200)
            .json();
        let seen: Vec<&str> = features(&sites)
            .iter()
            .map(|site| site["id"].as_str().unwrap())
            .collect();
        assert_eq!(seen, ["open-cove", "vague-cove"], "{header}: {value}");
        let shut = server
            .client
            .get_with("/surfaces/shut-cove:S1/plan.svg", &[(header, value)]);
        problem(&shut, 404);
        let media = ("content-type", "text/csv");
        let post = server.client.ask(
            "POST",
            "/sites/open-cove/imports",
            &[(header, value), media],
            walk("S1", 0, 3).as_bytes(),
        );
        problem(&post, 403);
    }
    let own = server
        .client
        .get_with("/collections/sites/items", &[("origin", server.base())])
        .json();
    assert_eq!(features(&own).len(), 3, "a page of this machine");
}
