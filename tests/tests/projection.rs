//! Coordinates agree with values from outside, to 0.1 mm: as the library gives them and as the service does.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use api::crs::Crs;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use spatial::frame::LonLat;
use std::fmt::Write;
use tests::story::{Ledger, features, numbers};

const TENTH_MM: f64 = 1e-4;
/// 0.1 mm in degrees of a meridian, whose degree has 110.57 km at the equator and 111.69 km at the pole.
const TENTH_MM_DEG: f64 = TENTH_MM / 111_000.0;

#[derive(Debug, Deserialize)]
struct Point {
    epsg: u32,
    easting_m: f64,
    northing_m: f64,
    lon_deg: f64,
    lat_deg: f64,
}

#[derive(Debug, Deserialize)]
struct Published {
    place: String,
    epsg: u32,
    easting_m: f64,
    northing_m: f64,
    lon_deg: f64,
    lat_deg: f64,
    convergence_deg: f64,
    scale: f64,
    tolerance_m: f64,
}

fn reference<T: DeserializeOwned>(file: &str) -> Vec<T> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference");
    let mut table = csv::Reader::from_path(format!("{folder}/{file}")).unwrap();
    table.deserialize().map(Result::unwrap).collect()
}

/// The points by CRS; see `fixtures/reference/README.md` for how they were computed.
fn points() -> Vec<(u32, Vec<Point>)> {
    let mut all: Vec<(u32, Vec<Point>)> = Vec::new();
    for point in reference::<Point>("projected_points.csv") {
        match all.last_mut() {
            Some((epsg, points)) if *epsg == point.epsg => points.push(point),
            _ => all.push((point.epsg, vec![point])),
        }
    }
    let counts: Vec<(u32, usize)> = all.iter().map(|(epsg, points)| (*epsg, points.len())).collect();
    assert_eq!(counts, [(25830, 200), (32736, 200), (2193, 200)]);
    all
}

fn close(found: LonLat, expected: &Point, tolerance_deg: f64) {
    let shrunk = expected.lat_deg.to_radians().cos();
    let across = (found.lon_deg - expected.lon_deg).abs() * shrunk;
    let along = (found.lat_deg - expected.lat_deg).abs();
    assert!(
        across <= tolerance_deg && along <= tolerance_deg,
        "{found:?} for {expected:?}"
    );
}

#[test]
fn random_points_agree_with_pyproj_both_ways() {
    for (epsg, points) in points() {
        let crs = Crs::find(epsg).unwrap();
        let grid: Vec<[f64; 2]> = points.iter().map(|p| [p.easting_m, p.northing_m]).collect();
        for (found, expected) in crs.to_lonlat(&grid).unwrap().into_iter().zip(&points) {
            close(found, expected, TENTH_MM_DEG);
        }
        let places: Vec<LonLat> = points
            .iter()
            .map(|p| LonLat {
                lon_deg: p.lon_deg,
                lat_deg: p.lat_deg,
            })
            .collect();
        for ([easting_m, northing_m], expected) in crs.from_lonlat(&places).unwrap().into_iter().zip(&points)
        {
            let away = (easting_m - expected.easting_m).hypot(northing_m - expected.northing_m);
            assert!(away <= TENTH_MM, "{easting_m} {northing_m} for {expected:?}");
        }
    }
}

#[test]
fn the_same_points_come_out_of_the_service() {
    for (epsg, points) in points() {
        let ledger = Ledger::new();
        ledger.add_site("field", &format!("EPSG:{epsg}"), &[]);
        let mut sheet = String::from("surface,print,easting_m,northing_m,length_m\n");
        for (no, point) in points.iter().enumerate() {
            let Point {
                easting_m,
                northing_m,
                ..
            } = point;
            writeln!(sheet, "S1,P{no:03},{easting_m:.4},{northing_m:.4},0.3").unwrap();
        }
        ledger.import("field", "sheet.csv", sheet).done();
        let server = ledger.serve(&[]);
        let page = server
            .get("/collections/prints/items?limit=1000")
            .with_status(200)
            .json();
        assert_eq!(features(&page).len(), points.len());
        for (feature, expected) in features(&page).iter().zip(&points) {
            let [lon_deg, lat_deg] = numbers(&feature["geometry"]["coordinates"])[..] else {
                panic!("{feature}")
            };
            // Answers are rounded to nine decimals.
            close(LonLat { lon_deg, lat_deg }, expected, TENTH_MM_DEG + 0.5e-9);
        }
        let crs = format!("crs=http://www.opengis.net/def/crs/EPSG/0/{epsg}");
        let page = server.get(&format!("/collections/prints/items?limit=1000&{crs}"));
        for (feature, expected) in features(&page.with_status(200).json()).iter().zip(&points) {
            let mut found = numbers(&feature["geometry"]["coordinates"]);
            if epsg == 2193 {
                found.reverse();
            }
            assert_eq!(found, [expected.easting_m, expected.northing_m], "{epsg}");
        }
    }
}

#[test]
fn published_worked_examples_come_to_the_printed_digits() {
    for published in reference::<Published>("published_points.csv") {
        let crs = Crs::find(published.epsg).unwrap();
        let place = LonLat {
            lon_deg: published.lon_deg,
            lat_deg: published.lat_deg,
        };
        let [easting_m, northing_m] = crs.from_lonlat(&[place]).unwrap()[0];
        let away = (easting_m - published.easting_m).hypot(northing_m - published.northing_m);
        assert!(
            away <= published.tolerance_m,
            "{}: {easting_m} {northing_m}",
            published.place
        );
        let factors = crs.factors(place).unwrap();
        // The manual prints hundredths of a second of arc, and eight decimals of the scale.
        assert!((factors.convergence_deg - published.convergence_deg).abs() < 0.006 / 3600.0);
        assert!((factors.scale - published.scale).abs() < 6e-9);
    }
}
