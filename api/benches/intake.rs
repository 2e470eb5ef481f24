//! Taking a sheet of 100,000 rows: reading and checking alone, and into the store on disk.

use api::intake::{SheetFormat, SheetOptions, check_sheet, take_sheet};
use api::store::{Change, SqliteStore, Store};
use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use spatial::model::Site;
use std::fmt::Write;
use std::hint::black_box;

const ROWS: usize = 100_000;

fn site() -> Site {
    Site::new("bench".parse().expect("a slug"), 25830)
}

fn change() -> Change {
    Change {
        author: "bench".to_owned(),
        at: jiff::Timestamp::UNIX_EPOCH,
        deed: "import".to_owned(),
    }
}

/// An invented sheet with the columns that a careful field party fills in.
fn csv_sheet() -> String {
    let mut sheet = String::from(
        "surface,print,easting_m,northing_m,length_m,width_m,azimuth_deg,side,limb,morphotype,digits,preservation,trackway,order,observed_on,observer\n",
    );
    for no in 0..ROWS {
        let (step, walker) = (no % 40, no / 40);
        let easting_m = 480_000.0 + 1.1 * step as f64 + 0.013 * walker as f64;
        let northing_m = 4_790_000.0 + 0.4 * walker as f64;
        let side = if step % 2 == 0 { "left" } else { "right" };
        writeln!(
            sheet,
            "S1,P{no:06},{easting_m:.3},{northing_m:.3},0.31,0.24,{},{side},pes,broad three-toed,3,2.5,T{walker},{},2024-05-31,party A",
            85 + no % 11,
            step + 1,
        )
        .expect("a string takes any text");
    }
    sheet
}

fn geojson_sheet() -> String {
    let mut sheet = String::from(r#"{"type":"FeatureCollection","features":["#);
    for no in 0..ROWS {
        let (lon_deg, lat_deg) = (
            -3.245 + 1e-6 * (no % 400) as f64,
            43.26 + 1e-6 * (no / 400) as f64,
        );
        let comma = if no == 0 { "" } else { "," };
        write!(
            sheet,
            r#"{comma}{{"type":"Feature","geometry":{{"type":"Point","coordinates":[{lon_deg:.9},{lat_deg:.9}]}},"properties":{{"surface":"S1","print":"P{no:06}","length_m":0.31,"width_m":0.24,"azimuth_deg":{},"side":"left","morphotype":"broad three-toed"}}}}"#,
            85 + no % 11,
        )
        .expect("a string takes any text");
    }
    sheet.push_str("]}");
    sheet
}

fn check(bench: &mut Criterion) {
    let mut group = bench.benchmark_group("read and check 100,000 rows");
    group
        .throughput(Throughput::Elements(ROWS as u64))
        .sample_size(10);
    for (name, format, sheet) in [
        ("csv", SheetFormat::Csv, csv_sheet()),
        ("geojson", SheetFormat::GeoJson, geojson_sheet()),
    ] {
        group.bench_function(name, |bench| {
            bench.iter(|| {
                let checked = check_sheet(
                    &site(),
                    format,
                    black_box(sheet.as_bytes()),
                    &SheetOptions::default(),
                );
                assert_eq!(checked.expect("a sound sheet").prints, ROWS as u64);
            });
        });
    }
    group.finish();
}

fn take(bench: &mut Criterion) {
    let mut group = bench.benchmark_group("take 100,000 rows into SQLite");
    group
        .throughput(Throughput::Elements(ROWS as u64))
        .sample_size(10);
    let sheet = csv_sheet();
    let empty_store = || {
        let folder = tempfile::tempdir().expect("a folder");
        let store = SqliteStore::open(&folder.path().join("store.db")).expect("a store");
        store.add_site(&site(), &change()).expect("a site");
        (folder, store)
    };
    group.bench_function("csv", |bench| {
        bench.iter_batched(
            empty_store,
            |(folder, store)| {
                let options = SheetOptions::default();
                let taken = take_sheet(
                    &store,
                    &site(),
                    SheetFormat::Csv,
                    sheet.as_bytes(),
                    &options,
                    &change(),
                );
                assert_eq!(taken.expect("a sound sheet").taken.prints.added, ROWS as u64);
                (folder, store)
            },
            BatchSize::PerIteration,
        );
    });
    group.finish();
}

criterion_group!(benches, check, take);
criterion_main!(benches);
