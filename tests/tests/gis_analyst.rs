//! A GIS analyst adds the service to a mapping program: read with GDAL's client of OGC API Features.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use std::collections::BTreeMap;
use tests::story::{Ledger, Server, features, gdal, numbers};

const DEMO_PRINTS: usize = 897;
const SITES: [(&str, u32, &[&str]); 3] = [
    ("gannet-ledge", 25830, &["gannet-ledge.csv"]),
    ("heron-bend", 32736, &["heron-bend.csv"]),
    (
        "tussock-quarry",
        2193,
        &["tussock-quarry.csv", "tussock-quarry-from-above.csv"],
    ),
];
const TENTH_MM: f64 = 1e-4;

type Record = BTreeMap<String, String>;

fn source(server: &Server) -> String {
    format!("OAPIF:{}/", server.base())
}

fn count(report: &str) -> usize {
    let line = report
        .lines()
        .find_map(|line| line.strip_prefix("Feature Count: "));
    line.unwrap_or_else(|| panic!("no count: {report}"))
        .trim()
        .parse()
        .unwrap()
}

fn table(csv: &str) -> Vec<Record> {
    csv::Reader::from_reader(csv.as_bytes())
        .deserialize()
        .map(Result::unwrap)
        .collect()
}

/// What the field sheets of a site hold, by the ids that the service gives.
fn sheets(site: &str, files: &[&str]) -> BTreeMap<String, Record> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/demo");
    let mut all = BTreeMap::new();
    for file in files {
        for row in table(&std::fs::read_to_string(format!("{folder}/{file}")).unwrap()) {
            all.insert(format!("{site}:{}:{}", row["surface"], row["print"]), row);
        }
    }
    all
}

#[test]
fn the_client_lists_five_layers_with_their_kinds() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let listed = gdal("ogrinfo", &["-q", &source(&server)]).out;
    let layers: Vec<&str> = listed
        .lines()
        .filter_map(|line| line.split_once(": "))
        .map(|(_, layer)| layer)
        .collect();
    assert_eq!(
        layers,
        [
            "sites (title: Sites) (Point)",
            "surfaces (title: Surfaces) (Polygon)",
            "extents (title: Extents) (Polygon)",
            "prints (title: Prints) (Point)",
            "trackways (title: Trackways) (Line String)",
        ]
    );
    for collection in ["sites", "surfaces", "extents", "prints", "trackways"] {
        let report = gdal("ogrinfo", &["-so", &source(&server), collection]).out;
        let page = server
            .get(&format!("/collections/{collection}/items?limit=10000"))
            .json();
        assert_eq!(count(&report), features(&page).len(), "{collection}");
        for name in features(&page)[0]["properties"].as_object().unwrap().keys() {
            assert!(
                report.contains(&format!("\n{name}: ")),
                "{collection} has lost its column {name}"
            );
        }
    }
}

#[test]
fn it_pages_through_every_print() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let arguments = [
        "-f",
        "CSV",
        "/vsistdout/",
        &source(&server),
        "prints",
        "-oo",
        "PAGE_SIZE=50",
    ];
    let prints = table(&gdal("ogr2ogr", &arguments).out);
    let mut ids: Vec<&String> = prints.iter().map(|print| &print["id"]).collect();
    ids.sort();
    ids.dedup();
    assert_eq!((prints.len(), ids.len()), (DEMO_PRINTS, DEMO_PRINTS));
    let (_, log) = server.stop();
    let asked = log
        .iter()
        .filter(|line| line.contains("/collections/prints/items\""))
        .count();
    assert!(
        asked >= DEMO_PRINTS / 50,
        "{asked} pages were asked for: {log:#?}"
    );
}

