//! A million azimuths: the summary and all one-sample tests in one go, and the judgement of their shape.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use spatial::circular::{Chance, Directions, Report, judge};

/// Azimuths that lean towards north-east: each the mean of two even ones, within 180 degrees.
fn azimuths_deg(n: usize) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    (0..n)
        .map(|_| 45.0 + 180.0 * (rng.random::<f64>() + rng.random::<f64>() - 1.0))
        .collect()
}

fn report(criterion: &mut Criterion) {
    let chance = Chance::default();
    let mut group = criterion.benchmark_group("circular");
    group.sample_size(20);
    for n in [30, 1_000, 1_000_000] {
        let azimuths_deg = azimuths_deg(n);
        group.bench_function(format!("report of {n}"), |bencher| {
            bencher.iter(|| {
                let sample = Directions::from_degrees(black_box(&azimuths_deg)).expect("all are finite");
                Report::new(&sample, Some(45.0), &chance)
            });
        });
        group.bench_function(format!("shape of {n}"), |bencher| {
            let sample = Directions::from_degrees(&azimuths_deg).expect("all are finite");
            bencher.iter(|| judge(black_box(&sample), &chance));
        });
    }
    group.finish();
}

criterion_group!(benches, report);
criterion_main!(benches);
