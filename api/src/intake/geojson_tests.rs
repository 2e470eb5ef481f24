//! GeoJSON sheets with one oddity each (`fixtures/sheets`), read for a site in EPSG:25830.

use super::SheetFormat;
use super::tests::{faults_of, has_faults, taken};
use spatial::model::ExtentKind;
use std::io::Read;

#[test]
fn geojson_is_taken_by_geometry_or_by_properties() {
    let (taken, shelf) = taken("prints.geojson");
    assert_eq!((taken.prints.added, taken.extents.added), (2, 1));
    let prints = shelf.prints();
    // Snyder, Map projections: a working manual (1987), equations 8-9, 8-10 and 3-21 (numbers from memory), on GRS 80 give
    // E 480114.857, N 4789717.148.
    assert!(
        (prints[0].easting_m - 480_114.857).abs() < 0.01,
        "{:?}",
        prints[0]
    );
    assert!(
        (prints[0].northing_m - 4_789_717.148).abs() < 0.01,
        "{:?}",
        prints[0]
    );
    assert_eq!((prints[0].elevation_m, prints[0].digits), (Some(12.5), Some(3)));
    assert_eq!(prints[0].azimuth_deg, None);
    let further = &prints[0].remarks.as_ref().unwrap().further;
    let expected = [("team", "2"), ("weather", "{\"sky\":\"dry\"}")];
    assert!(
        further
            .iter()
            .map(|(name, value)| (&**name, &**value))
            .eq(expected),
        "{further:?}"
    );
    assert_eq!(
        (prints[1].easting_m, prints[1].northing_m),
        (480_001.25, 4_790_000.5)
    );
    let extents = shelf.extents();
    assert_eq!(extents[0].kind, ExtentKind::Exposed);
    assert_eq!(extents[0].polygon.exterior().0.len(), 5);
}

#[test]
fn geojson_in_the_site_s_own_crs_is_taken_as_it_is() {
    let (_, shelf) = taken("projected.geojson");
    let prints = shelf.prints();
    assert_eq!(
        (prints[0].easting_m, prints[0].northing_m),
        (480_000.5, 4_790_000.25)
    );
    assert_eq!(
        shelf.extents()[0].polygon.exterior().0[0],
        geo::coord! { x: 479_990.0, y: 4_789_990.0 }
    );
}

#[test]
fn faults_of_features_are_listed() {
    has_faults(
        "faults.geojson",
        &[
            ("row 1, column geometry, value \"43.26, -3.245\"", "swapped"),
            (
                "row 2, column geometry, value \"480000.5, 4790000.25\"",
                "look like metres",
            ),
            ("row 3, column geometry", "a Point, or the properties"),
            ("row 4, column length_m, value \"long\"", "a number"),
            ("row 5, column geometry", "cross itself"),
            ("row 6, column extent", "a value"),
            ("row 6, column kind, value \"open\"", "exposed, covered"),
            ("row 6, column geometry", "a Polygon"),
            ("row 7, expected: a Feature", ""),
            ("row 8, column geometry", ""),
        ],
    );
}

#[test]
fn documents_that_are_no_collection_are_faults() {
    has_faults(
        "crs_after_features.geojson",
        &[("row 1, column geometry", "metres"), ("row 2", "crs before")],
    );
    has_faults(
        "unknown_crs.geojson",
        &[("column crs, value \"EPSG:1\"", "not known")],
    );
    has_faults("cut_short.geojson", &[("row 2", "after feature 1")]);
    has_faults(
        "one_point.geojson",
        &[("expected: a GeoJSON object", "FeatureCollection")],
    );
    has_faults(
        "empty_collection.geojson",
        &[("expected: a feature for each print", "")],
    );
    let endless =
        b"{\"type\":\"FeatureCollection\",\"features\":[\"".chain(std::io::repeat(b'x').take(1 << 30));
    assert!(faults_of(SheetFormat::GeoJson, endless)[0].contains("1 MiB"));
    let deep = b"{\"x\":".chain(std::io::repeat(b'[').take(1 << 30));
    assert_eq!(faults_of(SheetFormat::GeoJson, deep).len(), 1);
}
