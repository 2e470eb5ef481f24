//! A curator mends single records over HTTP: OGC API Features Part 4.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use tests::story::cove::{Cove, item, print};
use tests::story::{Answer, features, numbers, problem};

const UTM: &str = "http://www.opengis.net/def/crs/EPSG/0/25830";

fn etag(answer: &Answer) -> String {
    answer.header("etag").unwrap().to_owned()
}

#[test]
fn a_print_is_made_read_replaced_patched_and_removed() {
    for cove in [Cove::in_a_file(), Cove::in_a_database()] {
        let made = cove.post("prints", &print("N1", 480_003.25)).with_status(201);
        let path = item("prints", "cove:S1:N1");
        assert_eq!(
            made.header("location").unwrap(),
            format!("{}{path}", cove.server.base())
        );
        assert_eq!(etag(&made), "\"1\"");
        let stands = cove.item("prints", "cove:S1:N1").with_status(200);
        let mut feature = stands.json();
        assert_eq!(feature["properties"]["easting_m"], 480_003.25);
        assert_eq!(feature["properties"]["overlies"], json!(["P0000001"]));
        assert_eq!(feature["properties"]["further"], json!({ "mould": "latex" }));
        // Sent back as it was read it is the same record.
        let same = cove
            .ask("PUT", &path, &[("if-match", "\"1\"")], &feature)
            .with_status(200);
        assert_eq!(etag(&same), "\"1\"");
        feature["properties"]["length_m"] = json!(0.35);
        let replaced = cove
            .ask("PUT", &path, &[("if-match", "\"1\"")], &feature)
            .with_status(200);
        assert_eq!(
            (
                etag(&replaced).as_str(),
                &replaced.json()["properties"]["length_m"]
            ),
            ("\"2\"", &json!(0.35))
        );
        // What comes without a geometry says its place by its coordinates.
        feature["geometry"] = Value::Null;
        let same = cove
            .ask("PUT", &path, &[("if-match", "\"2\"")], &feature)
            .with_status(200);
        assert_eq!(etag(&same), "\"2\"");
        let patch = json!({ "properties": { "side": null, "note": "worn" } });
        let patched = cove
            .ask("PATCH", &path, &[("if-match", "\"2\"")], &patch)
            .with_status(200)
            .json();
        assert_eq!(
            (&patched["properties"]["side"], &patched["properties"]["note"]),
            (&Value::Null, &json!("worn"))
        );
        assert_eq!(
            patched["properties"]["easting_m"], 480_003.25,
            "a place that is not spoken of stays"
        );
        assert_eq!(
            cove.server.get("/collections/prints/items?limit=1").json()["numberMatched"],
            11
        );
        let removed = cove.ask("DELETE", &path, &[("if-match", "\"3\"")], &json!(null));
        assert_eq!(removed.status, 204, "{}", removed.text());
        problem(&cove.item("prints", "cove:S1:N1"), 404);
        assert_eq!(
            cove.server.get("/collections/prints/items?limit=1").json()["numberMatched"],
            10
        );
        let again = cove.post("prints", &print("N1", 480_004.0)).with_status(201);
        assert_eq!(etag(&again), "\"5\"", "it goes on counting");
    }
}

#[test]
fn a_page_that_was_read_before_shows_each_change_at_once() {
    for cove in [Cove::in_a_file(), Cove::in_a_database()] {
        cove.post("prints", &print("N1", 480_003.25)).with_status(201);
        // A box is answered from memory where that is quick; with a filter the same prints are looked for in another way.
        let near = "/collections/prints/items?bbox=480003,4789990,480004,4790010&bbox-crs=http://www.opengis.net/def/crs/EPSG/0/25830";
        let page = |more: &str| features(&cove.server.get(&format!("{near}{more}")).json()).to_vec();
        let first = page("");
        assert!(first.iter().any(|feature| feature["id"] == "cove:S1:N1"));
        for revision in 1..4 {
            let path = item("prints", "cove:S1:N1");
            let patch = json!({ "properties": { "note": format!("looked at {revision} times") } });
            let asked = [("if-match", &*format!("\"{revision}\""))];
            cove.ask("PATCH", &path, &asked, &patch).with_status(200);
            let now = page("");
            let changed = now.iter().find(|feature| feature["id"] == "cove:S1:N1").unwrap();
            assert_eq!(changed["properties"]["revision"], revision + 1);
            assert_eq!(now.len(), first.len());
            assert_eq!(page(""), now);
            assert_eq!(page("&filter=length_m%3E0"), now);
        }
    }
}

