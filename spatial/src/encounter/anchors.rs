//! The place on each path that says least of where the path leads, so that it can be dealt to another.

use super::edge::Edge;
use super::path::Path;
use crate::continuation::plane::{Spread, Vector, dot, minus, plus, times};

/// What is held of the anchor before the paths are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Belief {
    /// That it lies on the path or hardly beyond: few paths tell little of it.
    OnThePath,
    /// Nothing.
    Nothing,
}

/// Where the anchor lies if nothing tells, as a part of the path.
pub(super) const HALF: f64 = 0.5;
/// Standard deviation of where it lies about there, and how far beyond an end it may be taken to lie: what few paths tell is
/// that uncertain.
const BELIEVED: [f64; 2] = [1.0, 0.25];
/// With fewer paths nothing is told of it.
pub(super) const TELLING: usize = 4;
/// If nothing is held of it beforehand it may be taken to lie so many lengths of the path beyond an end.
const FARTHEST: f64 = 1.0;
/// How often the spread of the anchors and the anchors are found from each other; they hardly move after the first few times.
const ROUNDS: usize = 20;
/// Along no axis are places taken to be spread by less than such a part of the whole variance: else those on one line would say
/// everything of what lies beside it.
const LEAST_SPREAD: f64 = 1e-3;

/// The place on each path that says least of where the path leads: an end that the edge did not cut where it cut the other,
/// the middle where it cut both, and of those that it did not cut the place so far along ([`part_along`]).
pub(super) fn anchors(paths: &[&Path], edge: Option<&Edge>, belief: Belief) -> Vec<Vector> {
    let is_cut = |path: usize| edge.map_or([false; 2], |edge| edge.cuts(path));
    let whole = (0..paths.len()).filter(|path| is_cut(*path) == [false; 2]);
    let part = part_along(&whole.map(|path| paths[path]).collect::<Vec<_>>(), belief);
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
pub(super) fn way(path: &Path) -> Vector {
    minus(path.line_m[path.line_m.len() - 1], path.line_m[0])
}

/// How far along, as a part of each path, lies the place that hangs together least with the path's heading and length.
///
/// # Formula
/// With s the first place and w the way from first to last, each less its mean: s + f w has the least generalised variance at
/// f = −Σ sᵀS⁻¹w / Σ wᵀS⁻¹w, S the covariance of s + f w itself (n − 2 degrees of freedom), found by turns; it is weighed so that
/// on a strip what lies across counts as much as what lies along. Its variance is 1 / Σ wᵀS⁻¹w; unless nothing is
/// held of it, f is drawn to one half as far as it is uncertain.
///
/// # References
/// Seber, G. A. F. (1984), Multivariate Observations, section 8.5 (from memory): estimated generalised least squares.
pub(super) fn part_along(paths: &[&Path], belief: Belief) -> f64 {
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
    match belief {
        Belief::Nothing => part.clamp(-FARTHEST, 1.0 + FARTHEST),
        Belief::OnThePath => {
            let [sd, beyond] = BELIEVED;
            let kept = sd * sd / (sd * sd + 1.0 / of_ways);
            (HALF + kept * (part - HALF)).clamp(-beyond, 1.0 + beyond)
        }
    }
}

/// The covariance of the places so far along.
fn spread(both: &[(Vector, Vector)], part: f64) -> Spread {
    let places = both.iter().map(|(place, way)| plus(*place, times(*way, part)));
    squares(places).times(1.0 / (both.len() - 2) as f64)
}

/// The sum of squares and products of offsets, along no axis next to nothing.
pub(super) fn squares(offsets: impl Iterator<Item = Vector>) -> Spread {
    let sum = offsets.fold(Spread::default(), |sum, at| sum.plus(Spread::of_offset(at)));
    sum.plus(Spread::round(LEAST_SPREAD * (sum.ee + sum.nn)))
}

pub(super) fn mean(places: &[Vector]) -> Vector {
    let count = places.len().max(1) as f64;
    [0, 1].map(|axis| places.iter().map(|place| place[axis]).sum::<f64>() / count)
}

#[cfg(test)]
mod tests {
    use super::super::dealing::tests::scattered;
    use super::*;

    #[test]
    fn beginnings_that_lie_anywhere_are_the_anchors_on_a_strip_too() {
        for (size_m, belief) in [
            ([80.0, 60.0], Belief::OnThePath),
            ([300.0, 10.0], Belief::OnThePath),
            ([80.0, 60.0], Belief::Nothing),
        ] {
            let parts: Vec<f64> = (0..40)
                .map(|seed| part_along(&scattered(20, size_m, seed).iter().collect::<Vec<_>>(), belief))
                .collect();
            let mean = parts.iter().sum::<f64>() / 40.0;
            assert!(mean.abs() < 0.15, "{size_m:?} {belief:?} {mean}");
        }
    }

    #[test]
    fn what_tells_nothing_of_the_anchor_leaves_it_in_the_middle() {
        let paths = scattered(3, [80.0, 60.0], 1);
        assert_eq!(
            part_along(&paths.iter().collect::<Vec<_>>(), Belief::Nothing),
            HALF
        );
        // All lead the same way as far.
        let line = |no: i32| (0..9).map(move |pace| [f64::from(no * no), f64::from(pace)]);
        let alike: Vec<Path> = (0..6)
            .map(|no| Path::along("T1".parse().unwrap(), line(no).collect(), 0.3).unwrap())
            .collect();
        let part = part_along(&alike.iter().collect::<Vec<_>>(), Belief::OnThePath);
        assert!((part - HALF).abs() < 1e-6, "{part}");
        // All lie on one line: what is left beside it is nothing.
        let on_line = |no: i32| (0..5 + no).map(move |pace| [f64::from(pace + 7 * no * no), 0.0]);
        let in_line: Vec<Path> = (0..6)
            .map(|no| Path::along("T1".parse().unwrap(), on_line(no).collect(), 0.3).unwrap())
            .collect();
        assert!(part_along(&in_line.iter().collect::<Vec<_>>(), Belief::Nothing).is_finite());
    }
}
