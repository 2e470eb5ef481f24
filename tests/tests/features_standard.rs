//! OGC API Features Parts 1 and 2 as a client meets them: documents, links, forms and manners.
//!
//! Requirements are those of OGC 17-069r4 (Part 1, 1.0.1) and OGC 18-058r1 (Part 2, 1.0.1).
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use std::collections::BTreeSet;
use tests::story::{Ledger, Schema, Server, features, problem};

const COLLECTIONS: [&str; 5] = ["sites", "surfaces", "extents", "prints", "trackways"];

fn served(story: impl FnOnce(&Server)) {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    story(&server);
}

fn link<'l>(document: &'l Value, rel: &str, media: &str) -> &'l str {
    let links = document["links"]
        .as_array()
        .unwrap_or_else(|| panic!("no links: {document}"));
    let mut found = links
        .iter()
        .filter(|link| link["rel"] == rel && link["type"].as_str().is_some_and(|t| t.starts_with(media)));
    let link = found
        .next()
        .unwrap_or_else(|| panic!("no {rel} of {media} in {links:?}"));
    link["href"].as_str().unwrap()
}

fn one_id(server: &Server, collection: &str) -> String {
    let page = server.get(&format!("/collections/{collection}/items?limit=1"));
    let page = page.with_status(200).json();
    features(&page)[0]["id"].as_str().unwrap().to_owned()
}

#[test]
fn the_landing_page_leads_to_everything() {
    served(|server| {
        let landing = server.get("/").with_status(200);
        assert_eq!(landing.media(), "application/json");
        let landing = landing.json();
        Schema::of("features-1-1.0.1/landingPage.json").fits(&landing);
        for (rel, media) in [
            ("self", "application/json"),
            ("alternate", "text/html"),
            ("service-desc", "application/vnd.oai.openapi+json;version=3.0"),
            ("service-doc", "text/html"),
            ("conformance", "application/json"),
            ("data", "application/json"),
        ] {
            let answer = server.get(link(&landing, rel, media)).with_status(200);
            let essence = media.split(';').next().unwrap();
            assert_eq!(answer.media(), essence, "{rel}");
        }
    });
}

#[test]
fn it_conforms_to_what_it_says() {
    served(|server| {
        let declared = server.get("/conformance").with_status(200).json();
        Schema::of("features-1-1.0.1/confClasses.json").fits(&declared);
        let declared = declared["conformsTo"].as_array().unwrap();
        for class in [
            "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
            "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
            "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/html",
            "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/oas30",
            "http://www.opengis.net/spec/ogcapi-features-2/1.0/conf/crs",
        ] {
            assert!(declared.contains(&json!(class)), "{class} is missing");
        }
    });
}

#[test]
fn the_definition_is_openapi_3_0() {
    served(|server| {
        let answer = server.get("/api").with_status(200);
        assert_eq!(
            answer.header("content-type"),
            Some("application/vnd.oai.openapi+json;version=3.0")
        );
        let api = answer.json();
        Schema::of("openapi/oas30.json").fits(&api);
        assert!(api["openapi"].as_str().unwrap().starts_with("3.0."));
        for collection in COLLECTIONS {
            let items = &api["paths"][format!("/collections/{collection}/items")]["get"];
            assert!(items.is_object(), "{collection} has no path of its own");
            let parameters = items["parameters"].as_array().unwrap();
            for name in ["limit", "bbox", "datetime", "crs", "bbox-crs"] {
                let parameter = parameters
                    .iter()
                    .map(|parameter| resolved(&api, parameter))
                    .find(|parameter| parameter["name"] == name)
                    .unwrap_or_else(|| panic!("{collection} has no {name}"));
                assert_eq!(parameter["in"], "query");
                assert!(parameter["required"] != true, "{parameter}");
            }
        }
        let limit = &api["components"]["parameters"]["limit"]["schema"];
        assert!(
            limit["minimum"] == 1 && limit["maximum"].is_u64() && limit["default"].is_u64(),
            "{limit}"
        );
        let bbox = &api["components"]["parameters"]["bbox"];
        assert_eq!(bbox["schema"]["minItems"], 4, "{bbox}");
        assert_eq!(bbox["schema"]["maxItems"], 6, "{bbox}");
        assert_eq!(
            (&bbox["style"], &bbox["explode"]),
            (&json!("form"), &json!(false))
        );
    });
}

