//! What is written reads back as the same record.

use super::*;
use crate::intake::shelf::Shelf;
use crate::intake::{IntakeError, SheetFormat, SheetOptions, take_sheet};
use crate::store::{Change, SheetExtent, SheetPrint, SheetStore, SqliteStore, Store, Taken, Tally};
use geo::{LineString, Polygon};
use jiff::civil::date;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use proptest::{collection::vec, option};
use spatial::model::{DepthSample, Extent, ExtentKind, Label, Limb, Print, Record, Remarks, Side, Site};
use std::sync::Arc;

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(4),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

fn site() -> Site {
    Site::new("gannet-ledge".parse().unwrap(), 25830)
}

fn change() -> Change {
    Change {
        author: "the test".to_owned(),
        at: jiff::Timestamp::UNIX_EPOCH,
        deed: "import".to_owned(),
    }
}

fn put(store: &dyn SheetStore, prints: &[SheetPrint], extents: &[SheetExtent]) {
    let mut sheet = store.begin_sheet(&site().slug, &change()).unwrap();
    assert_eq!(sheet.put_prints(prints).unwrap(), []);
    assert_eq!(sheet.put_extents(extents).unwrap(), []);
    sheet.finish().unwrap();
}

fn take(store: &dyn SheetStore, format: SheetFormat, bytes: &[u8]) -> Taken {
    match take_sheet(store, &site(), format, bytes, &SheetOptions::default(), &change()) {
        Ok(report) => report.taken,
        Err(IntakeError::Faults(faults)) => {
            panic!("{:#?}\n{}", faults.faults, String::from_utf8_lossy(bytes))
        }
        Err(error) => panic!("{error}"),
    }
}

fn unchanged(records: usize) -> Tally {
    Tally {
        unchanged: records as u64,
        ..Tally::default()
    }
}

/// Text of a note or a further column: anything but NUL and nothing.
fn any_text() -> impl Strategy<Value = String> {
    "[ -~äé✓\n\r\t\",;]{1,20}"
}

/// A word without spaces around it.
fn word() -> impl Strategy<Value = String> {
    "[!-~é]([ -~é]{0,8}[!-~é])?"
}

fn measures() -> impl Strategy<Value = Print> {
    (
        (200_000.0..800_000.0, 4_000_000.0..8_000_000.0, 0.01..5.0),
        (
            option::of(-500.0..9000.0),
            option::of(0.0..2.0),
            option::of(0.01..5.0),
            option::of(0.0..1.0),
        ),
        (option::of(0.0..360.0), option::of(0.0..180.0)),
        (option::of(0_u8..=10), option::of(0.0_f32..=3.0)),
    )
        .prop_map(|(place, sizes, azimuth, grades)| Print {
            elevation_m: sizes.0,
            position_sd_m: sizes.1,
            width_m: sizes.2,
            depth_m: sizes.3,
            azimuth_deg: azimuth.0,
            azimuth_sd_deg: azimuth.1,
            digits: grades.0,
            preservation: grades.1,
            ..Print::new("P".parse().unwrap(), place.0, place.1, place.2)
        })
}

fn remarks() -> impl Strategy<Value = Option<Box<Remarks>>> {
    let sample = (-1.0..1.0, -1.0..1.0, 0.0..1.0).prop_map(|(along_m, across_m, depth_m)| DepthSample {
        along_m,
        across_m,
        depth_m,
    });
    let further = proptest::collection::btree_map("(weather|team|rock type|Étage)", any_text(), 0..4);
    (vec(sample, 0..3), option::of(any_text()), further, any::<bool>()).prop_map(
        |(depth_samples, note, further, overlies)| {
            let first: Option<Label> = overlies.then(|| "P0".parse().unwrap());
            let remarks = Remarks {
                overlies: first.into_iter().collect(),
                depth_samples,
                note,
                further: further
                    .into_iter()
                    .map(|(name, value)| (name.into(), value))
                    .collect(),
            };
            (remarks != Remarks::default()).then(|| Box::new(remarks))
        },
    )
}

