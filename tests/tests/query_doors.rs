//! A query gives the same bytes at every door, the same each time, and what a plain loop would give.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::Value;
use std::collections::BTreeMap;
use tests::story::{Ledger, Schema, Server, features, problem, ran};

const SURFACES: [&str; 6] = [
    "gannet-ledge:S1",
    "gannet-ledge:S2",
    "heron-bend:B1",
    "heron-bend:B2",
    "tussock-quarry:Q1",
    "tussock-quarry:Q2",
];

fn by_command(ledger: &Ledger, id: &str, inputs: &[&str]) -> String {
    ledger.query(id, inputs).done().out
}

fn by_get(server: &Server, id: &str, inputs: &[&str]) -> String {
    let answer = server.get(&format!("/queries/{id}?{}", inputs.join("&")));
    assert_eq!(answer.media(), "application/geo+json");
    answer.with_status(200).text().to_owned()
}

/// Easting, northing, longitude and latitude of each print of a surface, as the service tells them.
fn prints(server: &Server, surface: &str) -> BTreeMap<String, [f64; 4]> {
    let page = server.get(&format!(
        "/collections/prints/items?surface={surface}&limit=10000"
    ));
    let page = page.with_status(200).json();
    let of = |feature: &Value| {
        let (at, own) = (&feature["geometry"]["coordinates"], &feature["properties"]);
        let place = [&own["easting_m"], &own["northing_m"], &at[0], &at[1]];
        (
            feature["id"].as_str().unwrap().to_owned(),
            place.map(|number| number.as_f64().unwrap()),
        )
    };
    features(&page).iter().map(of).collect()
}

/// Ids by distance from a place of the grid, nearest first: the plain loop.
fn by_loop(prints: &BTreeMap<String, [f64; 4]>, at: [f64; 2]) -> Vec<(String, f64)> {
    let distance = |[e, n, ..]: &[f64; 4]| (e - at[0]).hypot(n - at[1]);
    let mut found: Vec<(String, f64)> = prints
        .iter()
        .map(|(id, place)| (id.clone(), distance(place)))
        .collect();
    found.sort_by(|a, b| a.1.total_cmp(&b.1).then_with(|| a.0.cmp(&b.0)));
    found
}

fn ids(answer: &Value) -> Vec<String> {
    features(answer)
        .iter()
        .map(|one| one["id"].as_str().unwrap().to_owned())
        .collect()
}

#[test]
fn both_doors_give_the_same_bytes() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for (id, inputs) in [
        ("nearest", &["surface=gannet-ledge:S1", "at=-3.655,43.474"][..]),
        (
            "nearest",
            &[
                "surface=heron-bend:B1",
                "at=564381,7663341",
                "crs=EPSG:32736",
                "k=5",
            ],
        ),
        (
            "nearest",
            &[
                "surface=tussock-quarry:Q1",
                "at=168.43,-46.02",
                "radius_m=500",
                "north=grid",
            ],
        ),
        ("grouping", &["surface=gannet-ledge:S2"]),
        ("grouping", &["surface=heron-bend:B1", "seed=7", "crs=EPSG:4326"]),
        (
            "gait",
            &["surface=tussock-quarry:Q1", "crs=EPSG:2193", "steps=true"],
        ),
        (
            "gait",
            &["trackway=gannet-ledge:S2:T1", "hip_ratio=4.2", "seed=3"],
        ),
        ("headings", &["site=gannet-ledge,tussock-quarry", "group=site"]),
        ("headings", &["azimuths_deg=12,48,350"]),
        ("individuals", &["surface=gannet-ledge:S2"]),
        ("speed", &["stride_m=2.7", "hip_height_m=1.93"]),
    ] {
        let (command, get) = (by_command(&ledger, id, inputs), by_get(&server, id, inputs));
        assert!(command == get, "{id} {inputs:?}");
        let answer: Value = serde_json::from_str(&get).unwrap();
        Schema::geojson().fits(&answer);
        assert_eq!(answer["query"]["id"], id);
        for member in ["name", "version", "source"] {
            assert!(answer["method"][member].is_string(), "{answer}");
        }
        for feature in features(&answer) {
            assert!(feature["properties"]["part"].is_string(), "{feature}");
        }
    }
}

