//! OGC API Features Part 2: coordinates in the CRS that a client asks for, in its authority's order.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::Value;
use tests::story::{Ledger, Schema, Server, features, numbers, problem};

const CRS84: &str = "http://www.opengis.net/def/crs/OGC/1.3/CRS84";
const PRINTS: &str = "/collections/prints/items";

fn uri(code: u32) -> String {
    format!("http://www.opengis.net/def/crs/EPSG/0/{code}")
}

fn served(story: impl FnOnce(&Server)) {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    story(&server);
}

/// The prints of a site in a CRS, and the header that tells it.
fn prints(server: &Server, site: &str, crs: &str) -> Vec<Value> {
    let answer = server.get(&format!("{PRINTS}?site={site}&limit=10000&crs={crs}"));
    let answer = answer.with_status(200);
    assert_eq!(answer.header("content-crs"), Some(format!("<{crs}>").as_str()));
    let page = answer.json();
    Schema::of("features-1-1.0.1/featureCollectionGeoJSON.json").fits(&page);
    features(&page).to_vec()
}

fn place(feature: &Value) -> [f64; 2] {
    numbers(&feature["geometry"]["coordinates"]).try_into().unwrap()
}

#[test]
fn a_sites_own_crs_gives_the_sheets_numbers_back() {
    served(|server| {
        for (site, code, northing_first) in [
            ("gannet-ledge", 25830, false),
            ("heron-bend", 32736, false),
            ("tussock-quarry", 2193, true),
        ] {
            let prints = prints(server, site, &uri(code));
            assert!(prints.len() > 200);
            for print in prints {
                let [e, n] =
                    ["easting_m", "northing_m"].map(|name| print["properties"][name].as_f64().unwrap());
                // EPSG has northing before easting in 2193 and easting first in the two UTM zones.
                let expected = if northing_first { [n, e] } else { [e, n] };
                assert_eq!(place(&print), expected, "{code}");
            }
        }
    });
}

#[test]
fn longitude_and_latitude_come_in_the_order_that_was_asked_for() {
    served(|server| {
        for site in ["gannet-ledge", "heron-bend", "tussock-quarry"] {
            let lonlat = prints(server, site, CRS84);
            let latlon = prints(server, site, &uri(4326));
            let plain = server
                .get(&format!("{PRINTS}?site={site}&limit=10000"))
                .with_status(200);
            assert_eq!(plain.header("content-crs"), Some(format!("<{CRS84}>").as_str()));
            for ((a, b), c) in lonlat.iter().zip(&latlon).zip(features(&plain.json())) {
                let [lon, lat] = place(a);
                assert_eq!(place(b), [lat, lon]);
                assert_eq!(place(c), [lon, lat]);
            }
        }
    });
}

#[test]
fn web_mercator_is_what_its_formula_says() {
    served(|server| {
        let lonlat = prints(server, "gannet-ledge", CRS84);
        let mercator = prints(server, "gannet-ledge", &uri(3857));
        for (a, b) in lonlat.iter().zip(&mercator) {
            let ([lon, lat], [x, y]) = (place(a), place(b));
            // EPSG Guidance Note 7-2, Popular Visualisation Pseudo-Mercator (method 1024), a = 6 378 137 m.
            let expected_x = 6_378_137.0 * lon.to_radians();
            let half = std::f64::consts::FRAC_PI_4 + lat.to_radians() / 2.0;
            let expected_y = 6_378_137.0 * half.tan().ln();
            // Nine decimals of a degree are 0.1 mm.
            assert!(
                (x - expected_x).abs() < 3e-4 && (y - expected_y).abs() < 3e-4,
                "{a} {b}"
            );
        }
    });
}

#[test]
fn another_sites_crs_serves_what_lies_within_its_reach() {
    let ledger = Ledger::new();
    ledger.add_site("east", "EPSG:25830", &[]);
    ledger.add_site("west", "EPSG:25829", &[]);
    let sheet = "surface,print,easting_m,northing_m,length_m\nS1,P1,250000,4790000,0.3\n";
    ledger.import("east", "sheet.csv", sheet).done();
    let server = ledger.serve(&[]);
    let own = prints(&server, "east", CRS84);
    let in_neighbour = prints(&server, "east", &uri(25829));
    let [x, y] = place(&in_neighbour[0]);
    // Taken to the neighbouring zone and asked for by its box there, it is the same place.
    let crs = uri(25829);
    let around = format!("{},{},{},{}", x - 0.01, y - 0.01, x + 0.01, y + 0.01);
    let found = server
        .get(&format!("{PRINTS}?bbox={around}&bbox-crs={crs}"))
        .with_status(200)
        .json();
    assert_eq!(features(&found)[0]["geometry"], own[0]["geometry"]);
    let beside = format!("{},{},{},{}", x + 0.01, y - 0.01, x + 0.03, y + 0.01);
    let beside = server
        .get(&format!("{PRINTS}?bbox={beside}&bbox-crs={crs}"))
        .with_status(200)
        .json();
    assert_eq!(features(&beside).len(), 0);
}

#[test]
fn one_feature_comes_in_the_crs_too() {
    served(|server| {
        let crs = uri(2193);
        for (collection, id) in [
            ("sites", "tussock-quarry"),
            ("surfaces", "tussock-quarry:Q1"),
            ("prints", "tussock-quarry:Q1:P001"),
        ] {
            let answer = server.get(&format!("/collections/{collection}/items/{id}?crs={crs}"));
            let answer = answer.with_status(200);
            assert_eq!(answer.header("content-crs"), Some(format!("<{crs}>").as_str()));
            let mut first = &answer.json()["geometry"]["coordinates"];
            while first[0].is_array() {
                first = &first[0];
            }
            let [northing, easting] = numbers(first)[..] else {
                panic!("{first}")
            };
            assert!((4_893_000.0..4_894_000.0).contains(&northing), "{id}: {first}");
            assert!((1_246_000.0..1_247_000.0).contains(&easting), "{id}: {first}");
        }
        let plain = server
            .get(&format!("{PRINTS}/tussock-quarry:Q1:P001"))
            .with_status(200);
        assert_eq!(plain.header("content-crs"), Some(format!("<{CRS84}>").as_str()));
        let wrong = format!("{PRINTS}/tussock-quarry:Q1:P001?crs={}", uri(27700));
        problem(&server.get(&wrong), 400);
    });
}

#[test]
fn every_crs_that_is_listed_is_given_and_no_other() {
    served(|server| {
        let listed = server.get("/collections/prints").with_status(200).json()["crs"].clone();
        let listed: Vec<&str> = listed
            .as_array()
            .unwrap()
            .iter()
            .map(|crs| crs.as_str().unwrap())
            .collect();
        for wanted in [CRS84.to_owned()]
            .into_iter()
            .chain([4326, 3857, 25830, 32736, 2193].map(uri))
        {
            assert!(listed.contains(&wanted.as_str()), "{wanted} is not in {listed:?}");
        }
        for crs in &listed {
            let answer = server
                .get(&format!("{PRINTS}?limit=3&crs={crs}"))
                .with_status(200);
            assert_eq!(answer.header("content-crs"), Some(format!("<{crs}>").as_str()));
        }
        for wrong in [
            uri(27700),
            uri(999_999),
            "http://www.opengis.net/def/crs/OGC/1.3/CRS83".to_owned(),
        ] {
            let told = problem(&server.get(&format!("{PRINTS}?crs={wrong}")), 400);
            assert!(told["detail"].as_str().unwrap().contains(CRS84), "{told}");
        }
    });
}
