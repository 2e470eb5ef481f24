//! Grouping of prints at three sizes of medium density and at two of crowded ground, beside chaining by plain loops.
//!
//! `cargo bench -p spatial --bench grouping`

use criterion::{BatchSize, BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use spatial::frame::LonLat;
use spatial::grouping::{GroupingOptions, group};
use spatial::index::SurfaceIndex;
use spatial::model::Print;
use spatial::simulate::Scenario;
use std::convert::Infallible;
use std::time::Duration;

fn index(scenario: &Scenario) -> SurfaceIndex {
    let contents = scenario.simulate(1).contents;
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()])).expect("sound prints")
}

fn grouping(criterion: &mut Criterion) {
    let mut group_of = criterion.benchmark_group("grouping");
    group_of.sample_size(10).measurement_time(Duration::from_secs(5));
    for prints in [1_000, 10_000, 100_000] {
        let index = index(&Scenario::medium(prints));
        group_of.throughput(Throughput::Elements(prints as u64));
        group_of.bench_with_input(BenchmarkId::new("trackways", prints), &index, |bench, index| {
            bench.iter(|| group(index, &GroupingOptions::default()));
        });
    }
    for prints in [1_000, 3_000] {
        let index = index(&Scenario::crowded(prints));
        group_of.throughput(Throughput::Elements(prints as u64));
        group_of.bench_with_input(BenchmarkId::new("crowded", prints), &index, |bench, index| {
            bench.iter(|| group(index, &GroupingOptions::default()));
        });
    }
    let index = index(&Scenario::medium(1_000));
    group_of.throughput(Throughput::Elements(1_000));
    group_of.bench_function("nearest chains by a loop/1000", |bench| {
        bench.iter_batched(|| index.prints(), nearest_chains, BatchSize::SmallInput);
    });
    group_of.finish();
}

/// The plain baseline: each print to the nearest one not yet visited, by a loop over all.
fn nearest_chains(prints: &[Print]) -> Vec<usize> {
    let mut visited = vec![false; prints.len()];
    let mut order = Vec::with_capacity(prints.len());
    let mut at = 0;
    loop {
        visited[at] = true;
        order.push(at);
        let far_2 = |other: usize| {
            let (dx, dy) = (
                prints[other].easting_m - prints[at].easting_m,
                prints[other].northing_m - prints[at].northing_m,
            );
            dx * dx + dy * dy
        };
        match (0..prints.len())
            .filter(|other| !visited[*other])
            .min_by(|a, b| far_2(*a).total_cmp(&far_2(*b)))
        {
            Some(next) => at = next,
            None => return order,
        }
    }
}

criterion_group!(benches, grouping);
criterion_main!(benches);
