//! Whole places dealt out as what was seen of them is: hanging together with the ways not at all.

use super::anchors::{mean, squares, way};
use super::path::Path;
use crate::continuation::plane::{Spread, Vector, dot, minus, plus, times};

/// The anchors, so that their permutations can be settled.
///
/// # Formula
/// The anchors a are chosen so that on this surface Σ aᵀS⁻¹w is zero, w the ways from first place to last, each less its mean, and
/// S the covariance of a. Of a permutation it is not, and so permutations would meet more often than what is seen where few
/// trackways tell where the anchors lie. Each is therefore settled: b w is taken off, b = Σ aᵀS⁻¹w / Σ wᵀS⁻¹w, and what is left
/// is brought to the same Σ aᵀS⁻¹a.
///
/// # References
/// Freedman, D. & Lane, D. (1983), Journal of Business & Economic Statistics 1, 292-298 (from memory), for permutations of what a
/// regression leaves. To settle each of them is this program's own.
#[derive(Debug, Clone)]
pub(super) struct Settling {
    centre: Vector,
    /// Each less its mean.
    places: Vec<Vector>,
    ways: Vec<Vector>,
    inverse: Spread,
    /// Σ wᵀS⁻¹w and Σ aᵀS⁻¹a, the same for all permutations.
    of_ways: f64,
    of_places: f64,
}

impl Settling {
    pub fn of(paths: &[&Path], anchors: &[Vector]) -> Self {
        let ways: Vec<Vector> = paths.iter().map(|path| way(path)).collect();
        let (centre, mean_way) = (mean(anchors), mean(&ways));
        let places: Vec<Vector> = anchors.iter().map(|at| minus(*at, centre)).collect();
        let ways: Vec<Vector> = ways.iter().map(|way| minus(*way, mean_way)).collect();
        let inverse = squares(places.iter().copied()).inverse();
        Self {
            centre,
            of_ways: size(inverse, &ways),
            of_places: size(inverse, &places),
            places,
            ways,
            inverse,
        }
    }

    /// The anchors of a permutation, in which each way has the place of another.
    pub fn settled(&self, order: &[usize]) -> Vec<Vector> {
        let both = self.ways.iter().zip(order);
        let of_both: f64 = (both.clone())
            .map(|(way, from)| dot(self.places[*from], self.inverse.product(*way)))
            .sum();
        let part = if self.of_ways > 0.0 {
            of_both / self.of_ways
        } else {
            0.0
        };
        let places: Vec<Vector> = both
            .map(|(way, from)| minus(self.places[*from], times(*way, part)))
            .collect();
        let left = size(self.inverse, &places);
        let scale = if left > 0.0 {
            (self.of_places / left).sqrt()
        } else {
            1.0
        };
        let settled = places.into_iter().map(|at| plus(self.centre, times(at, scale)));
        settled.collect()
    }
}

/// Σ aᵀS⁻¹a.
fn size(inverse: Spread, all: &[Vector]) -> f64 {
    all.iter().map(|at| dot(*at, inverse.product(*at))).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_settled_permutation_hangs_together_with_no_way() {
        let line = |no: f64| {
            let at = [(7.0 * no) % 31.0, (no * no * 3.0) % 29.0];
            let way = [no.sin(), 3.0 + no.cos()];
            (0..10).map(move |pace| plus(at, times(way, f64::from(pace))))
        };
        let paths: Vec<Path> = (0..9)
            .map(|no| Path::along("T1".parse().unwrap(), line(f64::from(no)).collect(), 0.3).unwrap())
            .collect();
        let paths: Vec<&Path> = paths.iter().collect();
        let anchors: Vec<Vector> = paths.iter().map(|path| path.line_m[3]).collect();
        let settling = Settling::of(&paths, &anchors);
        let settled = settling.settled(&[3, 1, 4, 0, 5, 8, 2, 6, 7]);
        let product = |one: Vector, other: Vector| dot(one, settling.inverse.product(other));
        let (mut with_ways, mut size, mut before) = (0.0, 0.0, 0.0);
        for (at, (way, place)) in settled.iter().zip(settling.ways.iter().zip(&settling.places)) {
            let at = minus(*at, settling.centre);
            with_ways += product(at, *way);
            size += product(at, at);
            before += product(*place, *place);
        }
        assert!(with_ways.abs() < 1e-9, "{with_ways}");
        assert!((size - before).abs() < 1e-9, "{size} {before}");
    }

    #[test]
    fn ways_that_are_all_alike_leave_places_as_they_are() {
        let line = |no: i32| (0..9).map(move |pace| [f64::from(no * no), f64::from(pace)]);
        let paths: Vec<Path> = (0..5)
            .map(|no| Path::along("T1".parse().unwrap(), line(no).collect(), 0.3).unwrap())
            .collect();
        let paths: Vec<&Path> = paths.iter().collect();
        let anchors: Vec<Vector> = paths.iter().map(|path| path.line_m[0]).collect();
        let order = [4, 3, 2, 1, 0];
        let settled = Settling::of(&paths, &anchors).settled(&order);
        for (at, from) in settled.iter().zip(order) {
            assert!(crate::continuation::plane::length(minus(*at, anchors[from])) < 1e-9);
        }
    }
}
