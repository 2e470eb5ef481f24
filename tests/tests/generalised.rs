//! Of a site whose place is generalised strangers learn the cell that it lies in, and nothing finer.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use serde_json::Value;
use std::fmt::Write;
use tests::story::{Answer, Ledger, Server, features, numbers, problem};

const URL: &str = "https://tracks.example";
/// The south-west corner of a cell of 10 km in EPSG:25830.
const CELL: [f64; 2] = [480_000.0, 4_790_000.0];

/// Two trackways of ten prints, from a place in the cell on, with this heading.
fn sheet(east: f64, north: f64, heading_deg: f64) -> String {
    let mut sheet = String::from("surface,print,easting_m,northing_m,length_m,trackway,order,observed_on\n");
    let (sin, cos) = heading_deg.to_radians().sin_cos();
    for trackway in 0..2 {
        for no in 0..10 {
            let along = f64::from(no) * 0.7;
            let aside = f64::from(trackway) * 2.0 + f64::from(no % 2) * 0.2;
            let easting_m = CELL[0] + east + along * sin + aside * cos;
            let northing_m = CELL[1] + north + along * cos - aside * sin;
            writeln!(
                sheet,
                "S1,P{trackway}{no},{easting_m:.3},{northing_m:.3},0.300,T{trackway},{},2026-05-0{}",
                no + 1,
                no % 9 + 1
            )
            .unwrap();
        }
    }
    sheet
}

/// The same site with its prints at some place.
fn at(east: f64, north: f64, heading_deg: f64) -> (Ledger, Server) {
    let ledger = Ledger::new();
    ledger.add_site(
        "vague-cove",
        "EPSG:25830",
        &["--policy", "generalised", "--name", "Vague"],
    );
    ledger
        .import("vague-cove", "sheet.csv", sheet(east, north, heading_deg))
        .done();
    ledger.add_site("open-cove", "EPSG:25830", &[]);
    ledger
        .import("open-cove", "open.csv", sheet(-50_000.0, 0.0, 0.0))
        .done();
    let server = ledger.serve(&["--public-url", URL]);
    (ledger, server)
}

/// All that a stranger reads of an answer but the moment at which it was given.
fn read(answer: &Answer) -> String {
    let headers = [
        "content-type",
        "content-crs",
        "etag",
        "link",
        "cache-control",
        "last-modified",
    ];
    let headers = headers.map(|name| answer.header(name));
    let mut words = answer.text().split_inclusive(['"', '>', '<', '&']).map(|word| {
        let moment = word
            .trim_end_matches(['"', '>', '<', '&'])
            .parse::<jiff::Timestamp>();
        if moment.is_ok() { "some moment" } else { word }
    });
    format!(
        "{} {headers:?} {}",
        answer.status,
        words.by_ref().collect::<String>()
    )
}

/// Every path that can be read, with ids of the site put in, and parameters that speak of the place.
fn questions(api: &Value) -> Vec<String> {
    let mut questions = Vec::new();
    for (path, operations) in api["paths"].as_object().unwrap() {
        let Some(get) = operations.get("get") else {
            continue;
        };
        let path = fill(path);
        let names: Vec<String> = get["parameters"]
            .as_array()
            .into_iter()
            .flatten()
            .map(name)
            .collect();
        questions.push(path.clone());
        let mut with = |query: String| questions.push(format!("{path}?{query}"));
        if names.iter().any(|name| name == "surface") {
            with("surface=vague-cove:S1".to_owned());
            with("surface=vague-cove:S1&at=-3.2,43.3".to_owned());
            with("surface=vague-cove:S1&at=485000,4795000&crs=EPSG:25830&k=3".to_owned());
        }
        if names.iter().any(|name| name == "site") {
            with("site=vague-cove".to_owned());
        }
        if names.iter().any(|name| name == "trackway") {
            with("trackway=vague-cove:S1:T0".to_owned());
        }
        with("f=html".to_owned());
        if names.iter().any(|name| name == "bbox") {
            for probe in probes() {
                with(probe);
            }
        }
    }
    questions
}

/// A parameter's name, be it written out or referred to.
fn name(parameter: &Value) -> String {
    let reference = parameter["$ref"]
        .as_str()
        .and_then(|path| path.rsplit('/').next());
    let name = parameter["name"].as_str().or(reference);
    name.unwrap_or_default().to_owned()
}

fn fill(path: &str) -> String {
    let record = match path.split('/').nth(2) {
        Some("sites") => "vague-cove",
        Some("surfaces") => "vague-cove:S1",
        Some("trackways") => "vague-cove:S1:T0",
        _ => "vague-cove:S1:P00",
    };
    path.replace("{site}", "vague-cove")
        .replace("{surface}", "vague-cove:S1")
        .replace("{file}", "map.js")
        .replace("{trackway}", "vague-cove:S1:T0")
        .replace("{id}", record)
        .replace("{job}", &"0".repeat(32))
}