#[test]
fn a_place_is_moved_by_its_geometry_in_the_crs_that_is_named() {
    let cove = Cove::in_a_file();
    cove.post("prints", &print("N1", 480_003.25)).with_status(201);
    let path = item("prints", "cove:S1:N1");
    let point = json!({ "geometry": { "type": "Point", "coordinates": [480_010.5, 4_790_002.5] } });
    let crs = format!("<{UTM}>");
    let headers = [("if-match", "*"), ("content-crs", crs.as_str())];
    let moved = cove.ask("PATCH", &path, &headers, &point).with_status(200);
    assert_eq!(moved.header("content-crs"), Some(crs.as_str()));
    let moved = moved.json();
    assert_eq!(
        numbers(&moved["geometry"]["coordinates"]),
        [480_010.5, 4_790_002.5]
    );
    assert_eq!(moved["properties"]["easting_m"], 480_010.5);
    // Latitude first, as the authority of EPSG:4326 has it.
    let stands = cove.item("prints", "cove:S1:N1").json();
    let [lon, lat] = numbers(&stands["geometry"]["coordinates"])[..] else {
        panic!()
    };
    let point = json!({ "geometry": { "type": "Point", "coordinates": [lat + 1e-5, lon] } });
    let headers = [
        ("if-match", "*"),
        ("content-crs", "<http://www.opengis.net/def/crs/EPSG/0/4326>"),
    ];
    let north = cove.ask("PATCH", &path, &headers, &point).with_status(200).json();
    let northing_m = north["properties"]["northing_m"].as_f64().unwrap();
    // 1e-5 degrees of latitude are 1.11 m.
    assert!((northing_m - 4_790_003.61).abs() < 0.02, "{northing_m}");
    let easting = json!({ "properties": { "easting_m": 480_020.0 } });
    let moved = cove
        .ask("PATCH", &path, &[("if-match", "*")], &easting)
        .with_status(200)
        .json();
    assert_eq!(moved["properties"]["easting_m"], 480_020.0);
}

#[test]
fn extents_surfaces_sites_and_trackways_are_edited_too() {
    let cove = Cove::in_a_file();
    let ring = json!([[
        [-3.2460, 43.2640],
        [-3.2450, 43.2640],
        [-3.2450, 43.2650],
        [-3.2460, 43.2640]
    ]]);
    let extent = json!({
        "type": "Feature", "geometry": { "type": "Polygon", "coordinates": ring },
        "properties": { "surface": "cove:S1", "label": "E1", "kind": "exposed", "surveyed_on": "2026-05-01" },
    });
    let made = cove.post("extents", &extent).with_status(201).json();
    let path = item("extents", "cove:S1:E1");
    let same = cove
        .ask("PUT", &path, &[("if-match", "\"1\"")], &made)
        .with_status(200);
    assert_eq!(
        etag(&same),
        "\"1\"",
        "an outline that is sent back is not moved by a rounding"
    );
    let covered = json!({ "properties": { "kind": "covered" } });
    let patched = cove
        .ask("PATCH", &path, &[("if-match", "\"1\"")], &covered)
        .with_status(200);
    assert_eq!(
        (etag(&patched).as_str(), &patched.json()["geometry"]),
        ("\"2\"", &made["geometry"])
    );
    assert_eq!(
        cove.ask("DELETE", &path, &[("if-match", "\"2\"")], &json!(null))
            .status,
        204
    );

    let surface = json!({ "type": "Feature", "geometry": null, "properties": { "site": "cove", "label": "S2", "strike_deg": 118, "dip_deg": 7 } });
    let made = cove.post("surfaces", &surface).with_status(201).json();
    assert_eq!(
        (&made["id"], &made["properties"]["dip_deg"]),
        (&json!("cove:S2"), &json!(7.0))
    );
    let path = item("surfaces", "cove:S2");
    let same = cove
        .ask("PUT", &path, &[("if-match", "\"1\"")], &made)
        .with_status(200);
    assert_eq!(etag(&same), "\"1\"");
    let named = json!({ "properties": { "name": "Upper bed", "strike_deg": null, "dip_deg": null } });
    let named = cove
        .ask("PATCH", &path, &[("if-match", "\"1\"")], &named)
        .with_status(200)
        .json();
    assert_eq!(
        (&named["properties"]["name"], &named["properties"]["dip_deg"]),
        (&json!("Upper bed"), &Value::Null)
    );
    let kept = cove.ask("DELETE", &path, &[("if-match", "\"2\"")], &json!(null));
    problem(&kept, 405);
    assert_eq!(kept.header("allow"), Some("GET, HEAD, PUT, PATCH, OPTIONS"));

    let site = json!({ "type": "Feature", "geometry": null, "properties": { "site": "bay", "crs": "EPSG:32629", "name": "Bay" } });
    let made = cove.post("sites", &site).with_status(201).json();
    assert_eq!(made["properties"]["policy"], "open");
    let path = item("sites", "bay");
    let closed = json!({ "properties": { "policy": "closed" } });
    let closed = cove
        .ask("PATCH", &path, &[("if-match", "\"1\"")], &closed)
        .with_status(200)
        .json();
    assert_eq!(
        (&closed["properties"]["policy"], &closed["properties"]["name"]),
        (&json!("closed"), &json!("Bay"))
    );
    // Nobody opens a site by what he does not say.
    let unsaid = json!({ "type": "Feature", "properties": { "crs": "EPSG:32629", "name": "Bay" } });
    for (method, body) in [
        ("PUT", unsaid),
        ("PATCH", json!({ "properties": { "policy": null } })),
    ] {
        let stands = cove
            .ask(method, &path, &[("if-match", "\"2\"")], &body)
            .with_status(200);
        assert_eq!(stands.json()["properties"]["policy"], "closed", "{method}");
    }
    let moved = json!({ "properties": { "crs": "EPSG:25830" } });
    problem(&cove.ask("PATCH", &path, &[("if-match", "\"2\"")], &moved), 409);

    let trackway = json!({ "type": "Feature", "geometry": null, "properties": {
        "surface": "cove:S1", "trackway": "E1", "prints": ["cove:S1:P0000001", "P0000002", "cove:S1:P0000003"], "note": "by eye",
    }});
    let made = cove.post("trackways", &trackway).with_status(201).json();
    assert_eq!(
        (&made["properties"]["basis"], &made["properties"]["status"]),
        (&json!("editor"), &json!("proposed"))
    );
    assert_eq!(made["geometry"]["coordinates"].as_array().unwrap().len(), 3);
    let path = item("trackways", "cove:S1:E1");
    let accepted = json!({ "properties": { "status": "accepted" } });
    let accepted = cove
        .ask("PATCH", &path, &[("if-match", "\"1\"")], &accepted)
        .with_status(200)
        .json();
    assert_eq!(accepted["properties"]["status"], "accepted");
    let told = problem(
        &cove.ask(
            "DELETE",
            &item("prints", "cove:S1:P0000002"),
            &[("if-match", "*")],
            &json!(null),
        ),
        409,
    );
    assert!(told["detail"].as_str().unwrap().contains("E1"), "{told}");
    assert_eq!(
        cove.ask("DELETE", &path, &[("if-match", "\"2\"")], &json!(null))
            .status,
        204
    );
}

