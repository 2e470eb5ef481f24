//! Whether places where ways meet are told from chance: on surfaces whose animals heed nobody, and on others where some
//! head for one place, or come from one.

use super::grounds::index;
use super::uniform::Uniform;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use serde::Serialize;
use spatial::continuation::Surroundings;
use spatial::encounter::{Convergence, ConvergenceOptions, Path, Trials, convergence};
use spatial::index::{SurfaceContents, SurfaceIndex};
use spatial::simulate::{Passers, Walker};
use std::f64::consts::{PI, TAU};

/// How many surfaces each line of a table rests on, and how often each is laid down by chance.
#[derive(Debug, Clone, Copy)]
pub struct Effort {
    /// Surfaces without interaction, for each kind.
    pub null_surfaces: u64,
    /// Surfaces with planted foci, for each kind.
    pub planted_surfaces: u64,
    /// Permutations of each.
    pub permutations: u32,
    /// The first surface's seed.
    pub seed: u64,
}

/// The p of one kind of surfaces without interaction, where ways are followed on, or back.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeetingsByChance {
    /// The kind of surfaces.
    pub animals: String,
    /// Forward or backward.
    pub way: &'static str,
    /// The p of each surface as a whole.
    pub p: Uniform,
}

/// How often planted foci of one kind are found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlantedFoci {
    /// What was planted.
    #[serde(flatten)]
    pub planted: Planted,
    /// What became of it.
    #[serde(flatten)]
    pub tally: Tally,
}

/// How often chance is taken for a focus, one kind after the other.
pub fn meetings_by_chance(effort: Effort) -> impl Iterator<Item = MeetingsByChance> {
    without_interaction()
        .into_iter()
        .flat_map(move |(animals, passers)| {
            let both = p_by_chance(&passers, &effort);
            ["forward", "backward"]
                .into_iter()
                .zip(both)
                .map(move |(way, p)| MeetingsByChance {
                    animals: animals.clone(),
                    way,
                    p: Uniform::of(p, 1.0 / (f64::from(effort.permutations) + 1.0)),
                })
        })
}

/// How often planted foci are found and lie in their ellipses, one kind after the other.
pub fn planted_foci(effort: Effort) -> impl Iterator<Item = PlantedFoci> {
    plantings().into_iter().map(move |planted| PlantedFoci {
        tally: planted.tally(&effort),
        planted,
    })
}

fn without_interaction() -> Vec<(String, Passers)> {
    let mut all = Vec::new();
    for count in [8, 20, 40] {
        let plain = Passers::new(count);
        let herd = Passers {
            preferred_sd_rad: Some(0.2),
            ..plain.clone()
        };
        let cut = |passers: &Passers| Passers {
            cut_at_edges: true,
            ..passers.clone()
        };
        all.push((format!("{count}"), plain.clone()));
        all.push((format!("{count}, one heading"), herd.clone()));
        all.push((format!("{count}, cut at the edges"), cut(&plain)));
        all.push((format!("{count}, one heading, cut"), cut(&herd)));
    }
    let wandering = Passers {
        heading_sd_rad: 0.12,
        ..Passers::new(20)
    };
    all.push(("20, wandering".to_owned(), wandering));
    let short = Passers {
        paces: 8..=14,
        heading_sd_rad: 0.01,
        ..Passers::new(20)
    };
    all.push(("20, short and straight".to_owned(), short));
    let strip = Passers {
        ground_m: [120.0, 12.0],
        ..Passers::new(20)
    };
    all.push(("20, on a strip".to_owned(), strip));
    let drawn: Vec<(String, Passers)> = (all.iter())
        .map(|(name, passers)| {
            let is_drawn = true;
            (
                format!("{name}, rock drawn"),
                Passers {
                    is_drawn,
                    ..passers.clone()
                },
            )
        })
        .collect();
    all.extend(drawn);
    all
}

/// A surface whose ways meet or not, ready to be asked.
struct Asked {
    index: SurfaceIndex,
    paths: Vec<Path>,
    surroundings: Surroundings,
}

impl Asked {
    fn of(contents: SurfaceContents) -> Self {
        let index = index(contents);
        Self {
            paths: Path::all(&index).0,
            surroundings: Surroundings::of(&index),
            index,
        }
    }

    fn found(&self, backward: bool, effort: &Effort, seed: u64) -> Convergence {
        let options = ConvergenceOptions {
            backward,
            trials: Trials {
                permutations: effort.permutations,
                seed,
            },
            ..ConvergenceOptions::default()
        };
        convergence(&self.index, &self.surroundings, &self.paths, &options)
    }
}

/// The p of each of many surfaces without interaction, forward and backward.
fn p_by_chance(passers: &Passers, effort: &Effort) -> [Vec<f64>; 2] {
    let both: Vec<[Option<f64>; 2]> = (0..effort.null_surfaces)
        .into_par_iter()
        .map(|seed| {
            let asked = Asked::of(passers.surface(&passers.walkers(effort.seed + seed), effort.seed + seed));
            [false, true].map(|backward| {
                let strongest = asked.found(backward, effort, seed).strongest;
                strongest.map(|chance| chance.p)
            })
        })
        .collect();
    [0, 1].map(|way| both.iter().filter_map(|of_one| of_one[way]).collect())
}

