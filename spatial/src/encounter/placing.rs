//! The same paths by chance: each in its own shape, elsewhere on the ground that they share.

use super::path::Path;
use rand::RngExt;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::TAU;

/// Which headings chance gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Headings {
    /// Those of the surface, dealt out anew: what the animals preferred stays preferred.
    Dealt,
    /// Any, each as likely.
    Free,
}

/// How one path is laid down: turned about its middle, then moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placement {
    middle: [f64; 2],
    cosine: f64,
    sine: f64,
    to: [f64; 2],
    /// By how much it is turned clockwise, radians.
    pub turn_rad: f64,
}

impl Placement {
    /// Where a place of the path comes to lie.
    pub fn place(&self, place: [f64; 2]) -> [f64; 2] {
        let (east, north) = (place[0] - self.middle[0], place[1] - self.middle[1]);
        [
            self.to[0] + east * self.cosine + north * self.sine,
            self.to[1] + north * self.cosine - east * self.sine,
        ]
    }

    /// Where a direction comes to lead.
    pub fn turned(&self, way: [f64; 2]) -> [f64; 2] {
        [
            way[0] * self.cosine + way[1] * self.sine,
            way[1] * self.cosine - way[0] * self.sine,
        ]
    }

    /// Turned about one place, which is moved to another.
    pub fn of(from: [f64; 2], to: [f64; 2], turn_rad: f64) -> Self {
        let (sine, cosine) = turn_rad.sin_cos();
        Self {
            middle: from,
            cosine,
            sine,
            to,
            turn_rad,
        }
    }
}

/// Where and how paths of a surface may lie.
///
/// # Formula
/// A smoothed permutation: path i takes the middle of path π(i), drawn to the centre by c and moved by a normal draw of
/// covariance h² S, S the covariance of the middles and h = n^(−1/6) (Silverman's rule in two dimensions);
/// c² (1 + h²) = 1 keeps the covariance. Where the middles lie closer together than the paths are long, S is drawn to
/// the paths' own mean square reach about their middles, as if [`BELIEF`] paths more had shown it: a surface is at least as
/// large as what is seen on it, and two middles say little of how large.
///
/// # References
/// Silverman, B. W. (1986), Density Estimation, sections 4.3.2 and 6.4.1 (from memory).
#[derive(Debug, Clone)]
pub(super) struct Ground {
    middles: Vec<[f64; 2]>,
    headings_rad: Vec<f64>,
    centre: [f64; 2],
    kept: f64,
    /// Lower triangle of the square root of the noise's covariance: ee, ne, nn.
    noise: [f64; 3],
}

/// How many paths the paths' own length counts for where the ground's size is learnt.
const BELIEF: f64 = 2.0;

/// The mean square distance of the paths' places from their own middles, square metres.
pub(super) fn as_large_as(paths: &[Path]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0f64);
    for path in paths {
        let middle = path.middle_m();
        for place in &path.line_m {
            sum += (place[0] - middle[0]).powi(2) + (place[1] - middle[1]).powi(2);
            count += 1.0;
        }
    }
    sum / count.max(1.0)
}

pub(super) fn drawn_to(seen: [f64; 3], belief: f64, count: f64) -> [f64; 3] {
    let drawn = |variance: f64| variance.max((count * variance + BELIEF * belief) / (count + BELIEF));
    [drawn(seen[0]), seen[1], drawn(seen[2])]
}