#[test]
fn nobody_overruns_what_he_has_not_seen() {
    let cove = Cove::in_a_file();
    let path = item("prints", "cove:S1:P0000001");
    let patch = json!({ "properties": { "length_m": 0.4 } });
    problem(&cove.ask("PATCH", &path, &[], &patch), 428);
    problem(&cove.ask("DELETE", &path, &[], &json!(null)), 428);
    problem(&cove.ask("PATCH", &path, &[("if-match", "\"2\"")], &patch), 412);
    problem(
        &cove.ask("PATCH", &path, &[("if-match", "nonsense")], &patch),
        400,
    );
    cove.ask("PATCH", &path, &[("if-match", "\"1\"")], &patch)
        .with_status(200);
    problem(&cove.ask("PATCH", &path, &[("if-match", "\"1\"")], &patch), 412);
    let absent = item("prints", "cove:S1:P9999999");
    problem(&cove.ask("PATCH", &absent, &[], &patch), 404);
    problem(&cove.ask("PATCH", &absent, &[("if-match", "\"1\"")], &patch), 412);
    let zipped = [("if-match", "W/\"2-gzip\""), ("accept-encoding", "gzip")];
    cove.ask(
        "PATCH",
        &path,
        &zipped,
        &json!({ "properties": { "length_m": 0.5 } }),
    )
    .with_status(200);
    problem(&cove.post("prints", &print("P0000001", 480_000.0)), 409);
}

