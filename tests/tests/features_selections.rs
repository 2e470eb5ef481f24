//! What a client selects: boxes, times, properties, pages; and what it is told when it asks wrongly.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::Value;
use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use tests::story::{Client, Ledger, Server, features, numbers, problem, walk};

const PRINTS: &str = "/collections/prints/items";
const DEMO_PRINTS: usize = 897;

fn served(story: impl FnOnce(&Server)) {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    story(&server);
}

fn all(server: &Server, collection: &str) -> Vec<Value> {
    let page = server.get(&format!("/collections/{collection}/items?limit=10000"));
    features(&page.with_status(200).json()).to_vec()
}

fn id(feature: &Value) -> String {
    feature["id"].as_str().unwrap().to_owned()
}

/// The ids of a selection that fits one page, and whether the counts are told rightly.
fn selected(server: &Server, path: &str) -> BTreeSet<String> {
    let glue = if path.contains('?') { '&' } else { '?' };
    let page = server
        .get(&format!("{path}{glue}limit=10000"))
        .with_status(200)
        .json();
    let ids: BTreeSet<String> = features(&page).iter().map(id).collect();
    assert_eq!(page["numberReturned"], ids.len(), "{path}");
    assert_eq!(page["numberMatched"], ids.len(), "{path}");
    ids
}

/// The ids of the features for which this holds.
fn ids_where(features: &[Value], holds: impl Fn(&Value) -> bool) -> BTreeSet<String> {
    features.iter().filter(|feature| holds(feature)).map(id).collect()
}

/// Every id of a selection, page by page along the `next` links.
fn paged(client: &Client, first: &str) -> Vec<String> {
    let mut ids = Vec::new();
    let mut next = Some(first.to_owned());
    while let Some(path) = next {
        let page = client.get(&path).with_status(200).json();
        ids.extend(features(&page).iter().map(id));
        let links = page["links"].as_array().unwrap();
        let link = links.iter().find(|link| link["rel"] == "next");
        next = link.map(|link| link["href"].as_str().unwrap().to_owned());
        assert!(
            next.is_none() || !features(&page).is_empty(),
            "an empty page leads on"
        );
    }
    ids
}

#[test]
fn a_box_of_four_or_six_numbers_holds_what_a_loop_finds() {
    served(|server| {
        let prints = all(server, "prints");
        assert_eq!(prints.len(), DEMO_PRINTS);
        let at = |feature: &Value| numbers(&feature["geometry"]["coordinates"]);
        let mut boxes = vec![[-180.0, -90.0, 180.0, 90.0], [0.0, 0.0, 1.0, 1.0]];
        for print in prints.iter().step_by(111) {
            let [lon, lat] = at(print)[..] else {
                panic!("{print}")
            };
            boxes.push([lon - 5e-5, lat - 4e-5, lon + 6e-5, lat + 3e-5]);
        }
        for [west, south, east, north] in boxes {
            let inside = |feature: &Value| {
                let [lon, lat] = at(feature)[..] else {
                    panic!("{feature}")
                };
                (west..=east).contains(&lon) && (south..=north).contains(&lat)
            };
            let flat = selected(server, &format!("{PRINTS}?bbox={west},{south},{east},{north}"));
            let high = selected(
                server,
                &format!("{PRINTS}?bbox={west},{south},-100,{east},{north},9000"),
            );
            assert_eq!(flat, high);
            assert_eq!(flat, ids_where(&prints, inside), "{west},{south},{east},{north}");
        }
    });
}

