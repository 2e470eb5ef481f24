//! A page of 10,000 prints in a box, of a surface of 1,000,000, from the index to the bytes of GeoJSON;
//! beside it the plain way, which looks at every print of the surface. And the plan of a part of that surface beside
//! that of the whole.
#![allow(missing_docs)]

use api::access::Audience;
use api::catalogue::{Catalogue, INDEX_MEMORY};
use api::collection::{Bbox, Collection, Member, Run, Selection, write_run};
use api::feature::OutputCrs;
use api::store::{Change, SheetPrint, SheetStore, SqliteStore, Store};
use criterion::{Criterion, criterion_group, criterion_main};
use spatial::index::PrintNo;
use spatial::model::{Limb, Print, Side, Site};
use std::hint::black_box;
use std::sync::Arc;
use std::time::Duration;
use tempfile::TempDir;

/// A square of 1,000 rows of 1,000 prints, 2 m apart.
const ROW: u32 = 1_000;
const APART_M: f64 = 2.0;
const CORNER: [f64; 2] = [600_000.0, 4_800_000.0];

fn print(no: u32) -> Print {
    let [easting_m, northing_m] = [no % ROW, no / ROW].map(|steps| f64::from(steps) * APART_M);
    Print {
        width_m: Some(0.25),
        azimuth_deg: Some(f64::from(no % 360)),
        side: Some(if no.is_multiple_of(2) {
            Side::Left
        } else {
            Side::Right
        }),
        limb: Some(Limb::Pes),
        morphotype: Some("three-toed".into()),
        ..Print::new(
            format!("P{no:07}").parse().expect("a label"),
            CORNER[0] + easting_m,
            CORNER[1] + northing_m,
            0.31,
        )
    }
}

fn catalogue() -> (TempDir, Catalogue) {
    let folder = tempfile::tempdir().expect("a folder");
    let store = SqliteStore::open(&folder.path().join("bench.db")).expect("a store");
    let change = Change {
        author: "bench".into(),
        at: jiff::Timestamp::UNIX_EPOCH,
        deed: "bench".into(),
    };
    let site = Site::new("bench".parse().expect("a slug"), 25830);
    store.add_site(&site, &change).expect("a site");
    let mut sheet = store.begin_sheet(&site.slug, &change).expect("a sheet");
    for first in (0..ROW * ROW).step_by(10_000) {
        let batch: Vec<SheetPrint> = (first..first + 10_000)
            .map(|no| SheetPrint {
                row: u64::from(no) + 2,
                surface: "S1".parse().expect("a label"),
                print: print(no),
            })
            .collect();
        sheet.put_prints(&batch).expect("a batch");
    }
    sheet.finish().expect("a stored sheet");
    (
        folder,
        Catalogue::new(Arc::new(store), Audience::Local, INDEX_MEMORY),
    )
}

/// A box about the middle that holds so many rows of as many prints.
fn middle(rows: u32) -> Bbox {
    let [west, south] = CORNER.map(|edge| edge + 450.5 * APART_M);
    let [east, north] = [west, south].map(|edge| edge + f64::from(rows) * APART_M);
    let crs = OutputCrs::parse("EPSG:25830").expect("a CRS");
    Bbox::parse(&format!("{west},{south},{east},{north}"), crs).expect("a box")
}

fn written(runs: &[Run]) -> usize {
    let mut bytes = Vec::new();
    for run in runs {
        write_run(run, &OutputCrs::Crs84, &mut bytes).expect("GeoJSON");
    }
    bytes.len()
}

fn box_of_10_000(criterion: &mut Criterion) {
    let (_folder, catalogue) = catalogue();
    let surface = "bench:S1".parse().expect("an id");
    let selection = Selection {
        surface: Some(surface),
        bbox: Some(middle(100)),
        ..Selection::all(Collection::Prints)
    };
    let page = selection.page(&catalogue, None, 10_000).expect("a page");
    assert_eq!(page.members.len(), 10_000);
    let mut group = criterion.benchmark_group("10,000 prints in a box of 1,000,000");
    group.sample_size(20).measurement_time(Duration::from_secs(5));
    group.bench_function("select", |bench| {
        bench.iter(|| {
            black_box(
                selection
                    .page(&catalogue, None, 10_000)
                    .expect("a page")
                    .members
                    .len(),
            )
        });
    });
    group.bench_function("write", |bench| {
        bench.iter(|| black_box(written(page.members.runs())))
    });
    group.bench_function("select and write", |bench| {
        bench.iter(|| {
            let page = selection.page(&catalogue, None, 10_000).expect("a page");
            black_box(written(page.members.runs()))
        });
    });
    group.bench_function("baseline: look at every print, and write", |bench| {
        let all = Selection {
            bbox: None,
            ..selection.clone()
        };
        let everything = all.page(&catalogue, None, 1_000_000).expect("a page").members;
        let [Run::Prints(surface, numbers)] = everything.runs() else {
            panic!("prints of one surface")
        };
        let bbox = middle(100);
        bench.iter(|| {
            let inside = |no: &PrintNo| {
                let member = Member::Print(surface.clone(), *no);
                let crs = member.crs().expect("a CRS");
                bbox.touches(member.geometry().as_ref(), &crs).expect("a place")
            };
            let taken = numbers.iter().copied().filter(inside).collect();
            black_box(written(&[Run::Prints(surface.clone(), taken)]))
        });
    });
    group.finish();
}

fn plan_of_a_part(criterion: &mut Criterion) {
    let (_folder, catalogue) = catalogue();
    let draw = |bbox: Option<&Bbox>| {
        let plan = api::plan::of_surface(&catalogue, "bench:S1", bbox, None);
        black_box(plan.expect("a plan").len())
    };
    let mut group = criterion.benchmark_group("plan of a surface of 1,000,000 prints");
    group.sample_size(20).measurement_time(Duration::from_secs(5));
    for (prints, rows) in [(100, 10), (10_000, 100)] {
        let bbox = middle(rows);
        group.bench_function(format!("a part with {prints}"), |bench| {
            bench.iter(|| draw(Some(&bbox)))
        });
    }
    group.bench_function("baseline: the whole", |bench| bench.iter(|| draw(None)));
    group.finish();
}

criterion_group!(benches, box_of_10_000, plan_of_a_part);
criterion_main!(benches);
