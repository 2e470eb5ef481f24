//! The surface index with a million prints, beside plain loops where these end in a reasonable time.
//!
//! `cargo bench -p spatial --bench index`

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use spatial::frame::LonLat;
use spatial::index::{SurfaceContents, SurfaceIndex};
use spatial::model::{Print, Surface};
use std::convert::Infallible;
use std::time::Duration;

const PRINTS: usize = 1_000_000;
const QUERIES: usize = 10_000;
/// The side of the square of a million prints, one on four square metres.
const SIDE_M: f64 = 2_000.0;

fn contents() -> SurfaceContents {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let prints = (0..PRINTS).map(|no| {
        let [easting, northing] = place(&mut rng);
        Print::new(
            format!("P{no:07}").parse().expect("a label"),
            easting,
            northing,
            0.3,
        )
    });
    SurfaceContents {
        id: "bench:S1".parse().expect("an id"),
        crs: 25830,
        surface: Surface::new("S1".parse().expect("a label")),
        prints: prints.collect(),
        extents: Vec::new(),
        trackways: Vec::new(),
    }
}

fn place(rng: &mut ChaCha8Rng) -> [f64; 2] {
    [
        412_000.0 + rng.random_range(0.0..SIDE_M),
        4_795_000.0 + rng.random_range(0.0..SIDE_M),
    ]
}

fn build(contents: SurfaceContents) -> SurfaceIndex {
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()])).expect("sound prints")
}

fn index(criterion: &mut Criterion) {
    let contents = contents();
    let index = build(contents.clone());
    let mut rng = ChaCha8Rng::seed_from_u64(2);
    let places: Vec<[f64; 2]> = (0..QUERIES).map(|_| place(&mut rng)).collect();
    let mut group = criterion.benchmark_group("index");
    group.sample_size(10).measurement_time(Duration::from_secs(5));
    group.throughput(Throughput::Elements(PRINTS as u64));
    group.bench_function("bulk load of 1000000", |bench| {
        bench.iter_batched(|| contents.clone(), build, BatchSize::PerIteration);
    });
    group.throughput(Throughput::Elements(QUERIES as u64));
    group.bench_function("10000 times nearest 10", |bench| {
        bench.iter(|| {
            places
                .iter()
                .map(|at| index.nearest(*at, 10).len())
                .sum::<usize>()
        });
    });
    group.bench_function("10000 times within 5 m", |bench| {
        bench.iter(|| {
            places
                .iter()
                .map(|at| index.within(*at, 5.0).len())
                .sum::<usize>()
        });
    });
    group.throughput(Throughput::Elements(10));
    group.bench_function("10 times nearest 10 by a loop", |bench| {
        bench.iter(|| {
            places[..10]
                .iter()
                .map(|at| nearest_by_loop(index.prints(), *at).len())
                .sum::<usize>()
        });
    });
    group.bench_function("10 times within 5 m by a loop", |bench| {
        bench.iter(|| {
            places[..10]
                .iter()
                .map(|at| within_by_loop(index.prints(), *at))
                .sum::<usize>()
        });
    });
    group.finish();
}

fn far_2(print: &Print, at: [f64; 2]) -> f64 {
    (print.easting_m - at[0]).powi(2) + (print.northing_m - at[1]).powi(2)
}

/// The plain baseline: all distances, the ten smallest by selection.
fn nearest_by_loop(prints: &[Print], at: [f64; 2]) -> Vec<f64> {
    let mut all: Vec<f64> = prints.iter().map(|print| far_2(print, at)).collect();
    all.select_nth_unstable_by(9, f64::total_cmp);
    all.truncate(10);
    all.sort_unstable_by(f64::total_cmp);
    all
}

fn within_by_loop(prints: &[Print], at: [f64; 2]) -> usize {
    prints.iter().filter(|print| far_2(print, at) <= 25.0).count()
}

criterion_group!(benches, index);
criterion_main!(benches);
