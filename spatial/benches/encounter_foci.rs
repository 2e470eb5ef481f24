//! Where ways meet, on surfaces of three sizes and one density, each against 999 permutations.
//!
//! `cargo bench -p spatial --bench encounter_foci`

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use spatial::continuation::Surroundings;
use spatial::encounter::{ConvergenceOptions, Path, convergence};
use spatial::frame::LonLat;
use spatial::index::SurfaceIndex;
use spatial::simulate::Passers;
use std::convert::Infallible;
use std::time::{Duration, Instant};

fn index(animals: usize) -> SurfaceIndex {
    // 20 animals on 40 by 30 m.
    let passers = Passers::new(20).as_dense_on((animals as f64 * 60.0).sqrt());
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    let contents = passers.surface(&passers.walkers(1), 1);
    SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()])).expect("sound prints")
}

fn foci(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("convergence");
    group.sample_size(10).measurement_time(Duration::from_secs(10));
    for animals in [20, 1_000] {
        let index = index(animals);
        let surroundings = Surroundings::of(&index);
        let (paths, _) = Path::all(&index);
        group.bench_with_input(
            BenchmarkId::new("999 permutations", animals),
            &paths,
            |bench, paths| {
                bench.iter(|| convergence(&index, &surroundings, paths, &ConvergenceOptions::default()));
            },
        );
    }
    group.finish();
    // Too long to be repeated.
    let index = index(10_000);
    let surroundings = Surroundings::of(&index);
    let (paths, _) = Path::all(&index);
    let start = Instant::now();
    let found = convergence(&index, &surroundings, &paths, &ConvergenceOptions::default());
    println!(
        "{} paths, {} foci: {:.2?}",
        paths.len(),
        found.foci.len(),
        start.elapsed()
    );
}

criterion_group!(benches, foci);
criterion_main!(benches);
