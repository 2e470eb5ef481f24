//! Sheets with one oddity each (`fixtures/sheets`), read for a site in EPSG:25830.

use super::shelf::Shelf;
use super::*;
use crate::store::{Change, Taken};
use spatial::model::{Limb, Print, Record, Side, Site};
use std::cell::Cell;
use std::io::Read;

pub(crate) fn site() -> Site {
    Site::new("gannet-ledge".parse().unwrap(), 25830)
}

pub(crate) fn change() -> Change {
    Change {
        author: "the test".to_owned(),
        at: jiff::Timestamp::UNIX_EPOCH,
        deed: "import".to_owned(),
    }
}

fn sheet(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../fixtures/sheets")
        .join(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

pub(super) fn take(
    shelf: &Shelf,
    format: SheetFormat,
    reader: impl Read + Send,
) -> Result<Taken, IntakeError> {
    let options = SheetOptions::default();
    take_sheet(shelf, &site(), format, reader, &options, &change()).map(|report| report.taken)
}

pub(super) fn taken(name: &str) -> (Taken, Shelf) {
    let shelf = Shelf::new(&site());
    let format = SheetFormat::of_file(Path::new(name)).unwrap();
    let taken = take(&shelf, format, &sheet(name)[..]).unwrap_or_else(|error| panic!("{name}: {error:?}"));
    (taken, shelf)
}

/// The faults of a sheet as lines; nothing of it may be stored.
pub(super) fn faults(name: &str) -> Vec<String> {
    faults_of(SheetFormat::of_file(Path::new(name)).unwrap(), &sheet(name)[..])
}

pub(super) fn faults_of(format: SheetFormat, reader: impl Read + Send) -> Vec<String> {
    let shelf = Shelf::new(&site());
    let refused = take(&shelf, format, reader);
    assert!(shelf.prints().is_empty() && shelf.extents().is_empty());
    match refused {
        Err(IntakeError::Faults(faults)) => {
            assert_eq!(faults.total, faults.faults.len() as u64);
            faults.faults.iter().map(ToString::to_string).collect()
        }
        other => panic!("not refused for faults: {other:?}"),
    }
}

/// The sheet has exactly these faults: each line begins with the first text and holds the second.
pub(super) fn has_faults(name: &str, expected: &[(&str, &str)]) {
    let found = faults(name);
    assert_eq!(found.len(), expected.len(), "{name}: {found:#?}");
    for (line, (start, part)) in found.iter().zip(expected) {
        assert!(line.starts_with(start) && line.contains(part), "{name}: {line}");
    }
}

#[test]
fn every_column_is_read() {
    let (taken, shelf) = taken("complete.csv");
    assert_eq!(taken.prints.added, 3);
    let prints = shelf.prints();
    let first = Print {
        elevation_m: Some(12.25),
        position_sd_m: Some(0.01),
        width_m: Some(0.24),
        depth_m: Some(0.03),
        azimuth_deg: Some(0.0),
        azimuth_sd_deg: Some(5.0),
        side: Some(Side::Left),
        limb: Some(Limb::Pes),
        record: Some(Record::Print),
        digits: Some(3),
        preservation: Some(2.5),
        morphotype: Some("broad three-toed".into()),
        field_trackway: Some("T1".parse().unwrap()),
        field_order: Some(1),
        observed_on: Some(jiff::civil::date(2024, 5, 31)),
        observer: Some("party A".into()),
        remarks: prints[0].remarks.clone(),
        ..Print::new("P1".parse().unwrap(), 480_000.5, 4_790_000.25, 0.31)
    };
    assert_eq!(prints[0], first);
    let remarks = prints[0].remarks.as_ref().unwrap();
    assert_eq!(remarks.note.as_deref(), Some("heel, \"blurred\""));
    assert_eq!(remarks.depth_samples.len(), 2);
    assert_eq!(remarks.further, [("weather".into(), "dry".to_owned())]);
    assert_eq!(prints[1].side, Some(Side::Right));
    assert_eq!(prints[2].remarks.as_ref().unwrap().overlies.len(), 2);
    assert_eq!(prints[2].azimuth_deg, None);
}

#[test]
fn the_same_prints_come_out_of_every_harmless_form() {
    let (_, plain) = taken("only_required_columns.csv");
    for name in [
        "free_column_order.csv",
        "windows_line_ends.csv",
        "old_mac_line_ends.csv",
        "byte_order_mark.csv",
        "blank_lines_and_trailing_commas.csv",
    ] {
        assert_eq!(taken(name).1.prints(), plain.prints(), "{name}");
    }
}

#[test]
fn taking_a_sheet_twice_changes_nothing() {
    let (_, shelf) = taken("complete.csv");
    let again = take(&shelf, SheetFormat::Csv, &sheet("complete.csv")[..]).unwrap();
    assert_eq!(
        (again.prints.added, again.prints.changed, again.prints.unchanged),
        (0, 0, 3)
    );
}

#[test]
fn another_delimiter_is_named() {
    has_faults(
        "semicolons.csv",
        &[("row 1, expected: columns separated by commas", "semicolons")],
    );
    has_faults("tabs.csv", &[("row 1", "tabs")]);
    has_faults(
        "semicolons_decimal_commas.csv",
        &[("row 1", "semicolons and decimal commas")],
    );
    has_faults(
        "quoted_decimal_comma.csv",
        &[("row 2, column easting_m, value \"480000,5\"", "480000.5")],
    );
}

#[test]
fn the_header_row_is_checked() {
    has_faults(
        "missing_column.csv",
        &[("row 1, column length_m, expected: a column length_m", "")],
    );
    has_faults(
        "misspelt_column.csv",
        &[
            ("row 1, column easting_m, value \"eastings_m\"", "rename"),
            ("row 1, column length_m, value \"Length_m\"", "rename"),
        ],
    );
    has_faults("duplicate_column.csv", &[("row 1, column note", "once")]);
}

#[test]
fn a_label_comes_once() {
    has_faults(
        "duplicate_labels.csv",
        &[("row 5, column print", "an earlier row")],
    );
    has_faults("overlies_unknown.csv", &[("row", "same surface")]);
}

#[test]
fn numbers_are_numbers() {
    has_faults(
        "text_in_numbers.csv",
        &[
            (
                "row 2, column length_m, value \"about 0.3\", expected: a number",
                "",
            ),
            ("row 3, column easting_m, value \"east\"", ""),
            ("row 3, column digits, value \"three\"", "0 to 10"),
        ],
    );
    has_faults(
        "not_finite.csv",
        &[
            ("row 2, column easting_m, value \"NaN\"", "finite"),
            ("row 3, column northing_m, value \"inf\"", "finite"),
            ("row 4, column length_m, value \"1e999\"", ""),
            ("row 5, column easting_m, value \"0x75300\"", "a number"),
        ],
    );
    has_faults(
        "centimetres.csv",
        &[
            (
                "row 2, column length_m, value \"31\"",
                "31 looks like centimetres",
            ),
            ("row 2, column width_m", "centimetres"),
        ],
    );
}

#[test]
fn places_are_places_of_the_site() {
    has_faults(
        "longitude_latitude.csv",
        &[
            (
                "row 2, column easting_m, northing_m, value \"-3.25, 43.26\"",
                "longitude and latitude",
            ),
            ("row 3", "longitude and latitude"),
        ],
    );
    has_faults("swapped.csv", &[("row 2", "swapped")]);
    has_faults(
        "outside_area.csv",
        &[("row 2", "EPSG:25830 (ETRS89"), ("row 3", "Europe")],
    );
}

#[test]
fn rows_have_the_header_s_cells() {
    has_faults(
        "too_many_and_too_few_cells.csv",
        &[
            ("row 2, expected: 6 cells", "not 7; a cell with a comma"),
            ("row 3, expected: 6 cells", "not 4"),
        ],
    );
    has_faults(
        "quote_not_closed.csv",
        &[("row 2", "cell 6 begins with a double quote")],
    );
}

#[test]
fn what_is_no_text_is_named() {
    has_faults(
        "latin1.csv",
        &[("row 2, column note, value \"tal\u{FFFD}n\"", "UTF-8")],
    );
    has_faults("nul_byte.csv", &[("row 2, column note", "NUL")]);
    has_faults("utf16.csv", &[("expected: UTF-8: this file is UTF-16", "")]);
    has_faults("spreadsheet.csv", &[("expected: plain text", "CSV UTF-8")]);
}

#[test]
fn a_sheet_without_prints_is_a_fault() {
    has_faults("empty.csv", &[("expected: a header row", "the file is empty")]);
    has_faults("header_only.csv", &[("expected: a row for each print", "")]);
    assert_eq!(faults_of(SheetFormat::Csv, &b"\xEF\xBB\xBF"[..]).len(), 1);
    assert_eq!(faults_of(SheetFormat::Csv, &b"\n\r\n\n\n\n"[..]).len(), 1);
}

#[test]
fn labels_and_words_are_checked() {
    has_faults(
        "labels_with_spaces_and_colons.csv",
        &[
            ("row 2, column surface, value \"S 1\"", "hyphen"),
            ("row 3, column print, value \"ledge:S1:P2\"", "last colon"),
        ],
    );
    let found = faults("bad_words.csv").join("\n");
    for (column, part) in [
        ("side", "left, right"),
        ("limb", "pes, manus"),
        ("record", "undertrack"),
        ("preservation", "0 to 3"),
        ("azimuth_deg", "0 to 360"),
        ("observed_on", "2024-05-31"),
        ("order", "whole number from 1"),
        ("depth_m", "from 0"),
        ("depth_samples", "along/across/depth"),
    ] {
        let line = found
            .lines()
            .find(|line| line.contains(&format!("column {column},")));
        assert!(line.is_some_and(|line| line.contains(part)), "{column}: {found}");
    }
}

#[test]
fn a_cell_of_ten_megabytes_is_a_fault() {
    let mut big = sheet("only_required_columns.csv");
    big.extend(b"S1,");
    big.extend(std::iter::repeat_n(b'P', 10 << 20));
    big.extend(b",480000,4790000,0.3\n");
    let found = faults_of(SheetFormat::Csv, &big[..]);
    assert!(
        found[0].starts_with("row 5") && found[0].contains("1 MiB"),
        "{found:?}"
    );
}

#[test]
fn a_huge_sheet_of_faults_lists_so_many_and_counts_all() {
    let mut many = b"surface,print,easting_m,northing_m,length_m\n".to_vec();
    for _ in 0..15_000 {
        many.extend(b"S1,P 1,480000,4790000,31\n");
    }
    let Err(IntakeError::Faults(faults)) =
        check_sheet(&site(), SheetFormat::Csv, &many[..], &SheetOptions::default())
    else {
        panic!("taken")
    };
    assert_eq!((faults.faults.len(), faults.total), (Faults::LISTED, 30_000));
}

#[test]
fn a_batch_of_long_notes_does_not_wait_for_a_thousand_rows() {
    let mut sheet = String::from("surface,print,easting_m,northing_m,length_m,note\n");
    for no in 0..20 {
        sheet += &format!("S1,P{no},480000,4790000,0.3,{}\n", "é".repeat(200_000));
    }
    let batches = Cell::new(0);
    let progress = |_| batches.set(batches.get() + 1);
    let options = SheetOptions {
        progress: Some(&progress),
        ..SheetOptions::default()
    };
    let checked = check_sheet(&site(), SheetFormat::Csv, sheet.as_bytes(), &options).unwrap();
    assert_eq!(checked.prints, 20);
    assert!(batches.get() >= 7, "{} batches for 8 MB", batches.get());
}

#[test]
fn faults_of_rows_and_of_labels_are_listed_together_in_the_order_of_rows() {
    let text = "surface,print,easting_m,northing_m,length_m\n\
        S1,P1,480000,4790000,0.3\nS1,P1,480000,4790001,0.3\nS1,P2,480000,4790001,30\n";
    let found = faults_of(SheetFormat::Csv, text.as_bytes());
    assert!(
        found[0].starts_with("row 3") && found[1].starts_with("row 4"),
        "{found:?}"
    );
}

#[test]
fn a_reader_that_fails_is_no_fault_of_the_sheet() {
    struct Failing;
    impl Read for Failing {
        fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
            Err(std::io::Error::other("the line dropped"))
        }
    }
    for format in [SheetFormat::Csv, SheetFormat::GeoJson] {
        let start: &[u8] = match format {
            SheetFormat::Csv => b"surface,print,easting_m,northing_m,length_m\nS1,P1,480000,4790000,0.3\n",
            SheetFormat::GeoJson => b"{\"type\": \"FeatureCollection\", \"features\": [",
        };
        let shelf = Shelf::new(&site());
        let refused = take(&shelf, format, start.chain(Failing));
        assert!(matches!(refused, Err(IntakeError::Read(_))), "{refused:?}");
        assert!(shelf.prints().is_empty());
    }
}

#[test]
fn progress_reaches_the_sheet_s_length() {
    let bytes = sheet("complete.csv");
    let (told, calls) = (Cell::new(0), Cell::new(0));
    let progress = |read: u64| {
        told.set(read);
        calls.set(calls.get() + 1);
    };
    let options = SheetOptions {
        progress: Some(&progress),
        ..SheetOptions::default()
    };
    take_sheet(
        &Shelf::new(&site()),
        &site(),
        SheetFormat::Csv,
        &bytes[..],
        &options,
        &change(),
    )
    .unwrap();
    assert_eq!(told.get(), bytes.len() as u64);
    assert!(calls.get() > 0);
}

#[test]
fn formats_are_known_by_ending_and_media_type() {
    assert_eq!(SheetFormat::of_file(Path::new("a/b.CSV")), Some(SheetFormat::Csv));
    assert_eq!(
        SheetFormat::of_file(Path::new("b.geojson")),
        Some(SheetFormat::GeoJson)
    );
    assert_eq!(SheetFormat::of_file(Path::new("b.xlsx")), None);
    assert_eq!(
        SheetFormat::of_media_type("text/csv; charset=utf-8"),
        Some(SheetFormat::Csv)
    );
    assert_eq!(
        SheetFormat::of_media_type("application/geo+json"),
        Some(SheetFormat::GeoJson)
    );
    assert_eq!(SheetFormat::of_media_type("image/png"), None);
}
