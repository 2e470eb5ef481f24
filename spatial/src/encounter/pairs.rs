//! All pairs of paths held against the same paths laid down by chance.

use super::beads::{Beads, Near, Reach};
use super::chance::{Chance, Null, Quantiles, false_discoveries};
use super::edge::Edge;
use super::exposed::Exposed;
use super::path::Path;
use super::placing::{Ground, Headings};
use super::supposed::Supposed;
use super::{Trials, path::distance_m};
use rayon::prelude::*;
use serde::Serialize;

/// No more than so many of the strongest pairs to a path are given a p: the others' would be large.
const STRONGEST_TO_A_PATH: usize = 4;

/// What stands against chance for one pair.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PairChance {
    /// Against the same paths laid elsewhere, with the surface's headings dealt out anew.
    #[serde(flatten)]
    pub chance: Chance,
    /// The p against the same paths laid elsewhere in any heading: where it is much the smaller, what speaks for the
    /// pair is mostly that all animals of the surface went one way.
    pub p_turned: f64,
}

/// What stands against chance for a surface as a whole: its greatest statistic among the greatest that chance gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SurfaceChance {
    /// The greatest of all pairs.
    pub statistic: f64,
    /// What chance gives as the greatest.
    pub null_quantiles: Quantiles,
    /// The probability that chance gives a greatest at least as large.
    pub p: f64,
    /// The same with any heading.
    pub p_turned: f64,
    /// How many times the paths were laid down.
    pub permutations: u32,
}

/// Two paths and how they stand against chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tried {
    /// Their numbers; where one follows, the follower first.
    pub paths: [usize; 2],
    /// How they stand.
    pub chance: PairChance,
}

/// All pairs of a surface's paths beside chance: what [`super::companions`] and [`super::followers`] begin with.
#[derive(Debug, Clone, PartialEq)]
pub struct PairTrials {
    /// Pairs that are near each other and lead the same way, the one with the smallest p first.
    pub beside: Vec<Tried>,
    /// Ordered pairs of which the first goes along the line of the second, the one with the smallest p first.
    pub behind: Vec<Tried>,
    /// Numbers of paths that are near each other and lead opposite ways.
    pub opposite: Vec<[usize; 2]>,
    /// The surface's companions as a whole; `None` for fewer than two paths.
    pub surface_beside: Option<SurfaceChance>,
    /// The surface's followers as a whole.
    pub surface_behind: Option<SurfaceChance>,
    /// How far apart companions are looked for, metres.
    pub beside_m: f64,
    /// How far off the line followers are looked for, metres.
    pub behind_m: f64,
}

/// The statistics of one kind that one layout gives.
#[derive(Debug, Default)]
struct Given {
    all: Vec<f64>,
    greatest: f64,
}

impl Given {
    fn of(statistics: impl Iterator<Item = f64>, worth: f64) -> Self {
        let mut given = Self::default();
        for statistic in statistics.filter(|statistic| *statistic > 0.0) {
            given.greatest = given.greatest.max(statistic);
            if statistic >= worth {
                given.all.push(statistic);
            }
        }
        given
    }
}

fn beside(near: &[Near]) -> impl Iterator<Item = f64> + '_ {
    near.iter().map(|near| near.beside)
}

fn behind(near: &[Near]) -> impl Iterator<Item = f64> + '_ {
    near.iter().flat_map(|near| [near.one_behind, near.other_behind])
}

/// The pairs of one kind as they are, and the least statistic that still gets a p.
struct Seen {
    pairs: Vec<([usize; 2], f64)>,
    tried: usize,
    worth: f64,
}

impl Seen {
    fn of(pairs: impl Iterator<Item = ([usize; 2], f64)>, tried: usize, most: usize) -> Self {
        let mut pairs: Vec<([usize; 2], f64)> = pairs.filter(|pair| pair.1 > 0.0).collect();
        pairs.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        pairs.truncate(most);
        let worth = match pairs.last() {
            Some(last) if pairs.len() == most => last.1,
            _ => 0.0,
        };
        Self { pairs, tried, worth }
    }

