//! Taking a sheet of 100,000 prints in batches of 1,000, taking it again, and reading it.
#![allow(missing_docs)]

use api::store::{Change, Outcome, RecordStore, SheetPrint, SheetStore, SqliteStore, Store, Taken};
use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use spatial::model::{Limb, Print, Side, Site};
use std::hint::black_box;
use tempfile::TempDir;

const PRINTS: u64 = 100_000;
const BATCH: usize = 1_000;

fn change() -> Change {
    Change {
        author: "bench".to_owned(),
        at: jiff::Timestamp::UNIX_EPOCH,
        deed: "import bench.csv".to_owned(),
    }
}

fn sheet() -> Vec<SheetPrint> {
    let surface = "S1".parse().expect("a label");
    let print = |no: u64| Print {
        width_m: Some(0.25),
        azimuth_deg: Some((no % 360) as f64 + 0.5),
        side: Some(if no.is_multiple_of(2) {
            Side::Left
        } else {
            Side::Right
        }),
        limb: Some(Limb::Pes),
        morphotype: Some("three-toed".into()),
        ..Print::new(
            format!("P{no:06}").parse().expect("a label"),
            600_000.0 + (no % 1_000) as f64 * 0.517,
            4_800_000.0 + (no / 1_000) as f64 * 0.713,
            0.31,
        )
    };
    let rows = (0..PRINTS).map(|no| SheetPrint {
        row: no + 2,
        surface: Clone::clone(&surface),
        print: print(no),
    });
    rows.collect()
}

fn fresh() -> (TempDir, SqliteStore) {
    let folder = tempfile::tempdir().expect("a folder");
    let store = SqliteStore::open(&folder.path().join("bench.db")).expect("a store");
    let site = Site::new("bench".parse().expect("a slug"), 25830);
    store.add_site(&site, &change()).expect("a site");
    (folder, store)
}

fn take(store: &SqliteStore, sheet: &[SheetPrint]) -> Taken {
    let site = "bench".parse().expect("a slug");
    let mut taking = store.begin_sheet(&site, &change()).expect("a sheet");
    for batch in sheet.chunks(BATCH) {
        taking.put_prints(batch).expect("a batch");
    }
    match taking.finish().expect("a finish") {
        Outcome::Taken(taken) => taken,
        Outcome::Refused(conflicts) => panic!("{conflicts:?}"),
    }
}

fn store(c: &mut Criterion) {
    let sheet = sheet();
    let mut group = c.benchmark_group("store");
    group.throughput(Throughput::Elements(PRINTS)).sample_size(10);
    group.bench_function("take a new sheet", |b| {
        b.iter_batched(
            fresh,
            |(folder, store)| (take(&store, &sheet), store, folder),
            BatchSize::PerIteration,
        );
    });
    let (_folder, store) = fresh();
    take(&store, &sheet);
    group.bench_function("take it again", |b| b.iter(|| take(&store, &sheet)));
    let surface = "bench:S1".parse().expect("an id");
    group.bench_function("read the surface", |b| {
        b.iter(|| black_box(store.contents(&surface)))
    });
    group.finish();
    c.bench_function("store/mark", |b| b.iter(|| store.mark()));
}

criterion_group!(benches, store);
criterion_main!(benches);
