//! The ground that the paths of a surface show: how large it is at least, and the convex hull of all of them.

use super::path::Path;
use crate::continuation::plane::{Vector, dot, minus};
use geo::{Area, Centroid, ConvexHull, Euclidean, Length, MultiPoint, Point};

/// How many paths the paths' own length counts for where the ground's size is learnt.
const BELIEF: f64 = 2.0;

/// A variance of places along one axis, seen on so many paths, and no less than as if [`BELIEF`] paths more had shown the paths'
/// own mean square reach: a ground is at least as large as what is seen on it, and few places say little of how large.
pub(super) fn drawn_to_reach(variance: f64, reach_m2: f64, count: f64) -> f64 {
    variance.max((count * variance + BELIEF * reach_m2) / (count + BELIEF))
}

/// The mean square distance of the paths' places from their own middles, square metres.
pub(super) fn reach_m2(paths: &[&Path]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0f64);
    for path in paths {
        let middle = path.middle_m();
        for place in &path.line_m {
            let [east, north] = minus(*place, middle);
            sum += east.powi(2) + north.powi(2);
            count += 1.0;
        }
    }
    sum / count.max(1.0)
}

/// A convex ground.
#[derive(Debug, Clone)]
pub(super) struct Hull {
    origin: Vector,
    /// Seen from there.
    middle: Vector,
    /// The length of its rim over its area.
    rim_per_m: f64,
    /// For each side a unit vector outward and how far out it lies.
    sides: Vec<(Vector, f64)>,
}

impl Hull {
    /// Around all paths.
    pub fn of(paths: &[&Path]) -> Self {
        Self::around(
            &paths
                .iter()
                .flat_map(|path| path.line_m.iter().copied())
                .collect::<Vec<_>>(),
        )
    }

    /// Around all paths but one, for each path; `None` where it has no part in the hull of all, which is then that of the others.
    pub fn without_each(paths: &[&Path]) -> Vec<Option<Self>> {
        // Only the corners of each path's own hull can be corners of any.
        let corners: Vec<Vec<Vector>> = paths.iter().map(|path| corners(&path.line_m)).collect();
        let all = corners_of(&corners, usize::MAX);
        let outermost = self::corners(&all);
        (0..paths.len())
            .map(|path| {
                let has_part = corners[path].iter().any(|corner| outermost.contains(corner));
                has_part.then(|| Self::around(&corners_of(&corners, path)))
            })
            .collect()
    }

    pub fn around(places: &[Vector]) -> Self {
        let origin = places.first().copied().unwrap_or_default();
        // Reckoned near the origin, where coordinates are small and exact.
        let places: MultiPoint<f64> = (places.iter())
            .map(|place| Point::from(minus(*place, origin)))
            .collect();
        let outline = places.convex_hull();
        let sides = outline.exterior().lines().filter_map(|side| {
            let way = [side.end.x - side.start.x, side.end.y - side.start.y];
            let length_m = way[0].hypot(way[1]);
            // The hull's outline runs anticlockwise, so that its outside is to the right.
            let out = [way[1] / length_m, -way[0] / length_m];
            (length_m > 1e-6).then(|| (out, dot(out, [side.start.x, side.start.y])))
        });
        let middle = outline.centroid().map_or([0.0; 2], |at| [at.x(), at.y()]);
        Self {
            origin,
            middle,
            rim_per_m: Euclidean.length(outline.exterior()) / outline.unsigned_area(),
            sides: sides.collect(),
        }
    }

    /// The length of its rim over its area, per metre: times a small width, the part of the ground that lies so near to the
    /// rim. Not finite where it has no area.
    pub fn rim_per_m(&self) -> f64 {
        self.rim_per_m
    }

    /// How far outside of it a place lies, metres; within, less than zero.
    pub fn outside_m(&self, place: Vector) -> f64 {
        let at = minus(place, self.origin);
        let sides = self.sides.iter().map(|(out, far)| dot(*out, at) - far);
        sides.fold(f64::NEG_INFINITY, f64::max)
    }

    /// How far beyond the side that they pass farthest any of these places lie, metres, and which way is out there.
    pub fn farthest_out(&self, places: &[Vector]) -> (f64, Vector) {
        let beyond = |(out, far): &(Vector, f64)| {
            let most = places
                .iter()
                .map(|place| dot(*out, minus(*place, self.origin)) - far);
            (most.fold(f64::NEG_INFINITY, f64::max), *out)
        };
        let none = (f64::NEG_INFINITY, [0.0; 2]);
        self.sides
            .iter()
            .map(beyond)
            .fold(none, |a, b| if b.0 > a.0 { b } else { a })
    }

    /// The same ground, its rim so much farther out.
    pub fn widened(&self, by_m: f64) -> Self {
        let sides = self.sides.iter().map(|(out, far)| (*out, far + by_m));
        Self {
            sides: sides.collect(),
            ..self.clone()
        }
    }

    /// The same ground, larger from its middle outward by such a part.
    pub fn grown(&self, part: f64) -> Self {
        let middle = self.middle;
        let sides = self
            .sides
            .iter()
            .map(|(out, far)| (*out, far + part * (far - dot(*out, middle))));
        Self {
            origin: self.origin,
            middle,
            rim_per_m: self.rim_per_m / (1.0 + part),
            sides: sides.collect(),
        }
    }

    /// How far along a unit vector a line through a place enters the ground and leaves it; `None` where it passes by.
    pub fn crossed(&self, place: Vector, way: Vector) -> Option<[f64; 2]> {
        let at = minus(place, self.origin);
        let (mut enters, mut leaves) = (f64::NEG_INFINITY, f64::INFINITY);
        for (out, far) in &self.sides {
            let (room, speed) = (far - dot(*out, at), dot(*out, way));
            if speed > 1e-12 {
                leaves = leaves.min(room / speed);
            } else if speed < -1e-12 {
                enters = enters.max(room / speed);
            } else if room < 0.0 {
                return None;
            }
        }
        (enters <= leaves && leaves.is_finite() && enters.is_finite()).then_some([enters, leaves])
    }
}

/// All corners but those of one path.
fn corners_of(corners: &[Vec<Vector>], without: usize) -> Vec<Vector> {
    let others = corners.iter().enumerate().filter(|(path, _)| *path != without);
    others.flat_map(|(_, corners)| corners.iter().copied()).collect()
}

/// The places that are corners of their hull.
fn corners(places: &[Vector]) -> Vec<Vector> {
    let all: MultiPoint<f64> = places.iter().map(|place| Point::from(*place)).collect();
    let hull = all.convex_hull();
    hull.exterior().coords().map(|at| [at.x, at.y]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_enters_and_leaves_a_square() {
        let corners = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let path = Path::along("T1".parse().unwrap(), corners, 0.3).unwrap();
        let hull = Hull::of(&[&path]);
        assert_eq!(hull.crossed([1.0, 2.0], [1.0, 0.0]), Some([-1.0, 3.0]));
        assert_eq!(hull.crossed([1.0, 5.0], [1.0, 0.0]), None);
        let straight = Path::along("T1".parse().unwrap(), vec![[0.0, 0.0], [4.0, 0.0]], 0.3).unwrap();
        assert_eq!(Hull::of(&[&straight]).crossed([1.0, 1.0], [1.0, 0.0]), None);
    }
}
