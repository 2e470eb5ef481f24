//! One continuation on surfaces of three sizes and one density, and what is read of a surface once.
//!
//! `cargo bench -p spatial --bench continuation`

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use spatial::continuation::{ContinuationOptions, Surroundings, continue_trackway, link_ends};
use spatial::frame::LonLat;
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::{Basis, Label, Status, Trackway};
use spatial::simulate::Scenario;
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::time::{Duration, Instant};

/// A simulated surface whose true trackways stand.
fn index(prints: usize) -> SurfaceIndex {
    let simulated = Scenario::medium(prints).simulate(1);
    let mut contents = simulated.contents;
    let mut walked: BTreeMap<u32, Vec<(u32, Label)>> = BTreeMap::new();
    for (print, origin) in contents.prints.iter().zip(&simulated.truth) {
        if let Some(origin) = origin {
            let prints = walked.entry(origin.trackway).or_default();
            prints.push((origin.step, print.label.clone()));
        }
    }
    for (number, mut prints) in walked {
        prints.sort();
        contents.trackways.push(Trackway {
            label: format!("T{number}").parse().expect("a label"),
            prints: prints.into_iter().map(|(_, label)| label).collect(),
            basis: Basis::Field,
            status: Status::Accepted,
            probability: None,
            morphotype: None,
            note: None,
            judged_by: None,
            revision: 0,
        });
    }
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()])).expect("sound prints")
}

/// Trackways spread evenly over a surface.
fn some(index: &SurfaceIndex, count: usize) -> Vec<Vec<PrintNo>> {
    let all = index.trackways();
    let every = (all.len() / count).max(1);
    let long = all
        .iter()
        .step_by(every)
        .map(|trackway| index.prints_of(trackway));
    long.filter(|prints| prints.len() >= 6).collect()
}

/// The 99th percentile, which the mean that is measured below does not show.
fn tail(index: &SurfaceIndex, surroundings: &Surroundings) -> (Duration, Duration) {
    let mut times: Vec<Duration> = (some(index, 2000).iter())
        .filter_map(|trackway| {
            let start = Instant::now();
            continue_trackway(index, surroundings, trackway, &ContinuationOptions::default()).ok()?;
            Some(start.elapsed())
        })
        .collect();
    times.sort_unstable();
    (times[times.len() / 2], times[times.len() * 99 / 100])
}

fn continuation(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("continuation");
    group.sample_size(10).measurement_time(Duration::from_secs(5));
    for prints in [1_000, 100_000, 1_000_000] {
        let index = index(prints);
        let start = Instant::now();
        let surroundings = Surroundings::of(&index);
        println!("surroundings of {prints} prints: {:.2?}", start.elapsed());
        let (middle, tail) = tail(&index, &surroundings);
        println!("one continuation among {prints} prints: median {middle:.2?}, 99 % within {tail:.2?}");
        let trackways = some(&index, 50);
        group.bench_with_input(
            BenchmarkId::new("one trackway", prints),
            &index,
            |bench, index| {
                let mut next = trackways.iter().cycle();
                bench.iter(|| {
                    let trackway = next.next().expect("some trackways");
                    continue_trackway(index, &surroundings, trackway, &ContinuationOptions::default())
                });
            },
        );
        if prints == 1_000 {
            group.bench_with_input(
                BenchmarkId::new("all ends linked", prints),
                &index,
                |bench, index| {
                    bench.iter(|| link_ends(index, &surroundings, &ContinuationOptions::default()));
                },
            );
        }
    }
    group.finish();
}

criterion_group!(benches, continuation);
criterion_main!(benches);