fn resolved<'a>(api: &'a Value, parameter: &'a Value) -> &'a Value {
    match parameter["$ref"].as_str() {
        Some(pointer) => api.pointer(pointer.strip_prefix('#').unwrap()).unwrap(),
        None => parameter,
    }
}

#[test]
fn every_path_of_the_definition_is_there_and_declares_its_answer() {
    served(|server| {
        let api = server.get("/api").json();
        for (path, operations) in api["paths"].as_object().unwrap() {
            let at = with_real_ids(server, path);
            for (method, operation) in operations.as_object().unwrap() {
                // One of several inputs is required there, which a definition cannot say.
                let mut query = match path.as_str() {
                    "/queries/gait" | "/queries/headings" => "?surface=gannet-ledge:S1".to_owned(),
                    "/queries/speed" => "?hip_height_m=1.93".to_owned(),
                    "/queries/detectability" => "?material=limestone".to_owned(),
                    _ => String::new(),
                };
                for parameter in operation["parameters"].as_array().into_iter().flatten() {
                    let parameter = resolved(&api, parameter);
                    if parameter["in"] == "query" && parameter["required"] == true {
                        let value = match parameter["name"].as_str().unwrap() {
                            "surface" => "gannet-ledge:S1",
                            "at" => "-3.655,43.474",
                            "trackway" => "gannet-ledge:S2:T1",
                            "stride_m" => "2.7",
                            "frequency_mhz" => "400",
                            "depth_m" => "0.5",
                            other => panic!("{path} needs {other}"),
                        };
                        let glue = if query.is_empty() { '?' } else { '&' };
                        query.push_str(&format!("{glue}{}={value}", parameter["name"].as_str().unwrap()));
                    }
                }
                let media = [("content-type", "text/csv")];
                let answer = server
                    .client
                    .ask(&method.to_uppercase(), &format!("{at}{query}"), &media, b"");
                let expected: &[u16] = match (method.as_str(), path.as_str()) {
                    ("get", _) | ("delete", "/jobs/{job}") | (_, "/surfaces/{surface}/proposals") => &[200],
                    // An empty sheet; inputs that are no JSON; a judgement on what nobody has seen.
                    _ => &[400, 415, 428],
                };
                assert!(
                    expected.contains(&answer.status),
                    "{method} {path}: {}",
                    answer.text()
                );
                let declared = &operation["responses"][answer.status.to_string()];
                assert!(
                    declared.is_object(),
                    "{method} {path} does not declare {}",
                    answer.status
                );
                if method == "get" {
                    let content = declared["content"].as_object().unwrap();
                    let told = answer.header("content-type").unwrap();
                    assert!(
                        content.contains_key(told),
                        "{path} answers {told}, not of {content:?}"
                    );
                }
            }
        }
    });
}

