//! Polygons cut to the map, so that nothing is written that nobody sees.

use super::window::Bounds;
use geo::{LineString, Polygon};

/// The part of a polygon inside bounds; `None` where there is none. A ring that leaves the bounds and comes back
/// runs along their rim.
pub(super) fn to_bounds(polygon: &Polygon<f64>, bounds: &Bounds) -> Option<Polygon<f64>> {
    let outer = ring_inside(polygon.exterior(), bounds)?;
    let holes = polygon.interiors().iter();
    let holes = holes.filter_map(|hole| ring_inside(hole, bounds)).collect();
    Some(Polygon::new(outer, holes))
}

/// The vertices whose coordinates are numbers.
pub(super) fn vertices(ring: &LineString<f64>) -> impl Iterator<Item = [f64; 2]> {
    let finite = ring.0.iter().filter(|c| c.x.is_finite() && c.y.is_finite());
    finite.map(|c| [c.x, c.y])
}

/// Cuts a ring at the four sides in turn; the method of Sutherland and Hodgman, "Reentrant polygon clipping",
/// Communications of the ACM 17 (1974), 32–42 (from memory).
fn ring_inside(ring: &LineString<f64>, bounds: &Bounds) -> Option<LineString<f64>> {
    let mut kept: Vec<[f64; 2]> = vertices(ring).collect();
    if kept.first() == kept.last() {
        kept.pop();
    }
    for (axis, limit_m, sign) in [
        (0, bounds.west_m, 1.0),
        (0, bounds.east_m, -1.0),
        (1, bounds.south_m, 1.0),
        (1, bounds.north_m, -1.0),
    ] {
        kept = cut(&kept, axis, |place| sign * (place - limit_m));
    }
    (kept.len() > 2).then(|| LineString::from(kept))
}

/// What of a ring lies where the depth behind a side is not negative.
fn cut(ring: &[[f64; 2]], axis: usize, depth_m: impl Fn(f64) -> f64) -> Vec<[f64; 2]> {
    let mut kept = Vec::with_capacity(ring.len());
    for (i, to) in ring.iter().enumerate() {
        let from = ring[if i == 0 { ring.len() - 1 } else { i - 1 }];
        let [before, after] = [depth_m(from[axis]), depth_m(to[axis])];
        if (before < 0.0) != (after < 0.0) {
            let share = before / (before - after);
            kept.push([0, 1].map(|k| from[k] + share * (to[k] - from[k])));
        }
        if after >= 0.0 {
            kept.push(*to);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, polygon};

    const BOX: Bounds = Bounds {
        west_m: 0.0,
        south_m: 0.0,
        east_m: 10.0,
        north_m: 5.0,
    };

    #[test]
    fn what_is_inside_stays_and_what_is_outside_goes() {
        let inside = polygon![(x: 1., y: 1.), (x: 4., y: 1.), (x: 4., y: 3.)];
        assert_eq!(to_bounds(&inside, &BOX).unwrap().unsigned_area(), 3.0);
        let outside = polygon![(x: 11., y: 1.), (x: 14., y: 1.), (x: 14., y: 3.)];
        assert!(to_bounds(&outside, &BOX).is_none());
    }

    #[test]
    fn a_ring_around_the_bounds_becomes_their_rim_and_its_hole_stays() {
        let around = polygon!(
            exterior: [(x: -90., y: -90.), (x: 90., y: -90.), (x: 90., y: 90.), (x: -90., y: 90.)],
            interiors: [[(x: 8., y: 1.), (x: 12., y: 1.), (x: 12., y: 3.), (x: 8., y: 3.)]],
        );
        let cut = to_bounds(&around, &BOX).unwrap();
        assert!((cut.unsigned_area() - (50.0 - 4.0)).abs() < 1e-9, "{cut:?}");
    }

    #[test]
    fn wild_and_empty_rings_are_left_out() {
        for ring in [
            vec![],
            vec![(1.0, 1.0)],
            vec![(f64::NAN, 1.0), (2.0, f64::INFINITY), (1.0, 1.0), (2.0, 2.0)],
        ] {
            let polygon = Polygon::new(ring.into(), vec![]);
            assert!(to_bounds(&polygon, &BOX).is_none(), "{polygon:?}");
        }
    }
}
