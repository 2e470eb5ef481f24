//! Sheets in the local grid of a site in EPSG:25830.

use super::shelf::Shelf;
use super::tests::{change, site};
use super::{IntakeError, SheetFormat, SheetOptions, check_sheet, take_sheet};
use crate::store::Taken;
use spatial::model::{LocalGrid, Print, Similarity, Site};

const SIMILARITY: Similarity = Similarity {
    east_shift_m: 480_000.0,
    north_shift_m: 4_790_000.0,
    scale: 1.0,
    rotation_deg: 90.0,
};

/// The site with a local grid whose y axis points to the east.
pub(super) fn tied() -> Site {
    Site {
        local_grid: Some(LocalGrid {
            similarity: SIMILARITY,
            rms_m: 0.0,
            tolerance_m: 0.05,
            control: Vec::new(),
        }),
        ..site()
    }
}

fn take(site: &Site, format: SheetFormat, sheet: &str) -> Result<(Taken, Vec<Print>), IntakeError> {
    let shelf = Shelf::new(site);
    let options = SheetOptions::default();
    let taken = take_sheet(&shelf, site, format, sheet.as_bytes(), &options, &change());
    if taken.is_err() {
        assert!(shelf.prints().is_empty());
        assert!(
            check_sheet(site, format, sheet.as_bytes(), &options).is_err(),
            "{sheet}"
        );
    }
    Ok((taken?.taken, shelf.prints()))
}

/// The sheet has exactly these faults: each line begins with the first text and holds the second.
fn has_faults(site: &Site, format: SheetFormat, sheet: &str, expected: &[(&str, &str)]) {
    let Err(IntakeError::Faults(found)) = take(site, format, sheet) else {
        panic!("not refused for faults: {sheet}");
    };
    assert_eq!(found.faults.len(), expected.len(), "{sheet}: {found:#?}");
    for (fault, (start, part)) in found.faults.iter().zip(expected) {
        let line = fault.to_string();
        assert!(line.starts_with(start) && line.contains(part), "{line}");
    }
}

fn has_csv_faults(sheet: &str, expected: &[(&str, &str)]) {
    has_faults(&tied(), SheetFormat::Csv, sheet, expected);
}

/// A collection of Features with these members.
fn collection(features: &[&str]) -> String {
    let features: Vec<String> = features
        .iter()
        .map(|members| format!("{{\"type\":\"Feature\",{members}}}"))
        .collect();
    format!(
        "{{\"type\":\"FeatureCollection\",\"features\":[{}]}}",
        features.join(",")
    )
}

fn places(prints: &[Print]) -> Vec<[f64; 2]> {
    prints
        .iter()
        .map(|print| [print.easting_m, print.northing_m])
        .collect()
}

fn are_near(found: &[[f64; 2]], expected: &[[f64; 2]]) {
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        let away = (found[0] - expected[0]).hypot(found[1] - expected[1]);
        assert!(away < 1e-6, "{found:?} for {expected:?}");
    }
}

#[test]
fn local_places_are_kept_in_the_crs() {
    let sheet = "local_y_m,surface,print,length_m,local_x_m,azimuth_deg\n\
        3,S1,P1,0.3,1,10\n-2.5,S1,P2,0.3,0,\n";
    let (taken, prints) = take(&tied(), SheetFormat::Csv, sheet).unwrap();
    assert_eq!(taken.prints.added, 2);
    // y points to the east and x to the south.
    are_near(
        &places(&prints),
        &[[480_003.0, 4_789_999.0], [479_997.5, 4_790_000.0]],
    );
    assert_eq!(prints[0].azimuth_deg, Some(10.0));
    assert!(
        prints.iter().all(|print| print.remarks.is_none()),
        "nothing of the grid is left"
    );
}

#[test]
fn a_feature_s_own_local_place_goes_before_its_geometry() {
    let print = r#""properties":{"surface":"S1","print":"P1","length_m":0.3,"local_x_m":1,"local_y_m":"3"}"#;
    for geometry in ["null", r#"{"type":"Point","coordinates":[9,9,12.5]}"#] {
        let feature = format!("\"geometry\":{geometry},{print}");
        let (_, prints) = take(&tied(), SheetFormat::GeoJson, &collection(&[&feature])).unwrap();
        are_near(&places(&prints), &[[480_003.0, 4_789_999.0]]);
    }
    // Each feature has its own pair, for a collection has no header row.
    let other = r#""geometry":null,"properties":{"surface":"S1","print":"P2","length_m":0.3,"easting_m":480001,"northing_m":4790001}"#;
    let mixed = collection(&[&format!("\"geometry\":null,{print}"), other]);
    let (_, prints) = take(&tied(), SheetFormat::GeoJson, &mixed).unwrap();
    are_near(
        &places(&prints),
        &[[480_003.0, 4_789_999.0], [480_001.0, 4_790_001.0]],
    );
}

