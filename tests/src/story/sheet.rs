//! Invented field sheets, and features in answers.

use serde_json::Value;
use std::fmt::Write;

/// A sheet of one surface in EPSG:25830: a straight walk of so many prints from a number on, 0.7 m apart.
#[must_use]
pub fn walk(surface: &str, first: u64, count: u64) -> String {
    let mut sheet = String::from("surface,print,easting_m,northing_m,length_m\n");
    for no in first..first + count {
        let easting_m = 480_000.0 + (no % 10_000) as f64 * 0.7;
        let northing_m = 4_790_000.0 + (no / 10_000) as f64 * 3.0 + (no % 2) as f64 * 0.2;
        writeln!(sheet, "{surface},P{no:07},{easting_m:.3},{northing_m:.3},0.300")
            .expect("a string takes all");
    }
    sheet
}

/// The features of a collection.
///
/// # Panics
/// When the document is no collection.
#[must_use]
pub fn features(collection: &Value) -> &[Value] {
    collection["features"]
        .as_array()
        .expect("a FeatureCollection has features")
}

/// The numbers of an array.
///
/// # Panics
/// When it is no array of numbers.
#[must_use]
pub fn numbers(array: &Value) -> Vec<f64> {
    let items = array.as_array().unwrap_or_else(|| panic!("no array: {array}"));
    items
        .iter()
        .map(|item| item.as_f64().expect("a number"))
        .collect()
}