/// A job with a result.
fn done_job(server: &Server) -> String {
    let body = r#"{ "inputs": { "stride_m": 2.7, "hip_height_m": 1.93 } }"#;
    let headers = [("content-type", "application/json"), ("prefer", "respond-async")];
    let at = "/processes/speed/execution";
    let accepted = server.client.ask("POST", at, &headers, body.as_bytes());
    let job = accepted.json()["jobID"].as_str().unwrap().to_owned();
    while server.get(&format!("/jobs/{job}")).json()["status"] != "successful" {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    job
}

fn with_real_ids(server: &Server, path: &str) -> String {
    let mut at = path
        .replace("{surface}", "gannet-ledge:S1")
        .replace("{trackway}", "gannet-ledge:S1:G1")
        .replace("{site}", "gannet-ledge")
        .replace("{file}", "map.js");
    if at.contains("{id}") {
        let collection = at.split('/').nth(2).unwrap().to_owned();
        at = at.replace("{id}", &one_id(server, &collection));
    }
    if at.contains("{job}") {
        at = at.replace("{job}", &done_job(server));
    }
    assert!(!at.contains('{'), "{path} has a parameter that is not known here");
    at
}

#[test]
fn the_collections_describe_themselves() {
    served(|server| {
        let all = server.get("/collections").with_status(200).json();
        Schema::of("features-1-1.0.1/collections.json").fits(&all);
        Schema::of("features-2-1.0.1/collections.json").fits(&all);
        link(&all, "self", "application/json");
        link(&all, "alternate", "text/html");
        let listed = all["collections"].as_array().unwrap();
        let ids: Vec<&str> = listed.iter().map(|one| one["id"].as_str().unwrap()).collect();
        assert_eq!(ids, COLLECTIONS);
        for described in listed {
            let id = described["id"].as_str().unwrap();
            let own = server.get(&format!("/collections/{id}")).with_status(200).json();
            Schema::of("features-1-1.0.1/collection.json").fits(&own);
            Schema::of("features-2-1.0.1/collection.json").fits(&own);
            assert_eq!(own, *described, "the two resources must agree");
            assert_eq!(own["itemType"], "feature");
            assert_eq!(own["crs"][0], "http://www.opengis.net/def/crs/OGC/1.3/CRS84");
            assert!(own["title"].is_string() && own["description"].is_string());
            assert!(own["extent"]["spatial"]["bbox"][0].is_array(), "{own}");
            for (rel, media) in [
                ("items", "application/geo+json"),
                ("items", "text/html"),
                ("self", "application/json"),
            ] {
                let answer = server.get(link(&own, rel, media)).with_status(200);
                assert_eq!(answer.media(), media, "{id} {rel}");
            }
        }
        problem(&server.get("/collections/bones"), 404);
    });
}

#[test]
fn features_are_geojson_of_the_standard() {
    served(|server| {
        let page_of_the_standard = Schema::of("features-1-1.0.1/featureCollectionGeoJSON.json");
        let one_of_the_standard = Schema::of("features-1-1.0.1/featureGeoJSON.json");
        let (geojson, one_geojson) = (Schema::geojson(), Schema::of("geojson-rfc7946/Feature.json"));
        for collection in COLLECTIONS {
            let answer = server.get(&format!("/collections/{collection}/items?limit=10000"));
            assert_eq!(answer.media(), "application/geo+json");
            let page = answer.with_status(200).json();
            page_of_the_standard.fits(&page);
            geojson.fits(&page);
            assert_eq!(page["numberReturned"], features(&page).len());
            assert_eq!(page["numberMatched"], page["numberReturned"]);
            link(&page, "self", "application/geo+json");
            link(&page, "alternate", "text/html");
            let names = |feature: &Value| -> Vec<String> {
                feature["properties"]
                    .as_object()
                    .unwrap()
                    .keys()
                    .cloned()
                    .collect()
            };
            let first = names(&features(&page)[0]);
            let mut seen = BTreeSet::new();
            for feature in features(&page) {
                assert_eq!(names(feature), first, "every property is always there");
                let id = feature["id"].as_str().unwrap();
                assert!(seen.insert(id.to_owned()), "{id} comes twice");
            }
            let id = one_id(server, collection);
            let answer = server.get(&format!("/collections/{collection}/items/{id}"));
            assert_eq!(answer.media(), "application/geo+json");
            assert!(answer.header("etag").is_some());
            let one = answer.with_status(200).json();
            one_of_the_standard.fits(&one);
            one_geojson.fits(&one);
            assert_eq!(one["id"], id.as_str());
            for (member, expected) in [
                ("geometry", &features(&page)[0]["geometry"]),
                ("properties", &features(&page)[0]["properties"]),
            ] {
                assert_eq!(one[member], *expected, "{id}");
            }
            for (rel, media) in [
                ("self", "application/geo+json"),
                ("alternate", "text/html"),
                ("collection", "application/json"),
            ] {
                let answer = server.get(link(&one, rel, media)).with_status(200);
                assert_eq!(answer.media(), media, "{id} {rel}");
            }
        }
    });
}