    /// Holds each against the statistics of all layouts, headings dealt and free.
    fn held(self, dealt: Vec<Given>, free: Vec<Given>) -> (Vec<Tried>, Option<SurfaceChance>) {
        let permutations = dealt.len();
        let greatest = |given: &[Given]| {
            let all: Vec<f64> = given.iter().map(|given| given.greatest).collect();
            Null::of(all, permutations)
        };
        let [whole, whole_turned] = [greatest(&dealt), greatest(&free)];
        let pooled = |given: Vec<Given>| {
            let all: Vec<f64> = given.into_iter().flat_map(|given| given.all).collect();
            Null::of(all, permutations * self.tried)
        };
        let [null, turned] = [pooled(dealt), pooled(free)];
        let p: Vec<f64> = self.pairs.iter().map(|pair| null.p(pair.1)).collect();
        let corrected = false_discoveries(&p, self.tried);
        let null_quantiles = null.quantiles(self.worth);
        let strongest = self.pairs.first().map_or(0.0, |pair| pair.1);
        let surface = (self.tried > 0 && permutations > 0).then(|| SurfaceChance {
            statistic: strongest,
            null_quantiles: whole.quantiles(0.0),
            p: whole.p(strongest),
            p_turned: whole_turned.p(strongest),
            permutations: permutations as u32,
        });
        let tried = (self.pairs.iter().zip(p.iter().zip(corrected)))
            .map(|((paths, statistic), (p, p_corrected))| Tried {
                paths: *paths,
                chance: PairChance {
                    chance: Chance {
                        statistic: *statistic,
                        null_quantiles,
                        p: *p,
                        p_corrected,
                        tried: self.tried,
                    },
                    p_turned: turned.p(*statistic),
                },
            })
            .collect();
        (tried, surface)
    }
}

impl PairTrials {
    /// Lays the paths down by chance and holds each pair against all pairs of all layouts; companions and followers in
    /// one go; within the rock that is exposed, where extents draw it, and else with an edge and without as far as either is likely
    /// (`Supposed`). Only pairs within reach are looked at, found by a grid; of few paths, all.
    ///
    /// # References
    /// The statistic is this project's own. The p are those of a permutation test in which all pairs of a layout stand
    /// for each other: Davison & Hinkley (1997), section 4.3 (from memory).
    #[must_use]
    pub fn run(paths: &[Path], exposed: Option<&Exposed>, trials: Trials) -> Self {
        let of_paths: Vec<&Path> = paths.iter().collect();
        let edge = Edge::of(&of_paths, Exposed::telling(exposed, &of_paths));
        let ground = Supposed::of(edge, |edge| Ground::of(paths, edge));
        let reach = Reach::of(paths, ground.likelier().area_m2());
        let beads = Beads::of(paths, reach);
        let near = beads.near(reach, true);
        let count = paths.len();
        let all = count * count.saturating_sub(1);
        let most = if count <= super::beads::FEW {
            usize::MAX
        } else {
            STRONGEST_TO_A_PATH * count
        };
        let numbers = |near: &Near| [near.one as usize, near.other as usize];
        let seen_beside = Seen::of(
            near.iter().map(|near| (numbers(near), near.beside)),
            all / 2,
            most,
        );
        let both = near.iter().flat_map(|near| {
            let [one, other] = numbers(near);
            [([one, other], near.one_behind), ([other, one], near.other_behind)]
        });
        let seen_behind = Seen::of(both, all, most);
        let worth = [seen_beside.worth, seen_behind.worth];
        let laid = |headings: Headings| -> (Vec<Given>, Vec<Given>) {
            (0..trials.permutations)
                .into_par_iter()
                .map(|permutation| {
                    let ground = ground.in_permutation(permutation);
                    let laid = beads.laid(&ground.lay(headings, trials.seed, permutation));
                    let near = laid.near(reach, true);
                    (
                        Given::of(beside(&near), worth[0]),
                        Given::of(behind(&near), worth[1]),
                    )
                })
                .unzip()
        };
        let (beside_dealt, behind_dealt) = laid(Headings::Dealt);
        let (beside_free, behind_free) = laid(Headings::Free);
        let (beside, surface_beside) = seen_beside.held(beside_dealt, beside_free);
        let (behind, surface_behind) = seen_behind.held(behind_dealt, behind_free);
        Self {
            beside,
            behind,
            opposite: opposite(&beads, reach, paths),
            surface_beside,
            surface_behind,
            beside_m: reach.beside_m,
            behind_m: reach.behind_m,
        }
    }
}

fn opposite(beads: &Beads, reach: Reach, paths: &[Path]) -> Vec<[usize; 2]> {
    let near = beads.near(reach, false);
    // Among few paths those that are out of reach are told too; they share nothing.
    let in_reach = |near: &&Near| {
        let [a, b] = [near.one, near.other].map(|no| &paths[no as usize]);
        let apart_m = distance_m(a.middle_m(), b.middle_m());
        near.beside > 0.0 && apart_m <= (a.length_m() + b.length_m()) / 2.0 + reach.beside_m
    };
    (near.iter().filter(in_reach))
        .map(|near| [near.one as usize, near.other as usize])
        .collect()
}