/// Animals that head for one place and stop short of it, or with `backward` come from it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Planted {
    /// How many.
    pub animals: usize,
    /// Standard deviation of each animal's own aim, radians.
    pub aim_sd_rad: f64,
    /// Standard deviation of its turn at each pace, radians.
    pub heading_sd_rad: f64,
    /// Standard deviation of recorded positions, each axis, metres.
    pub position_sd_m: f64,
}

fn plantings() -> Vec<Planted> {
    let plain = Planted {
        animals: 5,
        aim_sd_rad: 0.0,
        heading_sd_rad: 0.01,
        position_sd_m: 0.02,
    };
    let mut all: Vec<Planted> = (3..=8).map(|animals| Planted { animals, ..plain }).collect();
    for degrees in [1.0f64, 2.0, 4.0] {
        let aim_sd_rad = degrees.to_radians();
        all.extend([3, 5, 8].map(|animals| Planted {
            animals,
            aim_sd_rad,
            ..plain
        }));
    }
    for heading_sd_rad in [0.0, 0.02, 0.04] {
        all.push(Planted {
            heading_sd_rad,
            ..plain
        });
    }
    for position_sd_m in [0.005, 0.05, 0.1] {
        all.push(Planted {
            position_sd_m,
            ..plain
        });
    }
    all
}

/// Parts of all surfaces.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Tally {
    /// Those whose p is 0.05 or less.
    pub found: f64,
    /// Those with a focus of q ≤ 0.05 within 2 m of the true place.
    pub named: f64,
    /// Of those named, those whose ellipse holds the true place.
    pub in_ellipse: f64,
    /// The mean distance of those named from the true place, metres.
    pub off_m: f64,
    /// Other foci of q ≤ 0.05 on a surface.
    pub others: f64,
}

impl Planted {
    fn surface(&self, seed: u64) -> (SurfaceContents, [f64; 2]) {
        let passers = Passers {
            position_sd_m: self.position_sd_m,
            ..Passers::new(15)
        };
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let middle = passers.middle_m();
        let place = [0, 1].map(|axis| middle[axis] + passers.ground_m[axis] * rng.random_range(-0.3..0.3));
        let mut walkers = passers.walkers(seed);
        for _ in 0..self.animals {
            let foot_m = rng.random_range(0.15..0.45);
            let model = Walker {
                heading_sd_rad: self.heading_sd_rad,
                ..Walker::steady(place, 0.0, 10, foot_m)
            };
            let from_rad = rng.random_range(0.0..TAU);
            let stops_m = rng.random_range(3.0..10.0);
            let starts_m = stops_m + rng.random_range(10.0..25.0) * model.pace_m;
            let walker = Passers::towards(place, from_rad, starts_m, stops_m, &model);
            let aim: f64 = StandardNormal.sample(&mut rng);
            walkers.push(Walker {
                heading_rad: from_rad + PI + self.aim_sd_rad * aim,
                ..walker
            });
        }
        (passers.surface(&walkers, seed), place)
    }

    fn tally(&self, effort: &Effort) -> Tally {
        let all: Vec<Tally> = (0..effort.planted_surfaces)
            .into_par_iter()
            .map(|seed| {
                let (contents, place) = self.surface(effort.seed + seed);
                one(&Asked::of(contents).found(false, effort, seed), place)
            })
            .collect();
        let sum = |part: fn(&Tally) -> f64| all.iter().map(part).sum::<f64>();
        let (count, named) = (all.len() as f64, sum(|one| one.named));
        Tally {
            found: sum(|one| one.found) / count,
            named: named / count,
            in_ellipse: sum(|one| one.in_ellipse) / named.max(1.0),
            off_m: sum(|one| one.off_m) / named.max(1.0),
            others: sum(|one| one.others) / count,
        }
    }
}

fn one(found: &Convergence, place: [f64; 2]) -> Tally {
    let mut tally = Tally {
        found: f64::from(u8::from(found.strongest.is_some_and(|chance| chance.p <= 0.05))),
        ..Tally::default()
    };
    for focus in found.foci.iter().filter(|focus| focus.chance.p_corrected <= 0.05) {
        let [east, north] = [0, 1].map(|axis| place[axis] - focus.position_m[axis]);
        let off_m = east.hypot(north);
        if off_m > 2.0 || tally.named > 0.0 {
            tally.others += 1.0;
            continue;
        }
        let (sine, cosine) = focus.ellipse_azimuth_deg.to_radians().sin_cos();
        let major = (east * sine + north * cosine) / focus.sd_major_m;
        let minor = (east * cosine - north * sine) / focus.sd_minor_m;
        tally.named = 1.0;
        tally.off_m = off_m;
        tally.in_ellipse = f64::from(u8::from(major.hypot(minor) <= focus.radius_95));
    }
    tally
}