#[test]
fn it_filters_by_a_box() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let page = server.get("/collections/prints/items?limit=10000").json();
    let places: Vec<Vec<f64>> = features(&page)
        .iter()
        .map(|one| numbers(&one["geometry"]["coordinates"]))
        .collect();
    for middle in places.iter().step_by(300) {
        let [west, south, east, north] = [
            middle[0] - 6e-5,
            middle[1] - 4e-5,
            middle[0] + 5e-5,
            middle[1] + 7e-5,
        ];
        let edges = [west, south, east, north].map(|edge| edge.to_string());
        let mut arguments = vec!["-so", "-spat"];
        arguments.extend(edges.iter().map(String::as_str));
        let source = source(&server);
        arguments.extend([source.as_str(), "prints"]);
        let inside =
            |place: &&Vec<f64>| (west..=east).contains(&place[0]) && (south..=north).contains(&place[1]);
        let expected = places.iter().filter(inside).count();
        assert!(expected > 1 && expected < DEMO_PRINTS);
        assert_eq!(count(&gdal("ogrinfo", &arguments).out), expected);
    }
}

#[test]
fn a_geopackage_holds_what_the_sheets_held() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    let package = ledger.file("all.gpkg");
    let package = package.to_str().unwrap();
    let _ = gdal("ogr2ogr", &["-f", "GPKG", package, &source(&server)]);
    for (site, epsg, files) in SITES {
        let sheets = sheets(site, files);
        let (filter, crs) = (format!("site = '{site}'"), format!("EPSG:{epsg}"));
        let arguments = [
            "-f",
            "CSV",
            "/vsistdout/",
            package,
            "prints",
            "-where",
            &filter,
            "-t_srs",
            &crs,
            "-lco",
            "GEOMETRY=AS_XY",
        ];
        let prints = table(&gdal("ogr2ogr", &arguments).out);
        assert_eq!(prints.len(), sheets.len(), "{site}");
        for print in prints {
            same_print(&print, &sheets[&print["id"]]);
        }
    }
}

fn same_print(print: &Record, row: &Record) {
    let number = |text: &String| {
        text.parse::<f64>()
            .unwrap_or_else(|_| panic!("{text} in {print:?}"))
    };
    for (geometry, column) in [("X", "easting_m"), ("Y", "northing_m")] {
        let (drawn, held, measured) = (
            number(&print[geometry]),
            number(&print[column]),
            number(&row[column]),
        );
        assert!((drawn - measured).abs() <= TENTH_MM, "{drawn} for {measured}");
        assert!((held - measured).abs() <= TENTH_MM, "{held} for {measured}");
    }
    for (column, cell) in row {
        match column.as_str() {
            // The id has them; and what holds lists and further columns is compared elsewhere.
            "surface" | "print" | "overlies" | "depth_samples" | "photo" => {}
            "observed_on" => assert_eq!(print[column].replace('/', "-"), *cell),
            _ if cell.is_empty() => assert_eq!(print[column], "", "{column} of {print:?}"),
            _ if cell.parse::<f64>().is_ok() => {
                assert!(
                    (number(&print[column]) - number(cell)).abs() < 1e-9,
                    "{column} of {print:?}"
                );
            }
            _ => assert_eq!(print[column], *cell, "{column} of {print:?}"),
        }
    }
}

#[test]
fn a_sites_projected_coordinates_come_straight_from_the_service() {
    let ledger = Ledger::demo();
    let server = ledger.serve(&[]);
    for (site, epsg, files) in SITES {
        let crs = format!("http://www.opengis.net/def/crs/EPSG/0/{epsg}");
        let address = format!(
            "{}/collections/prints/items?site={site}&limit=1000&crs={crs}",
            server.base()
        );
        let code = format!("EPSG:{epsg}");
        let arguments = [
            "-f",
            "CSV",
            "/vsistdout/",
            &address,
            "-a_srs",
            &code,
            "-lco",
            "GEOMETRY=AS_XY",
        ];
        let prints = table(&gdal("ogr2ogr", &arguments).out);
        let sheets = sheets(site, files);
        assert_eq!(prints.len(), sheets.len());
        for print in prints {
            let row = &sheets[&print["id"]];
            // The authority of EPSG:2193 writes northing before easting, and so does the service.
            let (first, second) = if epsg == 2193 {
                ("northing_m", "easting_m")
            } else {
                ("easting_m", "northing_m")
            };
            for (drawn, measured) in [(&print["X"], &row[first]), (&print["Y"], &row[second])] {
                let [drawn, measured]: [f64; 2] = [drawn, measured].map(|text| text.parse().unwrap());
                assert!(
                    (drawn - measured).abs() <= TENTH_MM / 2.0,
                    "{drawn} for {measured}"
                );
            }
        }
    }
}