#[test]
fn faults_are_those_of_a_sheet_and_nothing_is_stored() {
    let cove = Cove::in_a_file();
    let columns = |answer: &Answer| -> Vec<String> {
        let told = problem(answer, 400);
        let faults = told["faults"].as_array().unwrap_or_else(|| panic!("{told}"));
        faults
            .iter()
            .map(|fault| fault["column"].as_str().unwrap_or_default().to_owned())
            .collect()
    };
    let mut bad = print("N1", 480_003.0);
    bad["properties"]["length_m"] = json!(-3);
    bad["properties"]["side"] = json!("port");
    bad["properties"]["azimuth_deg"] = json!("NaN");
    assert_eq!(
        columns(&cove.post("prints", &bad)),
        ["length_m", "azimuth_deg", "side"]
    );
    bad["properties"] = json!({ "surface": "cove:S1", "print": "N1", "length_m": 0.3 });
    assert_eq!(columns(&cove.post("prints", &bad)), ["geometry"]);
    bad["properties"] = json!({ "surface": "cove:S1", "print": "no label" });
    assert_eq!(columns(&cove.post("prints", &bad)), ["print"]);
    let mut unknown = print("N1", 480_003.0);
    unknown["properties"]["overlies"] = json!(["P77"]);
    assert_eq!(columns(&cove.post("prints", &unknown)), ["overlies"]);
    let trackway = |prints: Value| json!({ "type": "Feature", "geometry": null, "properties": { "surface": "cove:S1", "trackway": "E1", "prints": prints } });
    assert_eq!(columns(&cove.post("trackways", &trackway(json!([])))), ["prints"]);
    assert_eq!(
        columns(&cove.post("trackways", &trackway(json!(["P77"])))),
        ["prints"]
    );
    assert_eq!(
        columns(&cove.post("trackways", &trackway(json!(["P0000001", "P0000001"])))),
        ["prints"]
    );
    let surface = json!({ "type": "Feature", "geometry": null, "properties": { "site": "cove", "label": "S2", "strike_deg": 118, "colour": "red" } });
    assert_eq!(
        columns(&cove.post("surfaces", &surface)),
        ["strike_deg", "colour"]
    );
    let site = json!({ "type": "Feature", "geometry": null, "properties": { "site": "bay", "crs": "EPSG:4326", "policy": "secret" } });
    assert_eq!(columns(&cove.post("sites", &site)), ["crs", "policy"]);
    problem(
        &cove.post("prints", &json!({ "type": "FeatureCollection", "features": [] })),
        400,
    );
    for odd in [
        json!([null, null]),
        json!(null),
        json!(7),
        json!("x"),
        json!({ "type": "Feature", "properties": [] }),
    ] {
        problem(&cove.post("prints", &odd), 400);
        let path = item("prints", "cove:S1:P0000001");
        problem(&cove.ask("PUT", &path, &[("if-match", "*")], &odd), 400);
    }
    for odd in [
        json!([null]),
        json!(null),
        json!({ "properties": 7 }),
        json!({ "geometry": "x" }),
    ] {
        let headers = [
            ("if-match", "*"),
            ("content-crs", "<http://www.opengis.net/def/crs/EPSG/0/4326>"),
        ];
        problem(
            &cove.ask("PATCH", &item("prints", "cove:S1:P0000001"), &headers, &odd),
            400,
        );
    }
    let media = cove
        .server
        .client
        .post("/collections/prints/items", "text/csv", "a,b");
    problem(&media, 415);
    let mut elsewhere = print("N1", 480_003.0);
    elsewhere["properties"]["surface"] = json!("cove:S9");
    problem(&cove.post("prints", &elsewhere), 404);
    let renamed = cove.ask(
        "PUT",
        &item("prints", "cove:S1:P0000001"),
        &[("if-match", "*")],
        &print("N1", 480_003.0),
    );
    assert_eq!(columns(&renamed), ["print"]);
    assert_eq!(
        cove.server.get("/collections/prints/items?limit=1").json()["numberMatched"],
        10
    );
    assert_eq!(
        features(&cove.server.get("/collections/trackways/items").json()).len(),
        0
    );
}

#[test]
fn clients_are_told_what_they_may_do() {
    let cove = Cove::in_a_file();
    let allowed = |path: &str| {
        let answer = cove.server.client.ask("OPTIONS", path, &[], b"");
        assert!(answer.status < 300, "{}", answer.text());
        answer.header("allow").unwrap_or_default().to_owned()
    };
    assert!(allowed("/collections/prints/items").contains("POST"));
    assert!(allowed(&item("prints", "cove:S1:P0000001")).contains("DELETE"));
    assert!(!allowed(&item("sites", "cove")).contains("DELETE"));
    // A client that asks for XML of everything is not refused.
    let headers = [("accept", "text/xml")];
    cove.ask(
        "POST",
        "/collections/prints/items",
        &headers,
        &print("N1", 480_003.0),
    )
    .with_status(201);
    // One that does not name what it sends neither.
    let path = "/collections/prints/items";
    let body = print("N2", 480_004.0).to_string();
    cove.server
        .client
        .ask("POST", path, &[], body.as_bytes())
        .with_status(201);
    let conformance = cove.server.get("/conformance").json().to_string();
    // The URIs are those of the draft's table of conformance classes.
    for class in [
        "create-replace-delete",
        "update",
        "optimistic-locking-etags",
        "features",
    ] {
        let uri = format!("\"http://www.opengis.net/spec/ogcapi-features-4/1.0/conf/{class}\"");
        assert!(conformance.contains(&uri), "{uri}: {conformance}");
    }
}
