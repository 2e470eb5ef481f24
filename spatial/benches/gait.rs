//! The measures of 10,000 trackways of 30 prints, on one core and on all.

use criterion::{Criterion, criterion_group, criterion_main};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use spatial::gait::{Gait, Options, Placed, measure};
use spatial::model::{Print, Side};
use std::hint::black_box;

const TRACKWAYS: usize = 10_000;
const PRINTS: usize = 30;

fn trackway(random: &mut ChaCha8Rng) -> Vec<Print> {
    let half_stride_m = random.random_range(0.4..0.9);
    let mut north = 0.0;
    (0..PRINTS)
        .map(|no| {
            north += half_stride_m * random.random_range(0.9..1.1);
            let (off, side) = if no.is_multiple_of(2) {
                (-0.1, Side::Left)
            } else {
                (0.1, Side::Right)
            };
            let label = format!("P{no}").parse().expect("a label");
            let mut print = Print::new(label, off + random.random_range(-0.03..0.03), north, 0.3);
            print.side = Some(side);
            print.azimuth_deg = Some(random.random_range(-15.0..15.0));
            print
        })
        .collect()
}

fn measured(trackway: &[Print]) -> Gait {
    let placed: Vec<Placed> = trackway.iter().map(Placed::from).collect();
    measure(&placed, &Options::default()).expect("sound prints")
}

fn bench(criterion: &mut Criterion) {
    let mut random = ChaCha8Rng::seed_from_u64(1);
    let trackways: Vec<Vec<Print>> = (0..TRACKWAYS).map(|_| trackway(&mut random)).collect();
    let mut group = criterion.benchmark_group("gait of 10,000 trackways of 30 prints");
    group.sample_size(10);
    group.bench_function("one core", |bencher| {
        bencher.iter(|| {
            trackways
                .iter()
                .for_each(|trackway| drop(black_box(measured(trackway))))
        });
    });
    group.bench_function("all cores", |bencher| {
        bencher.iter(|| {
            trackways
                .par_iter()
                .for_each(|trackway| drop(black_box(measured(trackway))))
        });
    });
    group.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);
