//! The same ways by chance: each shifted sideways, its heading and how far in or out it lies kept.

use super::edge::Edge;
use super::hull::Hull;
use super::path::Path;
use crate::continuation::plane::{Spread, Vector, dot, left_of, length, minus, plus, times};
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};

/// How many paths the paths' own length counts for where the ground's size is learnt.
const BELIEF: f64 = 2.0;
/// Where the anchor lies if nothing tells, as a part of the path.
const HALF: f64 = 0.5;
/// Standard deviation of where it lies about there, and how far beyond an end it may be taken to lie: what few paths tell is
/// that uncertain.
const BELIEVED: [f64; 2] = [1.0, 0.25];
/// An end that lies no more than so many paces beyond or short of where its way leaves the ground of the other paths is taken
/// for cut there; the fewer paths there are, the less of the ground the others show, and the farther beyond it may lie.
const CUT_PACES: [f64; 2] = [3.0, 1.5];
/// Anchors whose standard deviation is so many times as large one way as the other lie in a strip.
const STRIP: f64 = 3.0;

/// Where ways may lie that have nothing to do with each other.
///
/// Whether two ways meet hangs on where each lies *across* its own heading. How far along it they lie is not chance: tracks
/// are cut where the rock ends, so that ways out lead apart; and where only the beginnings lie anywhere, the ends lie
/// farther out. So each way keeps its heading, its shape and its place along its heading, and takes its place across it from
/// another.
///
/// # Formula
/// A smoothed permutation: way i, of unit vector vᵢ across its heading, is shifted along vᵢ until its anchor lies where the
/// anchor of way π(i) does across vᵢ, drawn to the centre by c and moved by a normal draw of covariance h² S; S is the
/// covariance of the anchors, h = n^(−1/3), narrower than Silverman's rule, which makes the middle of the ground too likely, and
/// c² (1 + h²) = 1 keeps the covariance. The anchor is the place on each path that hangs together least with its heading and
/// length: the beginnings where animals set out anywhere, the middles where the ground's edge cuts both ends.
///
/// Where the anchors lie in a strip that cuts nothing off, each way takes the whole place of another's anchor instead.
///
/// An end that lies where its way leaves the ground (the convex hull of the other paths) is cut there: after the shift it is moved along
/// its heading until it lies as near to the edge as before.
///
/// # References
/// Silverman, B. W. (1986), Density Estimation, sections 4.3.2 and 6.4.1 (from memory). The shift and the anchor are this
/// program's own.
#[derive(Debug, Clone)]
pub(super) struct Sideways {
    anchors: Vec<Vector>,
    centre: Vector,
    ends: Vec<End>,
    hull: Hull,
    /// Whether the anchors lie in a strip whose edges cut nothing off: a way shifted across its heading would leave it.
    is_strip: bool,
    kept: f64,
    /// Lower triangle of the square root of the noise's covariance: ee, ne, nn.
    noise: [f64; 3],
    /// The mean variance of each axis, square metres.
    pub variance_m2: f64,
}

/// Where a way begins.
#[derive(Debug, Clone, Copy)]
struct End {
    place: Vector,
    ahead: Vector,
    /// How far it is to the edge of the ground, where it is cut there.
    cut_m: Option<f64>,
}

impl Sideways {
    /// `ends` holds for each path where its way begins, and the unit vector of its heading there.
    pub fn of(paths: &[&Path], ends: &[(Vector, Vector)]) -> Self {
        let count = paths.len().max(1) as f64;
        let edge = Edge::of(&paths.iter().map(|path| (*path).clone()).collect::<Vec<_>>());
        let anchors = anchors(paths, edge.as_ref());
        let centre = mean(&anchors);
        let mut seen = [0.0; 3];
        for anchor in &anchors {
            let [east, north] = minus(*anchor, centre);
            for (part, square) in seen.iter_mut().zip([east * east, east * north, north * north]) {
                *part += square / (count - 1.0).max(1.0);
            }
        }
        // A ground is at least as large as what is seen on it, and few anchors say little of how large.
        let belief = reach_m2(paths);
        let drawn = |variance: f64| variance.max((count * variance + BELIEF * belief) / (count + BELIEF));
        let wanted = [drawn(seen[0]), seen[1], drawn(seen[2])];
        let hull = Hull::of(paths);
        let others = Hull::without_each(paths);
        let unseen_m = (12.0 * (wanted[0] + wanted[2]) / 2.0).sqrt() / count;
        let ends = (paths.iter().zip(ends).zip(&others)).map(|((path, (place, ahead)), others)| {
            let pace_m = path.length_m() / (path.line_m.len() - 1) as f64;
            let leaves = |hull: &Hull| hull.crossed(*place, *ahead).map(|[_, leaves]| leaves);
            let is_near =
                |far_m: &f64| (-CUT_PACES[0] * pace_m - unseen_m..=CUT_PACES[1] * pace_m).contains(far_m);
            let near = leaves(others.as_ref().unwrap_or(&hull)).filter(is_near);
            End {
                place: *place,
                ahead: *ahead,
                cut_m: near.and_then(|_| leaves(&hull)),
            }
        });
        let ends = ends.collect();
        let width = count.powf(-1.0 / 3.0);
        let kept = 1.0 / (1.0 + width * width).sqrt();
        // The permuted anchors have the covariance of n, not of n − 1.
        let own = kept * kept * (count - 1.0) / count;
        let noise = [0, 1, 2].map(|part| wanted[part] - own * seen[part]);
        let east = noise[0].max(0.0).sqrt();
        let skew = if east > 0.0 { noise[1] / east } else { 0.0 };
        Self {
            noise: [east, skew, (noise[2] - skew * skew).max(0.0).sqrt()],
            variance_m2: (wanted[0] + wanted[2]) / 2.0,
            is_strip: is_strip(wanted) && edge.is_none(),
            anchors,
            centre,
            ends,
            hull,
            kept,
        }
    }