fn any_print() -> impl Strategy<Value = Print> {
    let names = (
        option::of(proptest::sample::select(Side::ALL)),
        option::of(proptest::sample::select(Limb::ALL)),
        option::of(proptest::sample::select(Record::ALL)),
    );
    let words = (
        option::of(word()),
        option::of(word()),
        option::of(1_i16..=9999),
        any::<bool>(),
    );
    (measures(), remarks(), names, words).prop_map(|(print, remarks, names, words)| Print {
        remarks,
        side: names.0,
        limb: names.1,
        record: names.2,
        morphotype: words.0.map(Arc::from),
        observer: words.1.map(Arc::from),
        observed_on: words.2.map(|year| date(year, 2, 28)),
        field_trackway: words.3.then(|| "T1".parse().unwrap()),
        ..print
    })
}

/// Prints with labels and, where they are of a trackway, places in it that differ; over two surfaces.
fn any_prints() -> impl Strategy<Value = Vec<SheetPrint>> {
    vec(any_print(), 1..12).prop_map(|prints| {
        let numbered = prints.into_iter().zip(0_u32..);
        numbered
            .map(|(print, no)| {
                let surface = if no % 2 == 0 { "S1" } else { "S2" };
                let of_surface = no / 2;
                SheetPrint {
                    row: u64::from(no) + 2,
                    surface: surface.parse().unwrap(),
                    print: Print {
                        label: format!("P{of_surface}").parse().unwrap(),
                        field_order: print.field_trackway.is_some().then_some(no + 1),
                        ..print
                    },
                }
            })
            .collect()
    })
}

/// A box with a hole, its corners anything but round numbers.
fn any_extent() -> impl Strategy<Value = SheetExtent> {
    let kind = proptest::sample::select(ExtentKind::ALL);
    (
        300_000.0..700_000.0,
        4_500_000.0..5_500_000.0,
        1.0..50.0,
        kind,
        any::<bool>(),
    )
        .prop_map(|(x, y, size, kind, dated)| {
            let square = |inset: f64| {
                let (low, high) = (inset * size, (1.0 - inset) * size);
                LineString::from(vec![
                    (x + low, y + low),
                    (x + high, y + low),
                    (x + high, y + high),
                    (x + low, y + high),
                    (x + low, y + low),
                ])
            };
            SheetExtent {
                row: 1,
                surface: "S1".parse().unwrap(),
                extent: Extent {
                    label: "E1".parse().unwrap(),
                    kind,
                    polygon: Polygon::new(square(0.0), vec![square(0.3)]),
                    surveyed_on: dated.then(|| date(2024, 5, 31)),
                    revision: 0,
                },
            }
        })
}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn prints_come_back_from_csv(prints in any_prints()) {
        let shelf = Shelf::new(&site());
        put(&shelf, &prints, &[]);
        let mut sheet = Vec::new();
        let exported = csv(Source::now(&shelf), &site().slug, &mut sheet).unwrap();
        prop_assert_eq!(exported.prints, prints.len() as u64);
        let taken = take(&shelf, SheetFormat::Csv, &sheet);
        prop_assert_eq!(taken.prints, unchanged(prints.len()), "{}", String::from_utf8_lossy(&sheet));
    }

    #[test]
    fn prints_and_extents_come_back_from_geojson(prints in any_prints(), extent in any_extent()) {
        let shelf = Shelf::new(&site());
        put(&shelf, &prints, std::slice::from_ref(&extent));
        let mut document = Vec::new();
        let exported = geojson(Source::now(&shelf), &site().slug, &mut document).unwrap();
        prop_assert_eq!(exported, Exported { prints: prints.len() as u64, extents: 1 });
        let taken = take(&shelf, SheetFormat::GeoJson, &document);
        prop_assert_eq!(taken.prints, unchanged(prints.len()));
        prop_assert_eq!(taken.extents, unchanged(1));
    }
}

