//! How often animals that walk together or follow are found among others.

use super::grounds::{Surface, surface};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use serde::Serialize;
use spatial::encounter::{PairTrials, Path, Trials};
use spatial::simulate::Passers;

/// What is planted among others.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Plant {
    /// What it is called in reports.
    pub name: &'static str,
    /// How many animals walk side by side; 0 where one follows another.
    pub abreast: usize,
    /// The distance from one to the next, or of the follower from the line, metres.
    pub apart_m: f64,
    /// The standard deviation of each step's place, each axis, metres: wobble and position error together.
    pub noise_sd_m: f64,
    /// The standard deviation of the heading's random turn at each pace, radians.
    pub heading_sd_rad: f64,
    /// How many others cross the surface.
    pub others: usize,
}

const TWO: Plant = Plant {
    name: "2 abreast",
    abreast: 2,
    apart_m: 1.5,
    noise_sd_m: 0.1,
    heading_sd_rad: 0.04,
    others: 12,
};
const FOLLOWER: Plant = Plant {
    name: "1 follows",
    abreast: 0,
    apart_m: 0.15,
    ..TWO
};

/// All that is planted: by number, distance, noise, and how many others there are.
pub const PLANTS: &[Plant] = &[
    TWO,
    Plant {
        abreast: 3,
        name: "3 abreast",
        ..TWO
    },
    Plant {
        abreast: 5,
        name: "5 abreast",
        ..TWO
    },
    Plant {
        apart_m: 3.0,
        name: "2 abreast, 3 m apart",
        ..TWO
    },
    Plant {
        noise_sd_m: 0.3,
        name: "2 abreast, noise 0.3 m",
        ..TWO
    },
    Plant {
        noise_sd_m: 0.6,
        name: "2 abreast, noise 0.6 m",
        ..TWO
    },
    Plant {
        heading_sd_rad: 0.12,
        name: "2 abreast, wandering",
        ..TWO
    },
    Plant {
        others: 30,
        name: "2 abreast among 30",
        ..TWO
    },
    Plant {
        others: 30,
        abreast: 4,
        name: "4 abreast among 30",
        ..TWO
    },
    FOLLOWER,
    Plant {
        noise_sd_m: 0.3,
        name: "1 follows, noise 0.3 m",
        ..FOLLOWER
    },
    Plant {
        heading_sd_rad: 0.12,
        name: "1 follows, wandering",
        ..FOLLOWER
    },
    Plant {
        others: 30,
        name: "1 follows among 30",
        ..FOLLOWER
    },
];

/// How often what was planted is found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Power {
    /// What was planted.
    pub plant: &'static str,
    /// The part of surfaces whose own p is 0.05 or less.
    pub surface: f64,
    /// The part of planted neighbours (or followers) whose p is 0.05 or less.
    pub pairs: f64,
    /// The part of them whose p_corrected is 0.05 or less.
    pub corrected: f64,
}

/// Plants it on so many surfaces.
#[must_use]
pub fn power(plant: Plant, surfaces: usize, permutations: u32, seed: u64) -> Power {
    let all: Vec<[f64; 3]> = (seed..seed + surfaces as u64)
        .into_par_iter()
        .map(|seed| {
            let passers = Passers {
                heading_sd_rad: plant.heading_sd_rad,
                ..Passers::new(plant.others)
            };
            let Surface { mut paths, .. } = surface(passers.surface(&passers.walkers(seed), seed));
            let first = paths.len();
            planted(plant, passers.middle_m(), &mut paths, seed);
            let trials = PairTrials::run(&paths, None, Trials { permutations, seed });
            let follows = plant.abreast == 0;
            let (tried, whole) = if follows {
                (&trials.behind, trials.surface_behind)
            } else {
                (&trials.beside, trials.surface_beside)
            };
            let wanted: Vec<[usize; 2]> = (first + 1..paths.len()).map(|no| [no - 1, no]).collect();
            let is_wanted = |pair: &[usize; 2]| {
                wanted
                    .iter()
                    .any(|wanted| wanted == pair || (follows && [wanted[1], wanted[0]] == *pair))
            };
            let found = tried.iter().filter(|tried| is_wanted(&tried.paths));
            // A follower is one pair in two orders: the better one counts.
            let best = |p: fn(&spatial::encounter::Chance) -> f64| {
                let hits = found
                    .clone()
                    .filter(|tried| p(&tried.chance.chance) <= 0.05)
                    .count();
                (hits as f64 / wanted.len() as f64).min(1.0)
            };
            let surface = whole.is_some_and(|whole| whole.p <= 0.05);
            [
                f64::from(u8::from(surface)),
                best(|chance| chance.p),
                best(|chance| chance.p_corrected),
            ]
        })
        .collect();
    let mean = |no: usize| all.iter().map(|row| row[no]).sum::<f64>() / all.len() as f64;
    Power {
        plant: plant.name,
        surface: mean(0),
        pairs: mean(1),
        corrected: mean(2),
    }
}

/// Animals side by side along one course, or one that joins another's line after a third of it.
fn planted(plant: Plant, middle_m: [f64; 2], paths: &mut Vec<Path>, seed: u64) {
    const STEPS: usize = 25;
    const STEP_M: f64 = 1.0;
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(7);
    let mut heading = rng.random_range(0.0..std::f64::consts::TAU);
    let mut at = [0, 1].map(|axis| middle_m[axis] + rng.random_range(-8.0..8.0));
    let mut course = Vec::new();
    for _ in 0..=STEPS {
        course.push((at, heading));
        let turn: f64 = StandardNormal.sample(&mut rng);
        heading += plant.heading_sd_rad * turn;
        at = [at[0] + STEP_M * heading.sin(), at[1] + STEP_M * heading.cos()];
    }
    let animals = plant.abreast.max(2);
    for animal in 0..animals {
        let joins = plant.abreast == 0 && animal == 1;
        let line = course.iter().enumerate().map(|(step, (at, heading))| {
            // A follower comes in from the right at 45 degrees.
            let coming_m = if joins {
                STEPS.div_euclid(3).saturating_sub(step) as f64 * STEP_M
            } else {
                0.0
            };
            let right_m = animal as f64 * plant.apart_m + coming_m;
            let noise: [f64; 2] = [0, 1].map(|_| StandardNormal.sample(&mut rng));
            [
                at[0] + right_m * heading.cos() + plant.noise_sd_m * noise[0],
                at[1] - right_m * heading.sin() + plant.noise_sd_m * noise[1],
            ]
        });
        let line: Vec<[f64; 2]> = line.collect();
        paths.extend(Path::along(
            format!("Z{animal}").parse().expect("a label"),
            line,
            0.3,
        ));
    }
}
