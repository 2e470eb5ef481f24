//! Surfaces on which animals do not heed each other.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use spatial::encounter::Path;
use spatial::frame::LonLat;
use spatial::index::{SurfaceContents, SurfaceIndex};
use spatial::simulate::Passers;
use std::convert::Infallible;
use std::f64::consts::TAU;

/// One kind of surfaces without encounters.
#[derive(Debug, Clone)]
pub struct Grounds {
    /// What they are called in reports.
    pub name: &'static str,
    /// Draws the paths of one.
    pub draw: fn(u64) -> Vec<Path>,
}

/// All kinds.
pub const ALL: &[Grounds] = &[
    Grounds {
        name: "8 animals",
        draw: |seed| passers(8, None, false, seed),
    },
    Grounds {
        name: "20 animals",
        draw: |seed| passers(20, None, false, seed),
    },
    Grounds {
        name: "40 animals",
        draw: |seed| passers(40, None, false, seed),
    },
    Grounds {
        name: "8 animals, one heading",
        draw: |seed| passers(8, Some(0.2), false, seed),
    },
    Grounds {
        name: "20 animals, one heading",
        draw: |seed| passers(20, Some(0.2), false, seed),
    },
    Grounds {
        name: "40 animals, one heading",
        draw: |seed| passers(40, Some(0.2), false, seed),
    },
    Grounds {
        name: "12 animals, cut at edges",
        draw: |seed| passers(12, None, true, seed),
    },
    Grounds {
        name: "40 animals, cut at edges",
        draw: |seed| passers(40, None, true, seed),
    },
    Grounds {
        name: "20 animals, one heading, cut",
        draw: |seed| passers(20, Some(0.2), true, seed),
    },
    Grounds {
        name: "10 straight lines",
        draw: |seed| plain(10..11, 0.0, seed),
    },
    Grounds {
        name: "10-30 straight lines",
        draw: |seed| plain(10..31, 0.0, seed),
    },
    Grounds {
        name: "10-30 wandering lines",
        draw: |seed| plain(10..31, 0.12, seed),
    },
];

/// The paths of a surface of passers.
#[must_use]
pub fn passers(count: usize, preferred_sd_rad: Option<f64>, cut_at_edges: bool, seed: u64) -> Vec<Path> {
    let passers = Passers {
        preferred_sd_rad,
        cut_at_edges,
        ..Passers::new(count)
    };
    paths(passers.surface(&passers.walkers(seed), seed))
}

/// The paths of recorded contents.
#[must_use]
pub fn paths(contents: SurfaceContents) -> Vec<Path> {
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    let index = SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()]));
    Path::all(&index.expect("sound prints")).0
}

/// Lines that begin anywhere in a rectangle of 60 by 25 m, in any heading, of 10 to 40 steps of 0.9 m that turn at
/// random: nothing of them comes from the simulator of the tool.
fn plain(counts: std::ops::Range<usize>, turn_sd_rad: f64, seed: u64) -> Vec<Path> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let count = rng.random_range(counts);
    (0..count)
        .map(|no| {
            let mut at = [rng.random_range(0.0..60.0), rng.random_range(0.0..25.0)];
            let mut heading: f64 = rng.random_range(0.0..TAU);
            let steps = rng.random_range(10..=40);
            let mut line = vec![at];
            for _ in 0..steps {
                let turn: f64 = StandardNormal.sample(&mut rng);
                heading += turn_sd_rad * turn;
                at = [at[0] + 0.9 * heading.sin(), at[1] + 0.9 * heading.cos()];
                line.push(at);
            }
            Path::along(format!("T{no}").parse().expect("a label"), line, 0.3).expect("a path")
        })
        .collect()
}
