//! One polygon around all regions in which prints should lie.

use super::ahead::Stage;
use super::plane::{Vector, plus};
use geo::{Area, ConvexHull, LineString, MultiPoint, Point, Polygon, unary_union};

/// A polygon of corners seen from an origin.
pub(super) fn polygon(origin: [f64; 2], corners: &[Vector]) -> Polygon<f64> {
    let places = corners.iter().map(|corner| {
        let [east, north] = plus(origin, *corner);
        (east, north)
    });
    Polygon::new(places.collect::<LineString<f64>>(), Vec::new())
}

/// The hulls of the 95 % ellipses of successive steps, joined; the first hull reaches back to the last print.
pub(super) fn corridor(origin: [f64; 2], last: Vector, stages: &[Stage]) -> Polygon<f64> {
    // Joined near the origin, where coordinates are small and exact, and moved afterwards.
    let corners: Vec<Vec<Vector>> = (stages.iter())
        .map(|stage| stage.axes.corners(stage.mean, stage.radii[1]))
        .collect();
    let mut hulls = Vec::with_capacity(corners.len());
    let mut before: &[Vector] = &[last];
    for ellipse in &corners {
        let both: MultiPoint<f64> = before.iter().chain(ellipse).map(|at| Point::from(*at)).collect();
        hulls.push(both.convex_hull());
        before = ellipse;
    }
    let joined = unary_union(&hulls);
    // Successive hulls share an ellipse, so that they join; a splinter of rounding may stand apart.
    let largest = (joined.0.into_iter()).max_by(|a, b| a.unsigned_area().total_cmp(&b.unsigned_area()));
    let outline = largest.unwrap_or_else(|| Polygon::new(LineString::new(Vec::new()), Vec::new()));
    let corners: Vec<Vector> = outline.exterior().coords().map(|at| [at.x, at.y]).collect();
    let holes = outline.interiors().iter().map(|ring| {
        let moved = ring.coords().map(|at| (at.x + origin[0], at.y + origin[1]));
        moved.collect::<LineString<f64>>()
    });
    let holes: Vec<LineString<f64>> = holes.collect();
    Polygon::new(polygon(origin, &corners).exterior().clone(), holes)
}
