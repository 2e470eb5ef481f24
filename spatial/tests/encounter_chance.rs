//! Where animals do not heed each other, companions and followers are told no more often than by chance.
#![allow(missing_docs, clippy::unwrap_used)] // A test may panic: that is how it fails.

use spatial::encounter::{Exposed, PairTrials, Path, Trials};
use spatial::frame::LonLat;
use spatial::index::SurfaceIndex;
use spatial::simulate::Passers;
use std::convert::Infallible;

const SURFACES: u64 = 60;

fn paths(passers: &Passers, seed: u64) -> (Vec<Path>, Option<Exposed>) {
    let contents = passers.surface(&passers.walkers(seed), seed);
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    let index = SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()]));
    let index = index.unwrap();
    (Path::all(&index).0, Exposed::of(&index))
}

/// The p of the surfaces as wholes: companions and followers.
fn p(passers: &Passers) -> [Vec<f64>; 2] {
    let all = (0..SURFACES).map(|seed| {
        let (paths, exposed) = paths(passers, seed);
        let trials = PairTrials::run(
            &paths,
            exposed.as_ref(),
            Trials {
                permutations: 99,
                seed,
            },
        );
        (trials.surface_beside.unwrap().p, trials.surface_behind.unwrap().p)
    });
    let (beside, behind) = all.unzip();
    [beside, behind]
}

/// Of 60 even p, more than 9 at most 0.05 or a mean off 0.5 by more than 0.13 (3.5 standard errors) come by chance in
/// fewer than 1 of 1000.
fn even(p: &[f64], of: &str) {
    let small = p.iter().filter(|p| **p <= 0.05).count();
    let mean = p.iter().sum::<f64>() / p.len() as f64;
    assert!(
        small <= 9 && (mean - 0.5).abs() < 0.13,
        "{of}: {small} small, mean {mean}"
    );
}

#[test]
fn p_are_even_where_animals_go_any_way() {
    let [beside, behind] = p(&Passers::new(14));
    even(&beside, "companions");
    even(&behind, "followers");
}

#[test]
fn p_are_even_where_all_prefer_one_heading() {
    let [beside, behind] = p(&Passers {
        preferred_sd_rad: Some(0.2),
        ..Passers::new(14)
    });
    even(&beside, "companions");
    even(&behind, "followers");
}

#[test]
fn p_are_even_where_the_edge_of_the_rock_cuts() {
    let [beside, behind] = p(&Passers {
        cut_at_edges: true,
        is_drawn: true,
        ..Passers::new(14)
    });
    even(&beside, "companions");
    even(&behind, "followers");
}
