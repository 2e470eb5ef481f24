//! All pairs of a surface's paths beside chance, companions and followers together, on surfaces of one density.
//!
//! `cargo bench -p spatial --bench encounter`

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use spatial::encounter::{
    CompanionOptions, FollowerOptions, PairTrials, Path, Trials, companions, followers,
};
use spatial::frame::LonLat;
use spatial::index::SurfaceIndex;
use spatial::simulate::Passers;
use std::convert::Infallible;
use std::hint::black_box;

/// About so many paths of 30 prints, 30 paths on 40 by 30 m.
fn paths(count: usize) -> Vec<Path> {
    let side_m = (count as f64 * 40.0).sqrt();
    let passers = Passers::new(30).as_dense_on(side_m);
    let contents = passers.surface(&passers.walkers(1), 1);
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    let index = SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()]));
    Path::all(&index.expect("sound prints")).0
}

fn pairs(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("companions and followers, 999 permutations");
    group.sample_size(10);
    for count in [100, 1_000] {
        let paths = paths(count);
        group.bench_with_input(BenchmarkId::from_parameter(count), &paths, |bencher, paths| {
            bencher.iter(|| {
                let trials = PairTrials::run(paths, None, Trials::default());
                let beside = companions(paths, &trials, &[], &CompanionOptions::default());
                black_box((
                    beside,
                    followers(paths, &trials, &[], &FollowerOptions::default()),
                ))
            });
        });
    }
    group.finish();
}

criterion_group!(benches, pairs);
criterion_main!(benches);
