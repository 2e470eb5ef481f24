//! The same paths by chance: each in its own shape, elsewhere on the ground that they share.

use super::anchors::{Belief, HALF, part_along, way};
use super::edge::Edge;
use super::hull::{drawn_to_reach, reach_m2};
use super::path::Path;
use super::preferred::{Preferred, unbiased};
use crate::continuation::plane::{plus, times};
use rand::RngExt;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;

/// By what part of their spread places are blurred: a permutation that is not blurred is exact where the pivots are, but lays two on
/// the places of two that walk together.
const PLACE_WIDTH: f64 = 0.3;
/// The same of headings: those of two that walk together are all but one, and two others would be as alike.
const HEADING_WIDTH: f64 = 0.5;

/// What is drawn to the centre by so much and blurred by this width spreads as before.
fn kept(width: f64) -> f64 {
    1.0 / (1.0 + width * width).sqrt()
}

/// Which headings chance gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Headings {
    /// Those of the surface, dealt out anew and blurred: what the animals preferred stays preferred, but no two are as alike
    /// as those of two that walk together.
    Dealt,
    /// Any, each as likely.
    Free,
}

/// How one path is laid down: turned about its pivot, then moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placement {
    pub pivot: [f64; 2],
    pub cosine: f64,
    pub sine: f64,
    pub to: [f64; 2],
    /// By how much it is turned clockwise, radians.
    pub turn_rad: f64,
}

impl Placement {
    /// Where a direction comes to lead.
    pub fn turned(&self, way: [f64; 2]) -> [f64; 2] {
        [
            way[0] * self.cosine + way[1] * self.sine,
            way[1] * self.cosine - way[0] * self.sine,
        ]
    }

    /// Where a place of the path comes to lie.
    pub fn place(&self, place: [f64; 2]) -> [f64; 2] {
        let (east, north) = (place[0] - self.pivot[0], place[1] - self.pivot[1]);
        [
            self.to[0] + east * self.cosine + north * self.sine,
            self.to[1] + north * self.cosine - east * self.sine,
        ]
    }
}

/// Where and how paths of a surface may lie.
///
/// # Formula
/// A smoothed permutation: path i takes the pivot of path π(i), drawn to the centre by c and moved by a normal draw of
/// covariance h² S, S the covariance of the pivots and h = [`PLACE_WIDTH`]; c² (1 + h²) = 1 keeps the covariance of any two. Headings
/// are dealt out in the same way, with h = [`HEADING_WIDTH`]. Where the pivots lie closer together than the paths are long, S is
/// drawn to the paths' own mean square reach about them, as if some paths more had shown it ([`drawn_to_reach`]).
///
/// The pivot lies so far along each path, as a part of its way, that places and ways hang together least on this surface
/// ([`part_along`]): where animals began anywhere and walked on it is the first print. Where the edges of the rock cut the
/// trackways it is the middle. Only there can places and headings be dealt
/// out apart from each other. Where the edge of the rock cuts trackways off, each is then moved along itself until it is cut
/// there again, and within the edge ([`Edge`]): else the paths laid by chance would lie farther apart than what is seen.
///
/// # References
/// Silverman, B. W. (1986), Density Estimation, section 6.4.1 (from memory), for the smoothing. The widths were found on simulated
/// surfaces.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    pivots: Vec<[f64; 2]>,
    headings_rad: Vec<f64>,
    preferred: Preferred,
    centre: [f64; 2],
    kept: f64,
    /// Lower triangle of the square root of the noise's covariance: ee, ne, nn.
    noise: [f64; 3],
    area_m2: f64,
    /// Where the rock's edge cuts paths off.
    edge: Option<Edge>,
}

/// The place so far on the straight way from a path's first place to its last.
fn pivot_of(path: &Path, part: f64) -> [f64; 2] {
    plus(path.line_m[0], times(way(path), part))
}