    /// By how much each way is shifted, metres. Each number of a permutation has draws of its own, so that they can be made on
    /// any core.
    pub fn shifts(&self, seed: u64, permutation: u32) -> Vec<Vector> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::from(permutation) + 1);
        let mut places: Vec<usize> = (0..self.anchors.len()).collect();
        places.shuffle(&mut rng);
        (0..places.len())
            .map(|way| self.shift(way, places[way], &mut rng))
            .collect()
    }

    /// One way's shift to where another's anchor lies across it.
    fn shift(&self, way: usize, from: usize, rng: &mut ChaCha8Rng) -> Vector {
        let End { place, ahead, cut_m } = self.ends[way];
        let [one, other]: [f64; 2] = [0, 1].map(|_| StandardNormal.sample(rng));
        let [ee, ne, nn] = self.noise;
        let taken = times(minus(self.anchors[from], self.centre), self.kept);
        let to = plus(self.centre, plus(taken, [ee * one, ne * one + nn * other]));
        if self.is_strip {
            return minus(to, self.anchors[way]);
        }
        let across = left_of(ahead);
        let aside = times(across, dot(minus(to, self.anchors[way]), across));
        let cut = cut_m.zip(self.hull.crossed(plus(place, aside), ahead));
        cut.map_or(aside, |(cut_m, [_, leaves])| {
            plus(aside, times(ahead, leaves - cut_m))
        })
    }
}

/// Whether places of this covariance lie in a strip: so much longer than wide.
fn is_strip([ee, ne, nn]: [f64; 3]) -> bool {
    let axes = Spread { ee, en: ne, nn }.axes();
    axes.major > STRIP * axes.minor
}

fn mean(places: &[Vector]) -> Vector {
    let count = places.len().max(1) as f64;
    [0, 1].map(|axis| places.iter().map(|place| place[axis]).sum::<f64>() / count)
}

/// The place on each path that says least of where the path leads: an end that the edge did not cut where it cut the other,
/// the middle where it cut both, and of those that it did not cut the place so far along ([`part_along`]).
fn anchors(paths: &[&Path], edge: Option<&Edge>) -> Vec<Vector> {
    let is_cut = |path: usize| edge.map_or([false; 2], |edge| edge.cuts(path));
    let whole = (0..paths.len()).filter(|path| is_cut(*path) == [false; 2]);
    let part = part_along(&whole.map(|path| paths[path]).collect::<Vec<_>>());
    let anchor = |(number, path): (usize, &&Path)| {
        let part = match is_cut(number) {
            [false, true] => 0.0,
            [true, false] => 1.0,
            [true, true] => HALF,
            [false, false] => part,
        };
        plus(path.line_m[0], times(way(path), part))
    };
    paths.iter().enumerate().map(anchor).collect()
}

/// From a path's first place to its last.
fn way(path: &Path) -> Vector {
    minus(path.line_m[path.line_m.len() - 1], path.line_m[0])
}

/// How far along, as a part of each path, lies the place that hangs together least with the path's heading and length.
///
/// # Formula
/// With s the first place and w the way from first to last: the covariance of s + f w with w is zero at
/// f = −Σ (s − s̄)·(w − w̄) / Σ |w − w̄|², of variance σ² / Σ |w − w̄|², σ² what is left of the variance of s, each axis; drawn
/// to one half as far as that is uncertain.
fn part_along(paths: &[&Path]) -> f64 {
    let firsts: Vec<Vector> = paths.iter().map(|path| path.line_m[0]).collect();
    let ways: Vec<Vector> = paths.iter().map(|path| way(path)).collect();
    let (first, mean_way) = (mean(&firsts), mean(&ways));
    let (mut of_firsts, mut of_ways, mut of_both) = (0.0, 0.0, 0.0);
    for (place, way) in firsts.iter().zip(&ways) {
        let (place, way) = (minus(*place, first), minus(*way, mean_way));
        of_firsts += dot(place, place);
        of_ways += dot(way, way);
        of_both += dot(place, way);
    }
    if paths.len() < 3 || of_ways <= 0.0 {
        return HALF;
    }
    let part = -of_both / of_ways;
    let left = (of_firsts - part * part * of_ways).max(0.0) / (2 * (paths.len() - 2)) as f64;
    let [sd, beyond] = BELIEVED;
    let kept = sd * sd / (sd * sd + left / of_ways);
    (HALF + kept * (part - HALF)).clamp(-beyond, 1.0 + beyond)
}

/// The mean square distance of the paths' places from their own middles, square metres.
fn reach_m2(paths: &[&Path]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0f64);
    for path in paths {
        let middle = path.middle_m();
        for place in &path.line_m {
            sum += length(minus(*place, middle)).powi(2);
            count += 1.0;
        }
    }
    sum / count.max(1.0)
}