#[test]
fn a_box_may_be_in_any_crs_that_is_offered_in_its_own_order_of_axes() {
    served(|server| {
        for (site, crs, northing_first) in [
            ("gannet-ledge", 25830, false),
            ("heron-bend", 32736, false),
            ("tussock-quarry", 2193, true),
        ] {
            let prints: Vec<Value> = all(server, "prints");
            let of_site = |print: &Value| print["properties"]["site"] == site;
            let number = |print: &Value, name: &str| print["properties"][name].as_f64().unwrap();
            let middle = prints.iter().filter(|print| of_site(print)).nth(50).unwrap();
            let (e, n) = (number(middle, "easting_m"), number(middle, "northing_m"));
            let [west, south, east, north] = [e - 4.0, n - 3.0, e + 2.5, n + 5.0];
            let corners = if northing_first {
                [south, west, north, east]
            } else {
                [west, south, east, north]
            };
            let corners = corners.map(|corner| corner.to_string()).join(",");
            let uri = format!("http://www.opengis.net/def/crs/EPSG/0/{crs}");
            let found = selected(server, &format!("{PRINTS}?bbox={corners}&bbox-crs={uri}"));
            let expected = ids_where(&prints, |print| {
                of_site(print)
                    && (west..=east).contains(&number(print, "easting_m"))
                    && (south..=north).contains(&number(print, "northing_m"))
            });
            assert!(expected.len() > 1 && expected.len() < 100);
            assert_eq!(found, expected, "{crs}");
        }
        let (lonlat, latlon) = ("-3.7,43.4,-3.6,43.5", "43.4,-3.7,43.5,-3.6");
        let epsg_4326 = "http://www.opengis.net/def/crs/EPSG/0/4326";
        let in_spain = selected(server, &format!("{PRINTS}?bbox={lonlat}"));
        assert_eq!(in_spain.len(), 244);
        assert_eq!(
            selected(server, &format!("{PRINTS}?bbox={latlon}&bbox-crs={epsg_4326}")),
            in_spain
        );
        let wrong = format!("{PRINTS}?bbox={lonlat}&bbox-crs=http://www.opengis.net/def/crs/EPSG/0/27700");
        problem(&server.get(&wrong), 400);
    });
}

#[test]
fn a_box_may_cross_the_antimeridian() {
    served(|server| {
        // From New Zealand at 168° E eastward across 180° to the Azores at 25° W, and further to Spain.
        let to_the_azores = selected(server, &format!("{PRINTS}?bbox=160,-60,-25,60"));
        assert_eq!(to_the_azores.len(), 275);
        assert!(to_the_azores.iter().all(|id| id.starts_with("tussock-quarry:")));
        let to_spain = selected(server, &format!("{PRINTS}?bbox=160,-60,0,60"));
        assert_eq!(to_spain.len(), 275 + 244);
        assert_eq!(
            selected(server, "/collections/sites/items?bbox=160,-60,0,60").len(),
            2
        );
        assert_eq!(
            selected(server, &format!("{PRINTS}?bbox=170,-60,-170,60")).len(),
            0
        );
    });
}

#[test]
fn a_box_selects_sites_surfaces_extents_and_trackways_too() {
    served(|server| {
        for collection in ["sites", "surfaces", "extents", "trackways"] {
            let path = format!("/collections/{collection}/items");
            let in_spain = selected(server, &format!("{path}?bbox=-4,43,-3,44"));
            let of_site = |feature: &Value| feature["properties"]["site"] == "gannet-ledge";
            assert_eq!(
                in_spain,
                ids_where(&all(server, collection), of_site),
                "{collection}"
            );
            assert!(!in_spain.is_empty());
        }
    });
}

#[test]
fn days_and_intervals_select_what_has_a_time() {
    served(|server| {
        for (collection, column) in [("prints", "observed_on"), ("extents", "surveyed_on")] {
            let everything = all(server, collection);
            let path = format!("/collections/{collection}/items");
            for (asked, from, to) in [
                ("2026-03-21", "2026-03-21", "2026-03-21"),
                ("2026-03-21T09:30:00Z", "2026-03-21", "2026-03-21"),
                ("2026-05-01/2026-05-31", "2026-05-01", "2026-05-31"),
                (
                    "2026-05-01T00:00:00Z/2026-12-31T00:00:00Z",
                    "2026-05-01",
                    "2026-12-31",
                ),
                ("2026-05-01/..", "2026-05-01", "9999-12-31"),
                ("../2026-05-01", "0000-01-01", "2026-05-01"),
                ("/2026-05-01", "0000-01-01", "2026-05-01"),
                ("1999-01-01", "1999-01-01", "1999-01-01"),
            ] {
                // Part 1, 7.15.4: what has no time matches.
                let expected = ids_where(&everything, |feature| {
                    let day = feature["properties"][column].as_str();
                    day.is_none_or(|day| (from..=to).contains(&day))
                });
                let found = selected(server, &format!("{path}?datetime={asked}"));
                assert_eq!(found, expected, "{collection} {asked}");
            }
        }
        assert!(selected(server, &format!("{PRINTS}?datetime=1999-01-01")).len() < DEMO_PRINTS);
    });
}

