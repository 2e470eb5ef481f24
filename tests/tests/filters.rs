//! An analyst filters the layers in CQL2 (OGC API Features Part 3, 19-079r2; CQL2, 21-065r2).
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::{Value, json};
use std::collections::BTreeSet;
use tests::story::{Ledger, Server, features, problem};

const PRINTS: &str = "/collections/prints/items";

fn served(story: impl FnOnce(&Server)) {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    story(&server);
}

/// A text as it stands in an address.
fn encoded(text: &str) -> String {
    let letter = |byte: u8| match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' => char::from(byte).to_string(),
        other => format!("%{other:02X}"),
    };
    text.bytes().map(letter).collect()
}

fn asked(collection: &str, filter: &str) -> String {
    format!(
        "/collections/{collection}/items?limit=10000&filter={}",
        encoded(filter)
    )
}

fn page(server: &Server, path: &str) -> Vec<Value> {
    let page = server.get(path).with_status(200).json();
    let found = features(&page).to_vec();
    assert_eq!(page["numberMatched"], found.len(), "{path}");
    found
}

fn ids(features: &[Value]) -> BTreeSet<String> {
    let id = |feature: &Value| feature["id"].as_str().unwrap().to_owned();
    features.iter().map(id).collect()
}

fn all(server: &Server, collection: &str) -> Vec<Value> {
    page(server, &format!("/collections/{collection}/items?limit=10000"))
}

fn number(feature: &Value, name: &str) -> Option<f64> {
    feature["properties"][name].as_f64()
}

#[test]
fn each_collection_tells_what_it_can_be_filtered_by() {
    served(|server| {
        let declared = server.get("/conformance").with_status(200).json();
        for class in ["ogcapi-features-3/1.0/conf/filter", "cql2/1.0/conf/basic-cql2"] {
            let uri = format!("http://www.opengis.net/spec/{class}");
            assert!(
                declared["conformsTo"].as_array().unwrap().contains(&json!(uri)),
                "{uri}"
            );
        }
        for collection in ["sites", "surfaces", "extents", "prints", "trackways"] {
            let about = server
                .get(&format!("/collections/{collection}"))
                .with_status(200)
                .json();
            let rel = "http://www.opengis.net/def/rel/ogc/1.0/queryables";
            let link = about["links"]
                .as_array()
                .unwrap()
                .iter()
                .find(|link| link["rel"] == rel);
            let told = server
                .get(link.unwrap()["href"].as_str().unwrap())
                .with_status(200);
            assert_eq!(told.media(), "application/schema+json");
            let told = told.json();
            assert_eq!(told["type"], "object", "{collection}");
            for (name, schema) in told["properties"].as_object().unwrap() {
                let asks = if name == "geometry" {
                    assert!(schema["format"].as_str().unwrap().starts_with("geometry-"));
                    "S_INTERSECTS(geometry, BBOX(-180, -90, 180, 90))".to_owned()
                } else {
                    format!("\"{name}\" IS NULL OR \"{name}\" IS NOT NULL")
                };
                assert!(!page(server, &asked(collection, &asks)).is_empty(), "{name}");
            }
        }
    });
}

#[test]
fn a_filter_takes_what_the_analyst_would_pick_by_hand() {
    served(|server| {
        let prints = all(server, "prints");
        let is = |feature: &Value, name: &str, value: &str| feature["properties"][name] == value;
        type Holds<'a> = Box<dyn Fn(&Value) -> bool + 'a>;
        let cases: Vec<(&str, Holds)> = vec![
            ("side = 'left'", Box::new(|print| is(print, "side", "left"))),
            (
                "NOT side = 'left'",
                Box::new(|print| !print["properties"]["side"].is_null() && !is(print, "side", "left")),
            ),
            (
                "length_m BETWEEN 0.2 AND 0.3 AND CASEI(limb) = CASEI('PES')",
                Box::new(|print| {
                    let length = number(print, "length_m");
                    length.is_some_and(|m| (0.2..=0.3).contains(&m)) && is(print, "limb", "pes")
                }),
            ),
            (
                "azimuth_deg IS NULL OR width_m > length_m",
                Box::new(|print| {
                    let [width, length] = ["width_m", "length_m"].map(|name| number(print, name));
                    print["properties"]["azimuth_deg"].is_null()
                        || width.zip(length).is_some_and(|(width, length)| width > length)
                }),
            ),
            (
                "print LIKE 'P%1' AND side IN ('left', 'right')",
                Box::new(|print| {
                    let label = print["properties"]["print"].as_str().unwrap();
                    label.starts_with('P')
                        && label.ends_with('1')
                        && (is(print, "side", "left") || is(print, "side", "right"))
                }),
            ),
        ];
        for (filter, holds) in cases {
            let by_hand: Vec<Value> = prints.iter().filter(|print| holds(print)).cloned().collect();
            assert!(
                !by_hand.is_empty() && by_hand.len() < prints.len(),
                "{filter} is no choice"
            );
            assert_eq!(
                ids(&page(server, &asked("prints", filter))),
                ids(&by_hand),
                "{filter}"
            );
        }
    });
}

