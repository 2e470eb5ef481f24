//! Sheets of control points, and single ones, for a site in EPSG:25830.

use super::fuzz_tests::config;
use super::tests::site;
use super::{Faults, IntakeError, control_points, parse_control_point};
use proptest::prelude::*;
use spatial::model::ControlPoint;

const HEADER: &str = "name,local_x_m,local_y_m,easting_m,northing_m";

fn read(sheet: &str) -> Result<Vec<ControlPoint>, IntakeError> {
    control_points(&site(), Some(sheet.as_bytes()), &[])
}

fn faults(read: Result<Vec<ControlPoint>, IntakeError>) -> Faults {
    match read {
        Err(IntakeError::Faults(faults)) => faults,
        other => panic!("not refused for faults: {other:?}"),
    }
}

/// The sheet has exactly these faults: each line begins with the first text and holds the second.
fn has_faults(sheet: &str, expected: &[(&str, &str)]) {
    let found = faults(read(sheet)).faults;
    assert_eq!(found.len(), expected.len(), "{sheet}: {found:#?}");
    for (fault, (start, part)) in found.iter().zip(expected) {
        let line = fault.to_string();
        assert!(line.starts_with(start) && line.contains(part), "{line}");
    }
}

#[test]
fn columns_in_any_order_give_the_points_in_the_order_of_names() {
    let plain = format!("{HEADER}\npeg 2,20,0,480020,4790000\npeg 1,-0.5,2.25,480000.125,4790002\n");
    let points = read(&plain).unwrap();
    let first = ControlPoint {
        name: "peg 1".to_owned(),
        local_x_m: -0.5,
        local_y_m: 2.25,
        easting_m: 480_000.125,
        northing_m: 4_790_002.0,
    };
    assert_eq!((points.len(), &points[0]), (2, &first));
    let other = "\u{FEFF}northing_m,remark, name ,easting_m,local_x_m,local_y_m,\r\n\
        4790002,\"wet, loose\", peg 1 ,480000.125,-0.5,2.25,\r\n,,,,,,\r\n\
        4790000,,peg 2,480020,20,0,\r\n";
    assert_eq!(read(other).unwrap(), points);
    let sheet = format!("{HEADER}\npeg 2,20,0,480020,4790000\n");
    let both = control_points(&site(), Some(sheet.as_bytes()), std::slice::from_ref(&first)).unwrap();
    assert_eq!(both, points);
    let none: Option<&[u8]> = None;
    assert_eq!(control_points(&site(), none, &[]).unwrap(), []);
}

#[test]
fn the_header_row_is_checked() {
    has_faults(
        "Name,local_x,local_y,easting_m\np,0,0,480000\n",
        &[
            ("row 1, column name, value \"Name\"", "rename"),
            ("row 1, column local_x_m, value \"local_x\"", "rename"),
            ("row 1, column local_y_m, value \"local_y\"", "rename"),
            (
                "row 1, column northing_m, expected: a column northing_m",
                "control points need",
            ),
        ],
    );
    has_faults(
        "name,local_x_m,local_y_m,easting_m,northing_m,name\np,0,0,480000,4790000,p\n",
        &[("row 1, column name", "once")],
    );
    has_faults(
        "name;local_x_m;local_y_m;easting_m;northing_m\np;0,5;0;480000,5;4790000\n",
        &[("row 1, expected: columns separated by commas", "semicolons")],
    );
}