#[test]
fn properties_select_alone_and_together() {
    served(|server| {
        let prints = all(server, "prints");
        let is =
            |name: &'static str, value: &'static str| move |print: &Value| print["properties"][name] == value;
        for (name, value) in [
            ("site", "heron-bend"),
            ("surface", "gannet-ledge:S2"),
            ("morphotype", "long-footed"),
            ("side", "left"),
            ("limb", "manus"),
            ("observed_on", "2026-05-09"),
        ] {
            let expected = ids_where(&prints, is(name, value));
            assert!(!expected.is_empty(), "{name}");
            assert_eq!(
                selected(server, &format!("{PRINTS}?{name}={value}")),
                expected,
                "{name}"
            );
        }
        let both = ids_where(&prints, |print| {
            is("site", "heron-bend")(print) && is("side", "left")(print)
        });
        let path = format!("{PRINTS}?site=heron-bend&side=left&bbox=30,-30,40,-10");
        assert_eq!(selected(server, &path), both);
        let third = ids_where(&prints, |print| print["properties"]["digits"] == 3);
        assert_eq!(selected(server, &format!("{PRINTS}?digits=3")), third);
        assert_eq!(selected(server, &format!("{PRINTS}?site=nowhere")).len(), 0);
        let proposed = ids_where(&all(server, "trackways"), is("status", "proposed"));
        assert!(!proposed.is_empty());
        assert_eq!(
            selected(server, "/collections/trackways/items?status=proposed"),
            proposed
        );
        let covered = ids_where(&all(server, "extents"), is("kind", "covered"));
        assert_eq!(
            selected(server, "/collections/extents/items?kind=covered"),
            covered
        );
    });
}

#[test]
fn pages_give_every_print_once() {
    served(|server| {
        for (selection, limit) in [
            ("prints/items?surface=tussock-quarry:Q2", 1),
            ("prints/items?", 100),
            ("prints/items?", 299),
            ("trackways/items?", 7),
            ("surfaces/items?", 2),
            ("sites/items?", 3),
        ] {
            let path = format!("/collections/{selection}");
            let everything = server.get(&format!("{path}&limit=10000")).with_status(200).json();
            let everything: Vec<String> = features(&everything).iter().map(id).collect();
            let ids = paged(&server.client, &format!("{path}&limit={limit}"));
            assert_eq!(ids, everything, "{selection} by {limit}");
        }
        let filters = "site=heron-bend&bbox=30,-30,40,-10&crs=http://www.opengis.net/def/crs/EPSG/0/32736";
        let ids = paged(&server.client, &format!("{PRINTS}?{filters}&limit=50"));
        assert_eq!(ids.len(), 378, "filters go along from page to page");
        let plain = server.get(PRINTS).with_status(200).json();
        assert_eq!(plain["numberReturned"], 100);
        for beyond in ["10000", "10001", "99999999999999999999999"] {
            let page = server
                .get(&format!("{PRINTS}?limit={beyond}"))
                .with_status(200)
                .json();
            assert_eq!(
                features(&page).len(),
                DEMO_PRINTS,
                "a limit above the maximum is clamped"
            );
        }
    });
}