/// What somebody asks who wants to find the place: ever smaller boxes, filters, orders, days, other CRSs.
fn probes() -> Vec<String> {
    let mut probes: Vec<String> = [
        "site=vague-cove&limit=1",
        "after=vague-cove",
        "after=vague-cove:S1:P03",
        "datetime=2026-05-03",
        "datetime=2026-05-01/2026-05-04",
        "crs=http://www.opengis.net/def/crs/EPSG/0/25830",
        "sortby=easting_m",
        "filter=site = 'vague-cove'",
        "filter=easting_m > 485000",
        "filter=northing_m < 4795000 AND site = 'vague-cove'",
        "filter=prints = 20",
        "filter=S_INTERSECTS(geometry, POINT(-3.2 43.3))",
        "bbox=nonsense",
        "bbox=-3.3,43.2",
    ]
    .map(|probe| probe.replace(' ', "%20").replace('<', "%3C").replace('>', "%3E"))
    .to_vec();
    for halves in 0..12 {
        let side = 10_000.0 / f64::from(1 << halves);
        for [east, north] in [
            [0.0, 0.0],
            [5_000.0, 5_000.0],
            [9_990.0 - side, 9_990.0 - side],
            [1_234.0, 8_765.0],
        ] {
            let lower = [CELL[0] + east, CELL[1] + north];
            let bounds = format!(
                "{},{},{},{}",
                lower[0],
                lower[1],
                lower[0] + side,
                lower[1] + side
            );
            probes.push(format!(
                "bbox={bounds}&bbox-crs=http://www.opengis.net/def/crs/EPSG/0/25830"
            ));
        }
    }
    probes
}

#[test]
fn a_stranger_reads_the_same_bytes_wherever_in_the_cell_the_prints_lie() {
    let (_one, one) = at(1_234.0, 8_765.0, 30.0);
    let (_other, other) = at(9_980.0, 10.0, 200.0);
    let api = one.get("/api").with_status(200).json();
    let questions = questions(&api);
    assert!(questions.len() > 300, "{}", questions.len());
    for question in questions {
        // Figures of the process itself are never the same twice.
        if question.starts_with("/health") || question.starts_with("/metrics") {
            continue;
        }
        let [one, other] = [&one, &other].map(|server| read(&server.get(&question)));
        assert_eq!(one, other, "{question}");
    }
}

#[test]
fn what_strangers_do_not_read_is_there_for_those_who_may() {
    // The same questions tell two places apart for a reader of the site, so that the test above can fail.
    let (ledger, server) = at(1_234.0, 8_765.0, 30.0);
    let token = ledger.token("party", "reader", &["vague-cove"]);
    let bearer = format!("Bearer {token}");
    let reader = |path: &str| server.client.get_with(path, &[("authorization", &bearer)]);
    let print = reader("/collections/prints/items/vague-cove:S1:P00")
        .with_status(200)
        .json();
    assert_eq!(print["properties"]["easting_m"], 481_234.0);
    reader("/queries/gait?trackway=vague-cove:S1:T0").with_status(200);
    problem(&server.get("/queries/gait?trackway=vague-cove:S1:T0"), 404);
}

#[test]
fn the_public_point_is_the_centre_of_the_cell() {
    let (_ledger, server) = at(1_234.0, 8_765.0, 30.0);
    let crs = "crs=http://www.opengis.net/def/crs/EPSG/0/25830";
    let site = server
        .get(&format!("/collections/sites/items/vague-cove?{crs}"))
        .with_status(200)
        .json();
    assert_eq!(
        numbers(&site["geometry"]["coordinates"]),
        [485_000.0, 4_795_000.0]
    );
    let told = &site["properties"];
    assert_eq!((&told["surfaces"], &told["prints"]), (&1.into(), &20.into()));
    assert_eq!(told["name"], "Vague");
    // A box around the centre finds it, one around the prints does not.
    let found = |bounds: &str| {
        let path = format!(
            "/collections/sites/items?bbox={bounds}&bbox-crs=http://www.opengis.net/def/crs/EPSG/0/25830"
        );
        features(&server.get(&path).with_status(200).json()).len()
    };
    assert_eq!(found("484999,4794999,485001,4795001"), 1);
    assert_eq!(found("481000,4798000,481900,4799000"), 0);
}

#[test]
fn a_generalised_site_without_prints_has_no_place() {
    let ledger = Ledger::new();
    ledger.add_site("vague-cove", "EPSG:25830", &["--policy", "generalised"]);
    let server = ledger.serve(&["--public-url", URL]);
    let site = server
        .get("/collections/sites/items/vague-cove")
        .with_status(200)
        .json();
    assert_eq!(site["geometry"], Value::Null);
}
