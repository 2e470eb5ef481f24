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

#[derive(Debug, Deserialize)]
struct Told {
    epsg: u32,
    lon_deg: f64,
    lat_deg: f64,
    convergence_deg: f64,
    scale: f64,
}

impl Told {
    fn place(&self) -> LonLat {
        LonLat {
            lon_deg: self.lon_deg,
            lat_deg: self.lat_deg,
        }
    }
}

/// A turn from one direction to another, −180 to 180 degrees.
fn turn_deg(from_deg: f64, to_deg: f64) -> f64 {
    (to_deg - from_deg + 180.0).rem_euclid(360.0) - 180.0
}

/// Our version of PROJ and the other take the derivatives of a projection in the same numerical way, so that the
/// numbers agree to the last bit on the machine where both were run; elsewhere its last digits may differ.
#[test]
fn convergence_and_scale_agree_with_pyproj() {
    let told = reference::<Told>("factors_pyproj.csv");
    let mut codes: Vec<u32> = told.iter().map(|told| told.epsg).collect();
    codes.dedup();
    assert_eq!((told.len(), codes.len()), (300, 12));
    for told in told {
        let found = Crs::for_site(told.epsg).unwrap().factors(told.place()).unwrap();
        let off_deg = turn_deg(told.convergence_deg, found.convergence_deg).abs();
        assert!(off_deg <= 1e-9, "{found:?} for {told:?}");
        assert!(
            (found.scale / told.scale - 1.0).abs() <= 1e-9,
            "{found:?} for {told:?}"
        );
    }
}

/// The easting and northing of a step of so many degrees of latitude along the meridian.
fn step_north(crs: &Crs, from: LonLat, step_deg: f64) -> [f64; 2] {
    let at = |lat_deg: f64| LonLat { lat_deg, ..from };
    let ends = [
        at(from.lat_deg - step_deg / 2.0),
        at(from.lat_deg + step_deg / 2.0),
    ];
    let ends = crs.from_lonlat(&ends).unwrap();
    [ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]]
}

/// A step to the north has the true azimuth 0: its azimuth on the grid is minus the convergence, and its length
/// on the grid is the scale times that on the ground. No factors of PROJ are asked for here.
///
/// The ground length is M Δφ, M = a (1 − e²) / (1 − e² sin² φ)^(3/2) (Snyder, Map projections: a working manual
/// (1987), equation 4-18, number from memory), on GRS 80. The other datums lie some hundred
/// metres off that of CRS84 and turn against it by some seconds of arc, and their ellipsoids differ by up to 10⁻⁴ in size.
#[test]
fn convergence_and_scale_are_those_of_a_step_to_the_north() {
    const STEP_DEG: f64 = 2e-4;
    const OTHER_DATUMS: [u32; 4] = [27700, 28992, 5514, 2056];
    let (a_m, flattening) = (6_378_137.0, 1.0 / 298.257_222_101);
    let e2 = flattening * (2.0 - flattening);
    for told in reference::<Told>("factors_pyproj.csv") {
        let [east_m, north_m] = step_north(&Crs::find(told.epsg).unwrap(), told.place(), STEP_DEG);
        let sine = told.lat_deg.to_radians().sin();
        let meridian_m = a_m * (1.0 - e2) / (1.0 - e2 * sine * sine).powf(1.5);
        let scale = east_m.hypot(north_m) / (meridian_m * STEP_DEG.to_radians());
        let (most_deg, most_part) = if OTHER_DATUMS.contains(&told.epsg) {
            (3e-3, 1e-4)
        } else {
            (1e-8, 1e-9)
        };
        let off_deg = turn_deg(-told.convergence_deg, east_m.atan2(north_m).to_degrees()).abs();
        assert!(off_deg <= most_deg, "{off_deg}° for {told:?}");
        assert!(
            (scale / told.scale - 1.0).abs() <= most_part,
            "{scale} for {told:?}"
        );
    }
}

/// Longitudes of some older datums are counted from Paris (2.34° E), Ferro (17.67° W) or elsewhere.
#[test]
fn convergence_is_right_whatever_meridian_a_datum_counts_from() {
    for (epsg, lon_deg, lat_deg) in [
        (27572, 5.0, 46.5),
        (5221, 14.0, 49.8),
        (29702, 48.0, -20.0),
        (27700, -4.0, 56.0),
    ] {
        let (crs, place) = (Crs::for_site(epsg).unwrap(), LonLat { lon_deg, lat_deg });
        let [east_m, north_m] = step_north(&crs, place, 2e-4);
        let found = crs.factors(place).unwrap();
        let off_deg = turn_deg(-found.convergence_deg, east_m.atan2(north_m).to_degrees()).abs();
        assert!(off_deg <= 3e-3, "EPSG:{epsg}: {off_deg}° off {found:?}");
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