#[test]
fn both_languages_and_every_other_choice_go_together() {
    served(|server| {
        let text = page(server, &asked("prints", "side = 'left' AND length_m > 0.25"));
        let tree = json!({"op": "and", "args": [
            {"op": "=", "args": [{"property": "side"}, "left"]},
            {"op": ">", "args": [{"property": "length_m"}, 0.25]},
        ]});
        let in_json = format!("{}&filter-lang=cql2-json", asked("prints", &tree.to_string()));
        assert_eq!(ids(&page(server, &in_json)), ids(&text));
        let here = text[0]["properties"]["surface"].as_str().unwrap();
        let filter = "side = 'left' AND length_m > 0.25";
        let of_surface = page(server, &format!("{}&surface={here}", asked("prints", filter)));
        let by_hand = text.iter().filter(|print| print["properties"]["surface"] == here);
        assert_eq!(ids(&of_surface), ids(&by_hand.cloned().collect::<Vec<_>>()));
        assert!(of_surface.len() < text.len());
    });
}

/// Page by page along the `next` links: they keep the filter.
#[test]
fn pages_keep_the_filter() {
    served(|server| {
        let whole = ids(&page(server, &asked("prints", "side = 'left'")));
        let mut walked = BTreeSet::new();
        let mut next = Some(format!("{PRINTS}?limit=50&filter={}", encoded("side = 'left'")));
        while let Some(path) = next {
            let page = server.get(&path).with_status(200).json();
            for id in ids(features(&page)) {
                assert!(walked.insert(id), "a page repeats a record");
            }
            let links = page["links"].as_array().unwrap();
            let link = links.iter().find(|link| link["rel"] == "next");
            next = link.map(|link| link["href"].as_str().unwrap().to_owned());
        }
        assert_eq!(walked, whole);
    });
}

/// What is read in one answer can be asked for in the next, in its own CRS and order of axes.
#[test]
fn places_are_given_in_the_crs_of_the_filter() {
    served(|server| {
        let site = all(server, "sites");
        let code = site[0]["properties"]["crs"]
            .as_str()
            .unwrap()
            .replace("EPSG:", "EPSG/0/");
        let uri = format!("http://www.opengis.net/def/crs/{code}");
        let of_site = site[0]["id"].as_str().unwrap();
        let list = format!("{PRINTS}?site={of_site}&limit=10000");
        let projected = page(server, &format!("{list}&crs={uri}"));
        let at = &projected[7]["geometry"]["coordinates"];
        let [x, y] = [0, 1].map(|axis| at[axis].as_f64().unwrap());
        let filter = format!(
            "S_INTERSECTS(geometry, BBOX({}, {}, {}, {}))",
            x - 0.01,
            y - 0.01,
            x + 0.01,
            y + 0.01
        );
        let found = page(server, &format!("{}&filter-crs={uri}", asked("prints", &filter)));
        assert!(ids(&found).contains(projected[7]["id"].as_str().unwrap()));
        let inside = |print: &&Value| {
            let at = &print["geometry"]["coordinates"];
            (at[0].as_f64().unwrap() - x).abs() <= 0.01 && (at[1].as_f64().unwrap() - y).abs() <= 0.01
        };
        let by_hand: Vec<Value> = projected.iter().filter(inside).cloned().collect();
        assert_eq!(ids(&found), ids(&by_hand));
        let plain = page(server, &list);
        let [lon, lat] = [0, 1].map(|axis| plain[7]["geometry"]["coordinates"][axis].as_f64().unwrap());
        let found = page(
            server,
            &asked("prints", &format!("S_EQUALS(geometry, POINT({lon} {lat}))")),
        );
        assert!(ids(&found).contains(plain[7]["id"].as_str().unwrap()));
    });
}

#[test]
fn wrong_filters_are_told_where_they_are_wrong() {
    served(|server| {
        for (query, words) in [
            (format!("filter={}", encoded("lenght_m > 1")), "length_m"),
            (format!("filter={}", encoded("length_m >")), "character"),
            (format!("filter={}", encoded("length_m > 'long'")), "a number"),
            (
                format!("filter={}&filter-lang=cql2-json", encoded("side = 'left'")),
                "JSON",
            ),
            ("filter=side='left'&filter-lang=sql".to_owned(), "cql2-text"),
            (
                format!("filter={}&filter-crs=EPSG:1", encoded("side = 'left'")),
                "filter-crs",
            ),
            (format!("filter={}", "(".repeat(3000)), "levels"),
        ] {
            let said = problem(&server.get(&format!("{PRINTS}?{query}")), 400);
            assert!(
                said["detail"].as_str().unwrap().contains(words),
                "{query}: {said}"
            );
        }
    });
}