#[test]
fn pages_stay_whole_while_another_client_writes() {
    let ledger = Ledger::with_site("gull-ledge");
    let _ = ledger
        .import("gull-ledge", "first.csv", walk("M", 0, 1_000))
        .done();
    let server = ledger.serve(&[]);
    let over = AtomicBool::new(false);
    thread::scope(|scope| {
        let writer = scope.spawn(|| {
            let mut sheets = 0;
            // Not for ever: a writer that is quicker than the reader would keep the last page away from it.
            while !over.load(Ordering::Relaxed) && sheets < 60 {
                // Before, between and after the prints and the surfaces that are there.
                let new = [("A", "P"), ("M", "N"), ("M", "P0000500x"), ("M", "Q"), ("Z", "P")];
                let rows =
                    new.map(|(surface, label)| format!("{surface},{label}{sheets},480000,4790000,0.3\n"));
                let sheet = format!("surface,print,easting_m,northing_m,length_m\n{}", rows.concat());
                let answer = server.client.post("/sites/gull-ledge/imports", "text/csv", sheet);
                answer.with_status(200);
                sheets += 1;
            }
            sheets
        });
        for _ in 0..5 {
            let ids = paged(&server.client, &format!("{PRINTS}?limit=37"));
            let once: BTreeSet<&String> = ids.iter().collect();
            assert_eq!(once.len(), ids.len(), "a print comes twice");
            let first = (0..1_000).filter(|no| once.contains(&format!("gull-ledge:M:P{no:07}")));
            assert_eq!(
                first.count(),
                1_000,
                "a print that was there all the time is missing"
            );
        }
        over.store(true, Ordering::Relaxed);
        assert!(writer.join().unwrap() > 0);
    });
}

#[test]
fn whoever_asks_wrongly_is_told_what_to_do() {
    served(|server| {
        for query in [
            "colour=red",
            "limit=0",
            "limit=-1",
            "limit=many",
            "limit=",
            "limit=5&limit=6",
            "bbox=1,2,3",
            "bbox=1,2,3,4,5",
            "bbox=a,b,c,d",
            "bbox=NaN,0,1,1",
            "bbox=0,10,1,5",
            "bbox=0,0,1,1&bbox=0,0,1,1",
            "datetime=yesterday",
            "datetime=2026-02-30",
            "datetime=2026-05-02/2026-05-01",
            "datetime=../../..",
            "crs=EPSG",
            "crs=http://www.opengis.net/def/crs/EPSG/0/27700",
            "crs=http://www.opengis.net/def/crs/EPSG/0/999999",
            "bbox-crs=nowhere&bbox=0,0,1,1",
            "site=Not%20A%20Slug",
            "surface=no-colon",
            "overlies=P001",
        ] {
            let told = problem(&server.get(&format!("{PRINTS}?{query}")), 400);
            let detail = told["detail"].as_str().unwrap();
            assert!(detail.len() > 20, "{query}: {detail}");
        }
        for path in [
            "/?limit=1",
            "/conformance?x=1",
            "/collections?bbox=0,0,1,1",
            "/collections/prints?limit=1",
            "/collections/prints/items/gannet-ledge:S1:P001?limit=1",
            "/api?x=1",
            "/queries?x=1",
        ] {
            problem(&server.get(path), 400);
        }
        let told = problem(&server.get(&format!("{PRINTS}?colour=red")), 400);
        assert!(told["detail"].as_str().unwrap().contains("morphotype"), "{told}");
    });
}

#[test]
fn a_cursor_that_no_page_gave_is_refused() {
    served(|server| {
        for (collection, cursor) in [
            ("prints", "garbage"),
            ("prints", "gannet-ledge"),
            ("surfaces", "no colon"),
        ] {
            let answer = server.get(&format!(
                "/collections/{collection}/items?limit=2&after={}",
                cursor.replace(' ', "%20")
            ));
            problem(&answer, 400);
        }
        let gone = server.get(&format!("{PRINTS}?limit=2&after=gannet-ledge:S1:P0015"));
        let page = gone.with_status(200).json();
        assert_eq!(
            id(&features(&page)[0]),
            "gannet-ledge:S1:P002",
            "the record of a cursor may be gone"
        );
    });
}