impl Ground {
    /// Within the edge that cuts the paths off, if one does.
    pub fn of(paths: &[Path], edge: Option<Edge>) -> Self {
        let all: Vec<&Path> = paths.iter().collect();
        let part = match edge {
            Some(_) => HALF,
            None => part_along(&all, Belief::OnThePath),
        };
        let pivots: Vec<[f64; 2]> = paths.iter().map(|path| pivot_of(path, part)).collect();
        let count = pivots.len().max(1) as f64;
        let centre = [0, 1].map(|axis| pivots.iter().map(|pivot| pivot[axis]).sum::<f64>() / count);
        let spread = |at: &[f64; 2]| {
            let (east, north) = (at[0] - centre[0], at[1] - centre[1]);
            [east * east, east * north, north * north]
        };
        let mut of_pivots = [0.0; 3];
        for place in pivots.iter().map(spread) {
            (0..3).for_each(|part| of_pivots[part] += place[part] / count);
        }
        // A sample's own spread about its mean is smaller than that which it was drawn from.
        let unbiased = of_pivots.map(|part| part * unbiased(paths.len()));
        let reach_m2 = reach_m2(&all);
        let drawn = |variance: f64| drawn_to_reach(variance, reach_m2, count);
        let wanted = [drawn(unbiased[0]), unbiased[1], drawn(unbiased[2])];
        let kept = kept(PLACE_WIDTH);
        // Any two that are drawn to the centre, never the same, differ by twice the unbiased variance; the noise makes up for the rest.
        let noise = [0, 1, 2].map(|part| wanted[part] - kept * kept * unbiased[part]);
        let east = noise[0].max(0.0).sqrt();
        let across = if east > 0.0 { noise[1] / east } else { 0.0 };
        Self {
            headings_rad: paths.iter().map(Path::heading_rad).collect(),
            preferred: Preferred::of(paths),
            edge,
            area_m2: 12.0 * (wanted[0] * wanted[2] - wanted[1] * wanted[1]).max(0.0).sqrt(),
            pivots,
            centre,
            kept,
            noise: [east, across, (noise[2] - across * across).max(0.0).sqrt()],
        }
    }

    /// The area of a rectangle over which pivots that are spread evenly have the covariance of these.
    pub fn area_m2(&self) -> f64 {
        self.area_m2
    }

