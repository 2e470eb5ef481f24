//! The p of companions and followers where there are none.

use super::grounds::{Grounds, Surface};
use super::uniform::Uniform;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use serde::Serialize;
use spatial::encounter::{PairTrials, SurfaceChance, Trials, Tried};

/// The p of one kind of surfaces.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairsByChance {
    /// The kind of surfaces.
    pub grounds: String,
    /// Companions, the surface as a whole.
    pub beside_surface: Uniform,
    /// Companions, a pair drawn at random.
    pub beside_pair: Uniform,
    /// Followers, the surface as a whole.
    pub behind_surface: Uniform,
    /// Followers, a pair drawn at random.
    pub behind_pair: Uniform,
}

impl PairsByChance {
    /// All four.
    #[must_use]
    pub fn all(&self) -> [&Uniform; 4] {
        [
            &self.beside_surface,
            &self.beside_pair,
            &self.behind_surface,
            &self.behind_pair,
        ]
    }
}

/// Draws so many surfaces and tests their p.
#[must_use]
pub fn pairs_by_chance(grounds: &Grounds, surfaces: usize, permutations: u32, seed: u64) -> PairsByChance {
    let all: Vec<[f64; 4]> = (0..surfaces as u64)
        .into_par_iter()
        .map(|surface| {
            let Surface { paths, exposed } = grounds.draw(seed + surface);
            let trials = PairTrials::run(
                &paths,
                exposed.as_ref(),
                Trials {
                    permutations,
                    seed: seed + surface,
                },
            );
            let mut rng = ChaCha8Rng::seed_from_u64(seed + surface);
            let one = rng.random_range(0..paths.len());
            let other = (one + rng.random_range(1..paths.len())) % paths.len();
            let whole = |chance: Option<SurfaceChance>| chance.map_or(1.0, |chance| chance.p);
            [
                whole(trials.surface_beside),
                p_of(&trials.beside, [one.min(other), one.max(other)]),
                whole(trials.surface_behind),
                p_of(&trials.behind, [one, other]),
            ]
        })
        .collect();
    // The greatest of a surface is held against the greatest of each permutation, a pair against all pairs of all of them.
    let step = 1.0 / (f64::from(permutations) + 1.0);
    let column = |no: usize, step: f64| Uniform::of(all.iter().map(|row| row[no]).collect(), step);
    PairsByChance {
        grounds: grounds.name.clone(),
        beside_surface: column(0, step),
        beside_pair: column(1, 0.0),
        behind_surface: column(2, step),
        behind_pair: column(3, 0.0),
    }
}

fn p_of(tried: &[Tried], paths: [usize; 2]) -> f64 {
    let found = tried.iter().find(|tried| tried.paths == paths);
    found.map_or(1.0, |tried| tried.chance.chance.p)
}
