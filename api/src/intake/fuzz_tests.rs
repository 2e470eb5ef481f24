//! No bytes whatever make the intake panic, and what it takes is sound.

use super::local_tests::tied;
use super::shelf::Shelf;
use super::tests::change;
use super::*;
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const CSV: &[u8] = include_bytes!("../../../fixtures/sheets/complete.csv");
const GEOJSON: &[u8] = include_bytes!("../../../fixtures/sheets/prints.geojson");

pub(super) fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        rng_seed: RngSeed::Fixed(3),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// A sheet in the local grid, with slips to come.
const LOCAL: &[u8] = b"surface,print,local_x_m,local_y_m,length_m,note\n\
    S1,P1,0.5,-12.25,0.31,\"heel, blurred\"\nS1,P2,1.5,3e0,0.3,\nS2,P1,0,0,0.28,wet\n";

/// Takes the bytes for a site with a local grid, as a sheet of grid azimuths and as one of magnetic azimuths.
fn try_to_take(format: SheetFormat, bytes: &[u8]) -> Result<(), TestCaseError> {
    let surveyed_on = Some(jiff::civil::date(2026, 5, 1));
    [North::Grid, North::Magnetic { surveyed_on }]
        .into_iter()
        .try_for_each(|north| try_with(north, format, bytes))
}

/// Whatever is taken has finite numbers in their ranges; whatever is refused says why.
fn try_with(north: North, format: SheetFormat, bytes: &[u8]) -> Result<(), TestCaseError> {
    let site = tied();
    let shelf = Shelf::new(&site);
    let options = SheetOptions {
        north,
        ..SheetOptions::default()
    };
    match take_sheet(&shelf, &site, format, bytes, &options, &change()) {
        Ok(report) => prop_assert!(report.taken.prints.added + report.taken.extents.added > 0),
        Err(IntakeError::Faults(faults)) => {
            prop_assert!(faults.total >= 1 && !faults.faults.is_empty());
            prop_assert!(faults.faults.iter().all(|fault| !fault.expected.is_empty()));
            prop_assert!(shelf.prints().is_empty() && shelf.extents().is_empty());
        }
        Err(error) => return Err(TestCaseError::fail(format!("{error:?}"))),
    }
    for print in shelf.prints() {
        prop_assert!(print.length_m > 0.0 && print.length_m <= 5.0);
        // The area of use of EPSG:25830, with its margin.
        prop_assert!((0.0..1e6).contains(&print.easting_m) && (3e6..1e7).contains(&print.northing_m));
        prop_assert!(
            print
                .azimuth_deg
                .is_none_or(|azimuth| (0.0..360.0).contains(&azimuth))
        );
    }
    Ok(())
}

/// A sheet with some of its bytes replaced, taken out or doubled.
fn mutated(sheet: &'static [u8]) -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        any::<u8>(),
        proptest::sample::select(b",;\t\"\r\n\0-.0e9{}[]:\\\xEF\xC3".as_slice())
    ];
    vec((0..sheet.len(), 0..3_u8, byte), 1..6).prop_map(move |changes| {
        let mut bytes = sheet.to_vec();
        for (at, kind, byte) in changes {
            let at = at % bytes.len();
            match kind {
                0 => bytes[at] = byte,
                1 => drop(bytes.remove(at)),
                _ => bytes.insert(at, byte),
            }
        }
        bytes
    })
}

proptest! {
    #![proptest_config(config(512))]

    #[test]
    fn random_bytes_do_not_panic(bytes in vec(any::<u8>(), 0..400), csv in any::<bool>()) {
        let format = if csv { SheetFormat::Csv } else { SheetFormat::GeoJson };
        try_to_take(format, &bytes)?;
    }

    #[test]
    fn random_rows_do_not_panic(rows in "([S1P,\"\r\n;é.0-9NaNinfe+\\-]{0,200})") {
        for pair in ["easting_m,northing_m", "local_x_m,local_y_m"] {
            let sheet = format!("surface,print,{pair},length_m,note,\n{rows}");
            try_to_take(SheetFormat::Csv, sheet.as_bytes())?;
        }
    }
}

proptest! {
    #![proptest_config(config(2048))]

    #[test]
    fn mutated_csv_does_not_panic(bytes in mutated(CSV)) {
        try_to_take(SheetFormat::Csv, &bytes)?;
    }

    #[test]
    fn mutated_local_csv_does_not_panic(bytes in mutated(LOCAL)) {
        try_to_take(SheetFormat::Csv, &bytes)?;
    }

    #[test]
    fn mutated_geojson_does_not_panic(bytes in mutated(GEOJSON)) {
        try_to_take(SheetFormat::GeoJson, &bytes)?;
    }
}
