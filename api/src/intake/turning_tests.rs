//! Whole sheets with azimuths of another north than the grid's.

use super::super::shelf::Shelf;
use super::super::tests::change;
use super::super::{IntakeError, Report, SheetFormat, SheetOptions, check_sheet, take_sheet};
use super::*;
use jiff::civil::{Date, date};
use spatial::model::Site;
use std::fmt::Write;

const HEAD: &str = "surface,print,easting_m,northing_m,length_m,azimuth_deg,elevation_m,observed_on\n";
const MAGNETIC: North = North::Magnetic { surveyed_on: None };

fn surveyed_on(day: Date) -> North {
    North::Magnetic {
        surveyed_on: Some(day),
    }
}

/// What is taken of a sheet of a site, and the azimuths then stored; or its faults as lines. A check alone finds
/// the same.
fn take(code: u32, north: North, rows: &str) -> Result<(Report, Vec<Option<f64>>), Vec<String>> {
    let site = Site::new("gannet-ledge".parse().unwrap(), code);
    let (shelf, sheet) = (Shelf::new(&site), format!("{HEAD}{rows}"));
    let options = SheetOptions {
        north,
        ..SheetOptions::default()
    };
    let checked = check_sheet(&site, SheetFormat::Csv, sheet.as_bytes(), &options);
    match take_sheet(
        &shelf,
        &site,
        SheetFormat::Csv,
        sheet.as_bytes(),
        &options,
        &change(),
    ) {
        Ok(report) => {
            assert_eq!(checked.unwrap().azimuths, report.azimuths);
            let azimuths = shelf.prints().iter().map(|print| print.azimuth_deg).collect();
            Ok((report, azimuths))
        }
        Err(IntakeError::Faults(faults)) => {
            assert!(shelf.prints().is_empty());
            assert!(matches!(checked, Err(IntakeError::Faults(found)) if found == faults));
            Err(faults.faults.iter().map(ToString::to_string).collect())
        }
        Err(other) => panic!("{other:?}"),
    }
}

#[test]
fn grid_azimuths_stay_as_they_are_and_nothing_is_told_of_them() {
    let (report, azimuths) = take(25830, North::Grid, "S1,P1,480000,4790000,0.3,123.456,,\n").unwrap();
    assert_eq!((report.azimuths, azimuths), (None, vec![Some(123.456)]));
}

#[test]
fn each_azimuth_is_turned_at_its_own_print() {
    // Convergences of EPSG:25830 from pyproj 3.7.2: −0.41302077 at longitude −3.6, latitude 43.5; by the central
    // meridian (easting 500000) it is zero.
    let rows = "S1,P1,451493.355,4816516.213,0.3,0.2,,\nS1,P2,500000,4816516,0.3,90,,\nS1,P3,500000,4816516,0.3,,,\n";
    let (report, azimuths) = take(25830, North::True, rows).unwrap();
    assert!((azimuths[0].unwrap() - 0.613_020_77).abs() < 1e-7, "{azimuths:?}");
    assert!((azimuths[1].unwrap() - 90.0).abs() < 1e-9, "{azimuths:?}");
    assert_eq!(azimuths[2], None);
    let told = report.azimuths.unwrap();
    assert_eq!(
        (told.north, told.turned, told.declination_sd_deg),
        ("true", 2, None)
    );
    assert!(told.least_turn_deg.unwrap().abs() < 1e-9, "{told:?}");
    assert!(
        (told.greatest_turn_deg.unwrap() - 0.413_020_77).abs() < 1e-7,
        "{told:?}"
    );
}

#[test]
fn azimuths_stay_below_the_full_circle() {
    let rows = "S1,P1,451493.355,4816516.213,0.3,359.9,,\nS1,P2,451493.355,4816516.213,0.3,360,,\n";
    let (_, azimuths) = take(25830, North::True, rows).unwrap();
    assert!((azimuths[0].unwrap() - 0.313_020_77).abs() < 1e-7, "{azimuths:?}");
    assert!((azimuths[1].unwrap() - 0.413_020_77).abs() < 1e-7, "{azimuths:?}");
}

#[test]
fn a_sheet_without_azimuths_has_none_to_turn() {
    let (report, _) = take(25830, MAGNETIC, "S1,P1,480000,4790000,0.3,,,\n").unwrap();
    let told = report.azimuths.unwrap();
    assert_eq!(
        (told.turned, told.least_turn_deg, told.greatest_turn_deg),
        (0, None, None)
    );
}

#[test]
fn what_magnetic_north_cannot_be_told_of_is_a_fault_of_the_row() {
    let rows = "S1,P1,480000,4790000,0.3,10,,2026-05-01\n\
                S1,P2,480000,4790000,0.3,10,,\n\
                S1,P3,480000,4790000,0.3,10,,1987-06-01\n\
                S1,P4,480000,4790000,0.3,10,900000,2026-05-01\n\
                S1,P5,480000,4790000,0.3,,,1987-06-01\n";
    let found = take(25830, MAGNETIC, rows).unwrap_err();
    assert_eq!(found.len(), 3, "{found:#?}");
    for (line, start, part) in [
        (
            &found[0],
            "row 3, column observed_on, expected: the day",
            "(surveyed_on)",
        ),
        (
            &found[1],
            "row 4, column observed_on, value \"1987-06-01\"",
            "2020-01-01 to 2029-12-31",
        ),
        (
            &found[2],
            "row 5, column elevation_m, value \"900000\"",
            "-1000 to 850000 m",
        ),
    ] {
        assert!(line.starts_with(start) && line.contains(part), "{line}");
    }
}