    /// Lays all paths down once. Each number of a permutation has draws of its own, so that they can be made on any core.
    pub fn lay(&self, headings: Headings, seed: u64, permutation: u32) -> Vec<Placement> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::from(permutation) + 1);
        let count = self.pivots.len();
        let mut places: Vec<usize> = (0..count).collect();
        places.shuffle(&mut rng);
        let mut ways: Vec<usize> = (0..count).collect();
        ways.shuffle(&mut rng);
        (0..count)
            .map(|path| {
                let turn_rad = match headings {
                    Headings::Dealt => {
                        let drawn: f64 = StandardNormal.sample(&mut rng);
                        let seen_rad = self.headings_rad[ways[path]];
                        let dealt = self.preferred.blurred(seen_rad, kept(HEADING_WIDTH), drawn);
                        dealt - self.headings_rad[path]
                    }
                    Headings::Free => rng.random_range(0.0..TAU),
                };
                let (sine, cosine) = turn_rad.sin_cos();
                let laid = |from: [f64; 2], rng: &mut ChaCha8Rng| {
                    let [one, other]: [f64; 2] = [0, 1].map(|_| StandardNormal.sample(rng));
                    Placement {
                        pivot: self.pivots[path],
                        cosine,
                        sine,
                        to: [
                            self.centre[0] + self.kept * (from[0] - self.centre[0]) + self.noise[0] * one,
                            self.centre[1]
                                + self.kept * (from[1] - self.centre[1])
                                + self.noise[1] * one
                                + self.noise[2] * other,
                        ],
                        turn_rad,
                    }
                };
                let first = laid(self.pivots[places[path]], &mut rng);
                match &self.edge {
                    Some(edge) => edge.drawn_in(path, first, rng.random_bool(0.5)),
                    None => first,
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Roughly on a grid, in headings that a function of their number gives.
    fn headed(heading_rad: fn(f64) -> f64) -> Vec<Path> {
        (0..30)
            .map(|no| {
                let off = |times: f64| 4.0 * (times * f64::from(no)).sin();
                let at = [
                    f64::from(no % 6) * 10.0 + off(7.0),
                    f64::from(no / 6) * 10.0 + off(3.0),
                ];
                let (sine, cosine) = heading_rad(f64::from(no)).sin_cos();
                let line =
                    (0..5).map(|step| [at[0] + f64::from(step) * sine, at[1] + f64::from(step) * cosine]);
                Path::along(format!("T{no}").parse().unwrap(), line.collect(), 0.3).unwrap()
            })
            .collect()
    }

    fn paths() -> Vec<Path> {
        headed(|no| no)
    }

    #[test]
    fn what_headings_are_preferred_stays_so() {
        // All northward within some degrees, or either way along that axis.
        for heading_rad in [
            |no: f64| 0.2 * no.sin(),
            |no: f64| 0.2 * no.sin() + PI * (no % 2.0),
        ] {
            let paths = headed(heading_rad);
            let ground = Ground::of(&paths, None);
            let mean_2 =
                |turns: &[f64]| turns.iter().map(|turn| turn.sin().powi(2)).sum::<f64>() / turns.len() as f64;
            let own: Vec<f64> = paths.iter().map(Path::heading_rad).collect();
            let dealt: Vec<f64> = (0..400)
                .flat_map(|permutation| ground.lay(Headings::Dealt, 7, permutation).into_iter().zip(&own))
                .map(|(placement, own)| own + placement.turn_rad)
                .collect();
            assert!(
                (mean_2(&dealt) / mean_2(&own) - 1.0).abs() < 0.1,
                "{} {}",
                mean_2(&dealt),
                mean_2(&own)
            );
            let northward = |turns: &[f64]| {
                turns.iter().filter(|turn| turn.cos() > 0.0).count() as f64 / turns.len() as f64
            };
            assert!((northward(&dealt) - northward(&own)).abs() < 0.02);
            let same = dealt
                .iter()
                .filter(|turn| own.iter().any(|own| (*turn - own).sin().abs() < 1e-6))
                .count();
            assert!(same * 50 < dealt.len(), "{same} headings are not blurred");
        }
    }

    #[test]
    fn shapes_and_spread_are_kept() {
        let paths = paths();
        let part = part_along(&paths.iter().collect::<Vec<_>>(), Belief::OnThePath);
        let ground = Ground::of(&paths, None);
        let (mut sum, mut sum_2) = ([0.0; 2], [0.0; 2]);
        let (draws, count) = (400, paths.len());
        for permutation in 0..draws {
            let laid = ground.lay(Headings::Dealt, 7, permutation);
            for (placement, path) in laid.iter().zip(&paths) {
                let [first, last] = [path.line_m[0], path.line_m[4]].map(|place| placement.place(place));
                assert!(((last[0] - first[0]).hypot(last[1] - first[1]) - 4.0).abs() < 1e-9);
                let turned = (last[0] - first[0]).atan2(last[1] - first[1]);
                let wanted = path.heading_rad() + placement.turn_rad;
                assert!(
                    (turned - wanted).sin().abs() < 1e-9,
                    "clockwise turns are positive"
                );
                for axis in 0..2 {
                    let pivot = placement.place(pivot_of(path, part))[axis];
                    sum[axis] += pivot;
                    sum_2[axis] += pivot * pivot;
                }
            }
        }
        let all = f64::from(draws) * count as f64;
        for axis in 0..2 {
            let pivots: Vec<f64> = ground.pivots.iter().map(|pivot| pivot[axis]).collect();
            let mean = pivots.iter().sum::<f64>() / count as f64;
            let variance = pivots.iter().map(|pivot| (pivot - mean).powi(2)).sum::<f64>() / count as f64;
            let laid_mean = sum[axis] / all;
            let laid_variance = sum_2[axis] / all - laid_mean * laid_mean;
            assert!((laid_mean - mean).abs() < 0.5, "{laid_mean} {mean}");
            assert!(
                (laid_variance / variance - 1.0).abs() < 0.1,
                "{laid_variance} {variance}"
            );
        }
    }

    #[test]
    fn two_that_walk_side_by_side_are_laid_apart() {
        let line = |off: f64| (0..20).map(|step| [f64::from(step), off]).collect();
        let paths = [0.0, 1.0].map(|off| Path::along("T1".parse().unwrap(), line(off), 0.3).unwrap());
        let ground = Ground::of(&paths, None);
        let far: f64 = (0..200)
            .map(|permutation| {
                let laid = ground.lay(Headings::Dealt, 1, permutation);
                let [one, other] = [0, 1].map(|at| laid[at].place(paths[at].middle_m()));
                (one[1] - other[1]).abs()
            })
            .sum();
        assert!(far / 200.0 > 2.0, "mean distance {}", far / 200.0);
    }

    #[test]
    fn the_same_permutation_is_the_same_on_any_core() {
        let ground = Ground::of(&paths(), None);
        assert_eq!(
            ground.lay(Headings::Free, 3, 11),
            ground.lay(Headings::Free, 3, 11)
        );
        assert_ne!(
            ground.lay(Headings::Free, 3, 11),
            ground.lay(Headings::Free, 3, 12)
        );
        assert!(Ground::of(&[], None).lay(Headings::Free, 1, 1).is_empty());
    }
}