#[test]
fn one_pair_is_enough_and_half_a_pair_too_little() {
    has_csv_faults(
        "surface,print,length_m,easting_m,northing_m,local_x_m,local_y_m\nS1,P1,0.3,480000,4790000,0,0\n",
        &[(
            "row 1, column easting_m, northing_m, local_x_m, local_y_m, expected: one pair",
            "remove",
        )],
    );
    has_csv_faults(
        "surface,print,length_m,easting_m,local_y_m\nS1,P1,0.3,480000,0\n",
        &[(
            "row 1, column easting_m, northing_m, local_x_m, local_y_m",
            "one pair",
        )],
    );
    has_csv_faults(
        "surface,print,length_m,local_x_m\nS1,P1,0.3,0\n",
        &[(
            "row 1, column local_y_m, expected: a column local_y_m",
            "every sheet needs",
        )],
    );
    has_csv_faults(
        "surface,print,length_m,local_x_m,local_y_m\nS1,P1,0.3,,1\nS1,P2,0.3,1,NaN\nS1,P3,0.3,\"1,5\",2\n",
        &[
            ("row 2, column local_x_m, expected: a value", ""),
            ("row 3, column local_y_m, value \"NaN\"", "finite"),
            ("row 4, column local_x_m, value \"1,5\"", "decimal point"),
        ],
    );
    let half = r#""geometry":{"type":"Point","coordinates":[-3,43]},"properties":{"surface":"S1","print":"P1","length_m":0.3,"local_x_m":1}"#;
    let both = r#""geometry":null,"properties":{"surface":"S1","print":"P2","length_m":0.3,"local_x_m":1,"local_y_m":1,"easting_m":480000}"#;
    has_faults(
        &tied(),
        SheetFormat::GeoJson,
        &collection(&[half, both]),
        &[
            ("row 1, column local_y_m, expected: a value", ""),
            (
                "row 2, column easting_m, northing_m, local_x_m, local_y_m",
                "one pair",
            ),
        ],
    );
}

#[test]
fn slips_of_the_pen_are_named() {
    for (header, x, y) in [
        ("surface,print,length_m,Local Y,local_x", "local_x", "Local Y"),
        (
            "surface,print,length_m,local_x_cm,local_y_cm",
            "local_x_cm",
            "local_y_cm",
        ),
    ] {
        has_csv_faults(
            &format!("{header}\nS1,P1,0.3,0,0\n"),
            &[
                (&format!("row 1, column local_x_m, value \"{x}\""), "rename"),
                (&format!("row 1, column local_y_m, value \"{y}\""), "rename"),
            ],
        );
    }
    // Without any hint, both pairs are told.
    has_csv_faults(
        "surface,print,length_m,x,y\nS1,P1,0.3,0,0\n",
        &[
            ("row 1, column easting_m", "local_x_m and local_y_m"),
            ("row 1, column northing_m", "local_x_m and local_y_m"),
        ],
    );
}

#[test]
fn without_a_local_grid_the_way_to_one_is_told() {
    let sheet = "surface,print,length_m,local_x_m,local_y_m\nS1,P1,0.3,0,0\nS1,P2,0.3,0,0\n";
    has_faults(
        &site(),
        SheetFormat::Csv,
        sheet,
        &[(
            "row 1, column local_x_m, local_y_m",
            "`stridebed site tie gannet-ledge`",
        )],
    );
    let feature = r#""geometry":null,"properties":{"surface":"S1","print":"P1","length_m":0.3,"local_x_m":1,"local_y_m":3}"#;
    has_faults(
        &site(),
        SheetFormat::GeoJson,
        &collection(&[feature]),
        &[(
            "row 1, column local_x_m, local_y_m, value \"1, 3\"",
            "`stridebed site tie gannet-ledge`",
        )],
    );
}

#[test]
fn a_place_that_the_grid_puts_elsewhere_is_named_as_it_came() {
    let sheet = "surface,print,length_m,local_x_m,local_y_m\n\
        S1,P1,0.3,480000.5,4790000.25\nS1,P2,0.3,99000000,12.5\nS1,P3,0.3,1e308,-1e308\n";
    has_csv_faults(
        sheet,
        &[
            (
                "row 2, column local_x_m, local_y_m, value \"480000.5, 4790000.25\"",
                "look like an easting and a northing",
            ),
            (
                "row 3, column local_x_m, local_y_m, value \"99000000, 12.5\"",
                "northing -94210000.000, outside the area of EPSG:25830",
            ),
            (
                "row 4, column local_x_m, local_y_m",
                "metres in the site's local grid",
            ),
        ],
    );
}