proptest! {
    #![proptest_config(config(12))]

    #[test]
    fn nothing_changes_in_the_real_store_either(prints in any_prints(), extent in any_extent()) {
        let folder = tempfile::tempdir().unwrap();
        let store = SqliteStore::open(&folder.path().join("store.db")).unwrap();
        store.add_site(&site(), &change()).unwrap();
        put(&store, &prints, std::slice::from_ref(&extent));
        let (mut sheet, mut document) = (Vec::new(), Vec::new());
        csv(Source::now(&store), &site().slug, &mut sheet).unwrap();
        geojson(Source::now(&store), &site().slug, &mut document).unwrap();
        for (format, bytes) in [(SheetFormat::Csv, &sheet), (SheetFormat::GeoJson, &document)] {
            let taken = take(&store, format, bytes);
            prop_assert_eq!(taken.prints, unchanged(prints.len()));
            prop_assert_eq!(taken.trackways.added + taken.trackways.changed, 0);
        }
    }
}

#[test]
fn columns_that_no_print_has_are_left_out_and_numbers_are_short() {
    let shelf = Shelf::new(&site());
    let mut print = Print::new("P1".parse().unwrap(), 480_000.0, 4_790_000.1, 0.3);
    print.preservation = Some(0.1);
    let surface = "S1".parse().unwrap();
    put(
        &shelf,
        &[SheetPrint {
            row: 2,
            surface,
            print,
        }],
        &[],
    );
    let mut sheet = Vec::new();
    csv(Source::now(&shelf), &site().slug, &mut sheet).unwrap();
    let expected =
        "surface,print,easting_m,northing_m,length_m,preservation\nS1,P1,480000,4790000.1,0.3,0.1\n";
    assert_eq!(String::from_utf8(sheet).unwrap(), expected);
}

#[test]
fn an_empty_site_gives_a_header_row_and_an_empty_collection() {
    let shelf = Shelf::new(&site());
    let (mut sheet, mut document) = (Vec::new(), Vec::new());
    csv(Source::now(&shelf), &site().slug, &mut sheet).unwrap();
    geojson(Source::now(&shelf), &site().slug, &mut document).unwrap();
    assert_eq!(sheet, b"surface,print,easting_m,northing_m,length_m\n");
    let document: serde_json::Value = serde_json::from_slice(&document).unwrap();
    assert_eq!(document["type"], "FeatureCollection");
    assert_eq!(document["features"].as_array().unwrap().len(), 0);
}

#[test]
fn geometries_have_nine_decimals_and_lie_where_the_prints_lie() {
    let shelf = Shelf::new(&site());
    let print = Print::new("P1".parse().unwrap(), 480_000.125, 4_790_000.25, 0.3);
    let surface = "S1".parse().unwrap();
    put(
        &shelf,
        &[SheetPrint {
            row: 2,
            surface,
            print,
        }],
        &[],
    );
    let mut document = Vec::new();
    geojson(Source::now(&shelf), &site().slug, &mut document).unwrap();
    let mut document: serde_json::Value = serde_json::from_slice(&document).unwrap();
    assert_eq!(document["features"][0]["id"], "gannet-ledge:S1:P1");
    let position = document["features"][0]["geometry"]["coordinates"].clone();
    for degrees in position.as_array().unwrap() {
        assert!(
            degrees.to_string().split_once('.').unwrap().1.len() <= 9,
            "{degrees}"
        );
    }
    // Without the exact coordinates, the geometry alone must lead back to within 0.2 mm.
    let properties = document["features"][0]["properties"].as_object_mut().unwrap();
    properties.remove("easting_m");
    properties.remove("northing_m");
    take(&shelf, SheetFormat::GeoJson, document.to_string().as_bytes());
    let back = &shelf.prints()[0];
    assert!((back.easting_m - 480_000.125).abs() < 2e-4 && (back.northing_m - 4_790_000.25).abs() < 2e-4);
}