#[test]
fn the_nearest_are_those_of_a_plain_loop() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for (surface, crs, northing_first) in [
        ("gannet-ledge:S2", "EPSG:25830", false),
        ("heron-bend:B2", "EPSG:32736", false),
        ("tussock-quarry:Q1", "EPSG:2193", true),
    ] {
        let prints = prints(&server, surface);
        let places: Vec<[f64; 4]> = prints.values().copied().collect();
        for [e, n, lon, lat] in [places[0], places[40], places[99]] {
            let [x, y] = [e + 0.331, n - 0.217];
            let at = if northing_first {
                format!("at={y},{x}")
            } else {
                format!("at={x},{y}")
            };
            let (surface, crs) = (format!("surface={surface}"), format!("crs={crs}"));
            let expected = by_loop(&prints, [x, y]);
            for k in [1, 7, 10_000] {
                let found = by_get(&server, "nearest", &[&surface, &at, &crs, &format!("k={k}")]);
                let found: Value = serde_json::from_str(&found).unwrap();
                let most = expected.len().min(k);
                let wanted: Vec<&String> = expected[..most].iter().map(|(id, _)| id).collect();
                assert_eq!(
                    ids(&found).iter().collect::<Vec<_>>(),
                    wanted,
                    "{surface} {at} k={k}"
                );
                for ((feature, (_, grid_m)), rank) in features(&found).iter().zip(&expected).zip(1..) {
                    let own = &feature["properties"];
                    assert_eq!(own["rank"], rank);
                    assert!((own["grid_distance_m"].as_f64().unwrap() - grid_m).abs() < 1e-9);
                }
            }
            // In degrees, with nine decimals: 0.1 mm.
            let in_degrees = by_get(&server, "nearest", &[&surface, &format!("at={lon},{lat}"), "k=1"]);
            let nearest: Value = serde_json::from_str(&in_degrees).unwrap();
            let away = features(&nearest)[0]["properties"]["distance_m"]
                .as_f64()
                .unwrap();
            assert!(away < 2e-4, "{away}");
        }
    }
}

#[test]
fn a_radius_is_ground_distance() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let surface = "gannet-ledge:S1";
    let prints = prints(&server, surface);
    let [x, y, ..] = prints.values().next().unwrap();
    let ask = |more: &[&str]| -> Value {
        let (surface, at) = (format!("surface={surface}"), format!("at={x},{y}"));
        let inputs = [&[surface.as_str(), &at, "crs=EPSG:25830"], more].concat();
        serde_json::from_str(&by_get(&server, "nearest", &inputs)).unwrap()
    };
    // Transverse Mercator, 53 km from a central meridian of scale 0.9996: 0.9996 (1 + 53²/(2 · 6371²)) = 0.99963.
    let expected = by_loop(&prints, [*x, *y]);
    for radius_m in [0.0, 0.5, 3.0, 11.0, 100.0] {
        let found = ask(&[&format!("radius_m={radius_m}")]);
        let inside: Vec<&String> = expected
            .iter()
            .filter(|(_, grid_m)| grid_m / 0.999_634 <= radius_m)
            .map(|(id, _)| id)
            .collect();
        assert_eq!(ids(&found).iter().collect::<Vec<_>>(), inside, "{radius_m}");
        for feature in features(&found) {
            let own = &feature["properties"];
            let [ground, grid] = ["distance_m", "grid_distance_m"].map(|name| own[name].as_f64().unwrap());
            assert!((ground * 0.999_634 - grid).abs() <= 2e-6 * grid, "{own}");
        }
    }
    assert_eq!(features(&ask(&["radius_m=100", "k=3"])).len(), 3);
    assert_eq!(ask(&[])["query"]["k"], 10);
    assert_eq!(features(&ask(&[])).len(), 10);
}

#[test]
fn every_print_is_in_one_trackway_or_left_over() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for surface in SURFACES {
        let answer = by_get(&server, "grouping", &[&format!("surface={surface}")]);
        let answer: Value = serde_json::from_str(&answer).unwrap();
        Schema::geojson().fits(&answer);
        assert!(answer["caution"].as_str().unwrap().len() > 50);
        let mut seen: BTreeMap<String, u32> = BTreeMap::new();
        for feature in features(&answer) {
            let own = &feature["properties"];
            if own["part"] == "ungrouped" {
                assert_eq!(own["ungrouped"], true);
                assert_eq!(feature["geometry"]["type"], "Point");
                *seen.entry(own["print"].as_str().unwrap().to_owned()).or_default() += 1;
                continue;
            }
            assert_eq!(
                (&own["part"], &feature["geometry"]["type"]),
                (&"trackway".into(), &"LineString".into())
            );
            let prints = own["prints"].as_array().unwrap();
            assert!(prints.len() >= 2, "{own}");
            for print in prints {
                *seen.entry(print.as_str().unwrap().to_owned()).or_default() += 1;
            }
            let links = own["link_probabilities"].as_array().unwrap();
            assert!(!links.is_empty() && links.len() < prints.len(), "{own}");
            let all = links
                .iter()
                .chain([&own["probability"], &own["direction_probability"]]);
            for probability in all {
                assert!((0.0..=1.0).contains(&probability.as_f64().unwrap()), "{own}");
            }
        }
        let prints = prints(&server, surface);
        assert!(
            seen.keys().eq(prints.keys()),
            "{surface}: {} of {}",
            seen.len(),
            prints.len()
        );
        assert!(seen.values().all(|times| *times == 1), "{surface}: {seen:?}");
    }
}