#[test]
fn a_compass_near_the_magnetic_pole_is_a_fault_and_a_weak_one_is_told() {
    // EPSG:5041 at longitude 139, latitude 85.8, and at longitude −100, latitude 76.
    let (useless, weak) = (
        "S1,P1,2306052,2352072,0.3,33.5,,\n",
        "S1,P2,461927,2271204,0.3,33.5,,\n",
    );
    let day = surveyed_on(date(2025, 1, 1));
    let found = take(5041, day, useless).unwrap_err();
    let start = "row 2, column azimuth_deg, value \"33.5\", expected: a true or grid azimuth";
    assert!(found[0].starts_with(start) && found.len() == 1, "{found:#?}");
    let told = take(5041, day, weak).unwrap().0.azimuths.unwrap();
    assert_eq!((told.turned, told.weak_compass), (1, 1));
    assert!(told.declination_sd_deg.unwrap() > 0.5, "{told:?}");
}

#[test]
fn a_wrong_day_for_the_whole_sheet_is_one_fault_however_long_it_is() {
    let mut rows = String::new();
    for no in 0..2_500 {
        writeln!(rows, "S1,P{no},480000,4790000,0.3,10,,").unwrap();
    }
    let found = take(25830, surveyed_on(date(2019, 12, 31)), &rows).unwrap_err();
    assert_eq!(found.len(), 1, "{found:#?}");
    assert!(
        found[0].starts_with("column surveyed_on, value \"2019-12-31\""),
        "{found:#?}"
    );
    let found = take(25830, MAGNETIC, &rows).unwrap_err();
    assert_eq!(found.len(), 2_500);
}

/// Faults that reading finds and those of azimuths come in one list, and labels are held against each other
/// although an azimuth is at fault.
#[test]
fn faults_are_listed_with_all_others_in_the_order_of_rows() {
    let rows = "S1,P1,480000,4790000,0.3,10,,\n\
                S1,P2,480000,4790000,30,10,,2026-05-01\n\
                S1,P1,480000,4790000,0.3,10,,2026-05-01\n";
    let site = Site::new("gannet-ledge".parse().unwrap(), 25830);
    let options = SheetOptions {
        north: MAGNETIC,
        ..SheetOptions::default()
    };
    let sheet = format!("{HEAD}{rows}");
    let refused = take_sheet(
        &Shelf::new(&site),
        &site,
        SheetFormat::Csv,
        sheet.as_bytes(),
        &options,
        &change(),
    );
    let Err(IntakeError::Faults(faults)) = refused else {
        panic!("{refused:?}")
    };
    let rows: Vec<Option<u64>> = faults.faults.iter().map(|fault| fault.row).collect();
    assert_eq!(rows, [Some(2), Some(3), Some(4)]);
}

/// Prints of GeoJSON are turned where they are once they have been transformed.
#[test]
fn geojson_is_turned_at_the_transformed_place() {
    let site = Site::new("gannet-ledge".parse().unwrap(), 25830);
    let shelf = Shelf::new(&site);
    let sheet = r#"{ "type": "FeatureCollection", "features": [{ "type": "Feature",
        "geometry": { "type": "Point", "coordinates": [-3.6, 43.5] },
        "properties": { "surface": "S1", "print": "P1", "length_m": 0.3, "azimuth_deg": 10 } }] }"#;
    let options = SheetOptions {
        north: North::True,
        ..SheetOptions::default()
    };
    take_sheet(
        &shelf,
        &site,
        SheetFormat::GeoJson,
        sheet.as_bytes(),
        &options,
        &change(),
    )
    .unwrap();
    let azimuth_deg = shelf.prints()[0].azimuth_deg.unwrap();
    assert!((azimuth_deg - 10.413_020_77).abs() < 1e-7, "{azimuth_deg}");
}

#[test]
fn a_sheet_taken_twice_is_the_same_to_the_last_bit() {
    let site = Site::new("gannet-ledge".parse().unwrap(), 25830);
    let (shelf, mut rows) = (Shelf::new(&site), HEAD.to_owned());
    for no in 0..3_000 {
        let (x, azimuth) = (451_000.0 + f64::from(no) * 0.37, f64::from(no) * 0.12);
        writeln!(rows, "S1,P{no},{x},4816516,0.3,{azimuth},,").unwrap();
    }
    let options = SheetOptions {
        north: surveyed_on(date(2026, 5, 1)),
        ..SheetOptions::default()
    };
    let take = || {
        take_sheet(
            &shelf,
            &site,
            SheetFormat::Csv,
            rows.as_bytes(),
            &options,
            &change(),
        )
        .unwrap()
    };
    let (first, again) = (take(), take());
    assert_eq!(first.azimuths, again.azimuths);
    assert_eq!(
        (again.taken.prints.changed, again.taken.prints.unchanged),
        (0, 3_000)
    );
}