impl Ground {
    pub fn of(paths: &[Path]) -> Self {
        let middles: Vec<[f64; 2]> = paths.iter().map(Path::middle_m).collect();
        let count = middles.len().max(1) as f64;
        let centre = [0, 1].map(|axis| middles.iter().map(|middle| middle[axis]).sum::<f64>() / count);
        let spread = |at: &[f64; 2]| {
            let (east, north) = (at[0] - centre[0], at[1] - centre[1]);
            [east * east, east * north, north * north]
        };
        let mut of_middles = [0.0; 3];
        for place in middles.iter().map(spread) {
            (0..3).for_each(|part| of_middles[part] += place[part] / count);
        }
        let wanted = drawn_to(of_middles, as_large_as(paths), count);
        let width = count.powf(-1.0 / 6.0);
        // What is drawn to the centre keeps its own covariance; the noise makes up for the rest.
        let kept = 1.0 / (1.0 + width * width).sqrt();
        let noise = [0, 1, 2].map(|part| wanted[part] - kept * kept * of_middles[part]);
        let east = noise[0].max(0.0).sqrt();
        let across = if east > 0.0 { noise[1] / east } else { 0.0 };
        Self {
            headings_rad: paths.iter().map(Path::heading_rad).collect(),
            middles,
            centre,
            kept,
            noise: [east, across, (noise[2] - across * across).max(0.0).sqrt()],
        }
    }

    /// Lays all paths down once. Each number of a permutation has draws of its own, so that they can be made on any core.
    pub fn lay(&self, headings: Headings, seed: u64, permutation: u32) -> Vec<Placement> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::from(permutation) + 1);
        let count = self.middles.len();
        let mut places: Vec<usize> = (0..count).collect();
        places.shuffle(&mut rng);
        let mut ways: Vec<usize> = (0..count).collect();
        ways.shuffle(&mut rng);
        (0..count)
            .map(|path| {
                let turn_rad = match headings {
                    Headings::Dealt => self.headings_rad[ways[path]] - self.headings_rad[path],
                    Headings::Free => rng.random_range(0.0..TAU),
                };
                let [one, other]: [f64; 2] = [0, 1].map(|_| StandardNormal.sample(&mut rng));
                let from = self.middles[places[path]];
                let (sine, cosine) = turn_rad.sin_cos();
                Placement {
                    middle: self.middles[path],
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
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paths() -> Vec<Path> {
        (0..30)
            .map(|no| {
                let at = [f64::from(no % 6) * 10.0, f64::from(no / 6) * 10.0];
                let (sine, cosine) = f64::from(no).sin_cos();
                let line =
                    (0..5).map(|step| [at[0] + f64::from(step) * sine, at[1] + f64::from(step) * cosine]);
                Path::along(format!("T{no}").parse().unwrap(), line.collect(), 0.3).unwrap()
            })
            .collect()
    }

    #[test]
    fn shapes_headings_and_spread_are_kept() {
        let paths = paths();
        let ground = Ground::of(&paths);
        let (mut sum, mut sum_2) = ([0.0; 2], [0.0; 2]);
        let (draws, count) = (400, paths.len());
        for permutation in 0..draws {
            let laid = ground.lay(Headings::Dealt, 7, permutation);
            let mut dealt: Vec<f64> = (laid.iter().zip(&paths))
                .map(|(placement, path)| (path.heading_rad() + placement.turn_rad).rem_euclid(TAU))
                .collect();
            let mut own: Vec<f64> = paths
                .iter()
                .map(|path| path.heading_rad().rem_euclid(TAU))
                .collect();
            dealt.sort_by(f64::total_cmp);
            own.sort_by(f64::total_cmp);
            assert!(dealt.iter().zip(&own).all(|(a, b)| (a - b).abs() < 1e-9));
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
                    let middle = placement.place(path.middle_m())[axis];
                    sum[axis] += middle;
                    sum_2[axis] += middle * middle;
                }
            }
        }
        let all = f64::from(draws) * count as f64;
        for axis in 0..2 {
            let middles: Vec<f64> = paths.iter().map(|path| path.middle_m()[axis]).collect();
            let mean = middles.iter().sum::<f64>() / count as f64;
            let variance = middles.iter().map(|middle| (middle - mean).powi(2)).sum::<f64>() / count as f64;
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
        let ground = Ground::of(&paths);
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
        let ground = Ground::of(&paths());
        assert_eq!(
            ground.lay(Headings::Free, 3, 11),
            ground.lay(Headings::Free, 3, 11)
        );
        assert_ne!(
            ground.lay(Headings::Free, 3, 11),
            ground.lay(Headings::Free, 3, 12)
        );
        assert!(Ground::of(&[]).lay(Headings::Free, 1, 1).is_empty());
    }
}
