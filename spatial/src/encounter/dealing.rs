//! The same ways by chance: each in the place of another, its heading and shape kept.

use super::edge::Edge;
use super::hull::{Hull, drawn_to_reach, reach_m2};
use super::path::Path;
use crate::continuation::plane::{Spread, Vector, dot, left_of, minus, plus, times};
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

/// Where the anchor lies if nothing tells, as a part of the path.
const HALF: f64 = 0.5;
/// Standard deviation of where it lies about there, and how far beyond an end it may be taken to lie: what few paths tell is
/// that uncertain.
const BELIEVED: [f64; 2] = [1.0, 0.25];
/// With fewer paths nothing is told of it.
const TELLING: usize = 4;
/// How often the spread of the anchors and the anchors are found from each other; they hardly move after the first few times.
const ROUNDS: usize = 20;
/// Along no axis are places taken to be spread by less than such a part of the whole variance: else those on one line would say
/// everything of what lies beside it.
const LEAST_SPREAD: f64 = 1e-3;
/// An end that lies no more than so many paces beyond or short of where its way leaves the ground of the other paths is taken
/// for cut there; the fewer paths there are, the less of the ground the others show, and the farther beyond it may lie.
const CUT_PACES: [f64; 2] = [3.0, 1.5];

/// Where ways may lie that have nothing to do with each other.
///
/// # Formula
/// A permutation: the anchor of way i is moved to where the anchor of way π(i) lies, and the whole way with it. The anchor is
/// the place on each path that hangs together least with its heading and length ([`part_along`]): the beginnings where
/// animals set out anywhere. What is seen is then one of all the permutations, each as likely as the others, whatever ground the
/// anchors lie on.
///
/// Where the rock's edge cuts trackways off, how far along its heading a way lies is no chance: all that lead out end at the
/// edge. There a way takes its place *across* its heading from the other alone, the anchor is the middle of a path that was cut at
/// both ends and else the end that was not; and an end that lies where its way leaves the ground (the convex hull of the other
/// paths) is moved along its heading until it lies as near to the edge as before.
///
/// # References
/// Fisher, R. A. (1935), The Design of Experiments, section 21 (from memory), for the permutation. The anchor and the shift are this
/// program's own.
#[derive(Debug, Clone)]
pub(super) struct Dealing {
    anchors: Vec<Vector>,
    /// Where the edge cuts trackways off.
    cut: Option<Cut>,
    /// The mean variance of each axis of the ground, square metres.
    pub variance_m2: f64,
}

/// A ground that ends at an edge.
#[derive(Debug, Clone)]
struct Cut {
    hull: Hull,
    ends: Vec<End>,
}

/// Where a way begins.
#[derive(Debug, Clone, Copy)]
struct End {
    place: Vector,
    ahead: Vector,
    /// How far it is to the edge of the ground, where it is cut there.
    cut_m: Option<f64>,
}

impl Dealing {
    /// `ends` holds for each path where its way begins, and the unit vector of its heading there.
    pub fn of(paths: &[&Path], ends: &[(Vector, Vector)]) -> Self {
        let edge = Edge::of(paths);
        let anchors = anchors(paths, edge.as_ref());
        let variance_m2 = variance_m2(&anchors, reach_m2(paths));
        Self {
            cut: edge.map(|_| Cut::of(paths, ends, variance_m2)),
            anchors,
            variance_m2,
        }
    }

    /// By how much each way is shifted, metres. Each number of a permutation has draws of its own, so that they can be made on
    /// any core.
    pub fn shifts(&self, seed: u64, permutation: u32) -> Vec<Vector> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::from(permutation) + 1);
        let mut places: Vec<usize> = (0..self.anchors.len()).collect();
        places.shuffle(&mut rng);
        let shift = |(way, from): (usize, usize)| {
            let whole = minus(self.anchors[from], self.anchors[way]);
            self.cut.as_ref().map_or(whole, |cut| cut.across(way, whole))
        };
        places.into_iter().enumerate().map(shift).collect()
    }
}

impl Cut {
    fn of(paths: &[&Path], ends: &[(Vector, Vector)], variance_m2: f64) -> Self {
        let hull = Hull::of(paths);
        let others = Hull::without_each(paths);
        let unseen_m = (12.0 * variance_m2).sqrt() / paths.len() as f64;
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
        Self {
            ends: ends.collect(),
            hull,
        }
    }