#[test]
fn every_fault_has_its_row_and_column() {
    let sheet = format!(
        "{HEADER}\n,0,zero,480000,4790000\n\npeg 1,,0,1e999,4790000\n\"peg\n2\",0,2000000,480000,4790000\n\
         peg 3,0,0,480000,\npeg 4,0,0,480000\npeg 5,0,0,4790000,480000\npeg 6,1,1,480001,4790001\n\
         peg 6,2,2,480002,4790002\npeg 7,NaN,0,-3.2,43.2\n"
    );
    has_faults(
        &sheet,
        &[
            ("row 2, column name, expected: a name", "every control point"),
            ("row 2, column local_y_m, value \"zero\"", "a number"),
            (
                "row 4, column local_x_m, expected: a value",
                "every control point",
            ),
            ("row 4, column easting_m, value \"1e999\"", "finite"),
            ("row 5, column name", "one line"),
            ("row 5, column local_y_m, value \"2000000\"", "1,000,000"),
            ("row 6, column northing_m, expected: a value", ""),
            ("row 7, expected: 5 cells", "not 4"),
            ("row 8, column easting_m, northing_m", "swapped"),
            ("row 10, column name, value \"peg 6\"", "once"),
            ("row 11, column local_x_m, value \"NaN\"", "finite"),
        ],
    );
}

#[test]
fn what_is_no_sheet_of_points_is_a_fault() {
    has_faults("", &[("expected: a header row", "empty")]);
    has_faults("\n\n\n\n\n", &[("expected: a header row", "blank lines")]);
    has_faults(HEADER, &[("expected: a row for each control point", "")]);
    has_faults("PK\u{3}\u{4}....", &[("expected: plain text", "")]);
    let latin = [HEADER.as_bytes(), b"\np\xE9g,0,0,480000,4790000\n"].concat();
    let found = faults(control_points(&site(), Some(&latin[..]), &[]));
    assert!(found.faults[0].to_string().contains("UTF-8"), "{found:?}");
    let rows = (0..600).map(|no| format!("\np{no},{no},0,48{no:04},4790000"));
    let many = HEADER.to_owned() + &rows.collect::<String>();
    has_faults(&many, &[("row 502, expected: at most 500", "")]);
}

#[test]
fn single_points_are_held_against_those_of_the_sheet() {
    let sheet = format!("{HEADER}\npeg 1,0,0,480000,4790000\n");
    let more = ["peg 1,5,5,480005,4790005", "peg 2,5,5,5,43"].map(|text| parse_control_point(text).unwrap());
    let found = faults(control_points(&site(), Some(sheet.as_bytes()), &more)).faults;
    assert_eq!(found.len(), 2, "{found:?}");
    assert_eq!((found[0].row, found[0].value.as_deref()), (None, Some("peg 1")));
    assert!(
        found[1].to_string().contains("longitude and latitude"),
        "{found:?}"
    );
}

#[test]
fn a_single_point_is_read() {
    let point = parse_control_point("peg 1, north,-0.5, 2.25,480000.125,4790002").unwrap();
    assert_eq!((point.name.as_str(), point.local_x_m), ("peg 1, north", -0.5));
    assert_eq!((point.local_y_m, point.easting_m), (2.25, 480_000.125));
    for (text, part) in [
        ("", "NAME,X,Y,E,N"),
        ("peg,1,2,3", "NAME,X,Y,E,N"),
        (",1,2,480000,4790000", "a name"),
        ("peg,1,,480000,4790000", "local_y_m"),
        ("peg,1,2,east,4790000", "easting_m \"east\""),
        ("peg,1,2,480000,inf", "finite"),
        ("peg,1,1e9,480000,4790000", "1,000,000"),
        ("p\te\tg,1,2,480000,4790000", "one line"),
    ] {
        let refused = parse_control_point(text).unwrap_err();
        assert!(refused.contains(part), "{text}: {refused}");
    }
}

proptest! {
    #![proptest_config(config(256))]

    #[test]
    fn no_bytes_make_it_panic(rows in "([p1,\"\r\n;é.0-9NaNinfe+\\-]{0,200})", bytes in any::<Vec<u8>>()) {
        for sheet in [format!("{HEADER}\n{rows}").into_bytes(), bytes] {
            if let Ok(points) = control_points(&site(), Some(&sheet[..]), &[]) {
                prop_assert!(!points.is_empty());
                prop_assert!(points.iter().all(|point| point.local_x_m.abs() <= 1e6 && !point.name.is_empty()));
            }
        }
        let _ = parse_control_point(&rows);
    }
}