#[test]
fn grouping_gives_the_same_bytes_on_one_core_and_on_many() {
    let ledger = Ledger::demo();
    for surface in ["gannet-ledge:S2", "heron-bend:B2", "tussock-quarry:Q2"] {
        let input = format!("surface={surface}");
        let ask = |threads: &str| {
            let mut command = ledger.command(&["query", "grouping", &input, "--json"]);
            ran(command.env("RAYON_NUM_THREADS", threads)).done().out
        };
        let first = ask("1");
        for threads in ["1", "2", "5"] {
            assert!(ask(threads) == first, "{surface} on {threads} threads");
        }
    }
}

#[test]
fn inputs_that_do_not_fit_are_all_told() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for (inputs, faulty) in [
        (&[][..], &["at", "surface"][..]),
        (&["surface=gannet-ledge:S1"], &["at"]),
        (&["surface=gannet-ledge:S1", "at=1"], &["at"]),
        (&["surface=gannet-ledge:S1", "at=1,2,3"], &["at"]),
        (&["surface=gannet-ledge:S1", "at=NaN,2"], &["at"]),
        (
            &["surface=gannet-ledge:S1", "at=-3.6,43.4", "k=0", "colour=red"],
            &["colour", "k"],
        ),
        (
            &["surface=gannet-ledge:S1", "at=-3.6,43.4", "radius_m=-1"],
            &["radius_m"],
        ),
        (
            &["surface=gannet-ledge:S1", "at=-3.6,43.4", "crs=EPSG:99999"],
            &["crs"],
        ),
        (&["surface=gannet-ledge", "at=-3.6,43.4"], &["surface"]),
        (&["surface=gannet-ledge:S1", "at=-3.6,43.4", "k=1", "k=2"], &["k"]),
    ] {
        let told = problem(
            &server.get(&format!("/queries/nearest?{}", inputs.join("&"))),
            400,
        );
        let mut named: Vec<&str> = told["faults"]
            .as_array()
            .unwrap()
            .iter()
            .map(|fault| fault["input"].as_str().unwrap())
            .collect();
        named.sort_unstable();
        assert_eq!(named, faulty, "{inputs:?}: {told}");
        let ran = ledger.run(&[&["query", "nearest"], inputs, &["--json"]].concat());
        assert_eq!((ran.code, ran.json()), (1, told), "{inputs:?}");
    }
    problem(
        &server.get("/queries/nearest?surface=gannet-ledge:S9&at=0,0"),
        404,
    );
    problem(&server.get("/queries/fly?surface=gannet-ledge:S1"), 404);
}

#[test]
fn an_unknown_choice_is_told_with_its_input() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let path = "/queries/nearest?surface=gannet-ledge:S1&at=-3.6,43.4&north=magnetic";
    let told = problem(&server.get(path), 400);
    let fault = &told["faults"][0];
    assert_eq!(
        (&fault["input"], &fault["value"]),
        (&"north".into(), &"magnetic".into()),
        "{told}"
    );
}

#[test]
fn a_place_outside_the_projection_is_a_fault_of_its_input() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for place in ["at=1e12,1e12&crs=EPSG:25830", "at=0,95", "at=inf,0"] {
        let told = problem(
            &server.get(&format!("/queries/nearest?surface=gannet-ledge:S1&{place}")),
            400,
        );
        assert_eq!(told["faults"][0]["input"], "at", "{place}: {told}");
    }
}

#[test]
fn the_list_of_queries_tells_how_to_ask_each() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let list = server.get("/queries").with_status(200).json();
    let queries = list["queries"].as_array().unwrap();
    let ids: Vec<&str> = queries
        .iter()
        .map(|query| query["id"].as_str().unwrap())
        .collect();
    assert!(ids.contains(&"nearest") && ids.contains(&"grouping"), "{ids:?}");
    let by_command = ledger.run(&["query"]).done().out;
    for query in queries {
        assert!(by_command.contains(query["id"].as_str().unwrap()));
        assert!(query["title"].is_string() && query["description"].is_string());
        for (name, input) in query["inputs"].as_object().unwrap() {
            assert!(by_command.contains(name.as_str()), "{name}");
            assert!(input["description"].is_string(), "{name}");
        }
    }
}