    /// What of a shift leads across a way, and then along it as far as its end was from the edge.
    fn across(&self, way: usize, whole: Vector) -> Vector {
        let End { place, ahead, cut_m } = self.ends[way];
        let across = left_of(ahead);
        let aside = times(across, dot(whole, across));
        let cut = cut_m.zip(self.hull.crossed(plus(place, aside), ahead));
        cut.map_or(aside, |(cut_m, [_, leaves])| {
            plus(aside, times(ahead, leaves - cut_m))
        })
    }
}

fn mean(places: &[Vector]) -> Vector {
    let count = places.len().max(1) as f64;
    [0, 1].map(|axis| places.iter().map(|place| place[axis]).sum::<f64>() / count)
}

/// The mean variance of each axis of the ground that the anchors show.
fn variance_m2(anchors: &[Vector], reach_m2: f64) -> f64 {
    let (count, centre) = (anchors.len() as f64, mean(anchors));
    let drawn = [0, 1].map(|axis| {
        let square: f64 = anchors.iter().map(|at| (at[axis] - centre[axis]).powi(2)).sum();
        drawn_to_reach(square / (count - 1.0).max(1.0), reach_m2, count)
    });
    (drawn[0] + drawn[1]) / 2.0
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
/// With s the first place and w the way from first to last, each less its mean: s + f w has the least generalised variance at
/// f = −Σ sᵀS⁻¹w / Σ wᵀS⁻¹w, S the covariance of s + f w itself (n − 2 degrees of freedom), found by turns; it is weighed so that
/// on a strip what lies across counts as much as what lies along. Its variance is 1 / Σ wᵀS⁻¹w; f is drawn to one half as
/// far as it is uncertain.
///
/// # References
/// Seber, G. A. F. (1984), Multivariate Observations, section 8.5 (from memory): estimated generalised least squares.
fn part_along(paths: &[&Path]) -> f64 {
    if paths.len() < TELLING {
        return HALF;
    }
    let firsts: Vec<Vector> = paths.iter().map(|path| path.line_m[0]).collect();
    let ways: Vec<Vector> = paths.iter().map(|path| way(path)).collect();
    let (first, mean_way) = (mean(&firsts), mean(&ways));
    let both: Vec<(Vector, Vector)> = (firsts.iter().zip(&ways))
        .map(|(place, way)| (minus(*place, first), minus(*way, mean_way)))
        .collect();
    let (mut part, mut of_ways) = (HALF, 0.0);
    for _ in 0..ROUNDS {
        let inverse = spread(&both, part).inverse();
        let mut of_both = 0.0;
        of_ways = 0.0;
        for (place, way) in &both {
            let weighed = inverse.product(*way);
            of_both += dot(*place, weighed);
            of_ways += dot(*way, weighed);
        }
        if of_ways <= 0.0 {
            return HALF;
        }
        part = -of_both / of_ways;
    }
    let [sd, beyond] = BELIEVED;
    let kept = sd * sd / (sd * sd + 1.0 / of_ways);
    (HALF + kept * (part - HALF)).clamp(-beyond, 1.0 + beyond)
}

/// The covariance of the places so far along.
fn spread(both: &[(Vector, Vector)], part: f64) -> Spread {
    let sum = both.iter().fold(Spread::default(), |sum, (place, way)| {
        sum.plus(Spread::of_offset(plus(*place, times(*way, part))))
    });
    let least = Spread::round(LEAST_SPREAD * (sum.ee + sum.nn));
    sum.plus(least).times(1.0 / (both.len() - 2) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::continuation::plane::length;
    use rand::RngExt;
    use std::f64::consts::TAU;

    /// Straight ones that set out anywhere in a rectangle, in any heading, and end of themselves.
    fn scattered(count: usize, size_m: Vector, seed: u64) -> Vec<Path> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let path = |_| {
            let at = size_m.map(|side_m| side_m * rng.random::<f64>());
            let heading_rad = rng.random_range(0.0..TAU);
            let ahead = [f64::sin(heading_rad), f64::cos(heading_rad)];
            let paces = rng.random_range(8..30);
            let line = (0..=paces).map(|pace| plus(at, times(ahead, f64::from(pace))));
            Path::along("T1".parse().unwrap(), line.collect(), 0.3).unwrap()
        };
        (0..count).map(path).collect()
    }

    /// Their ends, and the unit vector of their headings.
    fn ends(paths: &[Path]) -> Vec<(Vector, Vector)> {
        let end = |path: &Path| {
            let way = way(path);
            (plus(path.line_m[0], way), times(way, 1.0 / length(way)))
        };
        paths.iter().map(end).collect()
    }

    fn dealing(paths: &[Path]) -> Dealing {
        Dealing::of(&paths.iter().collect::<Vec<_>>(), &ends(paths))
    }

    #[test]
    fn the_places_of_trackways_that_end_of_themselves_are_dealt_out_whole() {
        let paths = scattered(20, [80.0, 60.0], 3);
        let dealing = dealing(&paths);
        let shifts = dealing.shifts(7, 0);
        let mut dealt: Vec<Vector> = (dealing.anchors.iter().zip(&shifts))
            .map(|(anchor, shift)| plus(*anchor, *shift))
            .collect();
        let mut anchors = dealing.anchors.clone();
        for places in [&mut dealt, &mut anchors] {
            places.sort_by(|one, other| one[0].total_cmp(&other[0]));
        }
        let off = dealt
            .iter()
            .zip(&anchors)
            .map(|(one, other)| length(minus(*one, *other)));
        assert!(off.fold(0.0, f64::max) < 1e-9);
        assert_ne!(dealing.shifts(7, 1), shifts, "each permutation has its own draws");
        assert_eq!(dealing.shifts(7, 0), shifts);
    }

    #[test]
    fn beginnings_that_lie_anywhere_are_the_anchors_on_a_strip_too() {
        for size_m in [[80.0, 60.0], [300.0, 10.0]] {
            let parts: Vec<f64> = (0..40)
                .map(|seed| part_along(&scattered(20, size_m, seed).iter().collect::<Vec<_>>()))
                .collect();
            let mean = parts.iter().sum::<f64>() / 40.0;
            assert!(mean.abs() < 0.15, "{size_m:?} {mean}");
        }
    }

    #[test]
    fn what_tells_nothing_of_the_anchor_leaves_it_in_the_middle() {
        let paths = scattered(3, [80.0, 60.0], 1);
        assert_eq!(part_along(&paths.iter().collect::<Vec<_>>()), HALF);
        // All lead the same way as far.
        let line = |no: i32| (0..9).map(move |pace| [f64::from(no * no), f64::from(pace)]);
        let alike: Vec<Path> = (0..6)
            .map(|no| Path::along("T1".parse().unwrap(), line(no).collect(), 0.3).unwrap())
            .collect();
        let part = part_along(&alike.iter().collect::<Vec<_>>());
        assert!((part - HALF).abs() < 1e-6, "{part}");
        // All lie on one line: what is left beside it is nothing.
        let on_line = |no: i32| (0..5 + no).map(move |pace| [f64::from(pace + 7 * no * no), 0.0]);
        let in_line: Vec<Path> = (0..6)
            .map(|no| Path::along("T1".parse().unwrap(), on_line(no).collect(), 0.3).unwrap())
            .collect();
        assert!(part_along(&in_line.iter().collect::<Vec<_>>()).is_finite());
        assert!(
            dealing(&in_line)
                .shifts(1, 0)
                .iter()
                .flatten()
                .all(|part| part.is_finite())
        );
    }

    #[test]
    fn ends_that_the_edge_cut_lie_at_it_again() {
        // Out of a disc of 20 m, from anywhere in it, in any heading.
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut paths = Vec::new();
        while paths.len() < 30 {
            let at = [0, 1].map(|_| rng.random_range(-20.0..20.0));
            let heading_rad = rng.random_range(0.0..TAU);
            let ahead = [f64::sin(heading_rad), f64::cos(heading_rad)];
            let line = (0..60).map(|pace| plus(at, times(ahead, f64::from(pace))));
            let line = line.take_while(|place| length(*place) <= 20.0).collect();
            paths.extend(Path::along("T1".parse().unwrap(), line, 0.3));
        }
        let (dealing, ends) = (dealing(&paths), ends(&paths));
        let cut = dealing.cut.as_ref().expect("an edge");
        let is_cut = cut.ends.iter().filter(|end| end.cut_m.is_some()).count();
        assert!(is_cut > 25, "{is_cut}");
        let (mut farthest, mut at_edge, mut all) = (0.0f64, 0, 0);
        for permutation in 0..20 {
            for ((place, _), shift) in ends.iter().zip(dealing.shifts(1, permutation)) {
                farthest = farthest.max(length(shift));
                at_edge += usize::from((17.5..20.0).contains(&length(plus(*place, shift))));
                all += 1;
            }
        }
        assert!(at_edge * 20 > all * 19, "{at_edge} of {all}");
        assert!(farthest > 20.0, "{farthest}");
    }
}
