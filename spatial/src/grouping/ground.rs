//! Where a missing print could be hidden.

use super::motion::Vector;
use crate::model::{Extent, ExtentKind};
use geo::{BoundingRect, Contains, Point, Polygon};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, PointDistance, RTree};

type Leaf = GeomWithData<Rectangle<[f64; 2]>, usize>;

/// The extents of a surface, asked of places seen from its origin.
#[derive(Debug)]
pub(super) struct Ground {
    origin: [f64; 2],
    extents: Vec<(ExtentKind, Polygon<f64>)>,
    boxes: RTree<Leaf>,
    /// With any exposed extent drawn, what lies outside them all was not looked at.
    has_exposed: bool,
}

impl Ground {
    pub fn of(extents: &[Extent], origin: [f64; 2]) -> Self {
        let (mut kept, mut boxes) = (Vec::new(), Vec::new());
        for extent in extents {
            let Some(rect) = extent.polygon.bounding_rect() else {
                continue;
            };
            let corners = Rectangle::from_corners(rect.min().into(), rect.max().into());
            boxes.push(Leaf::new(corners, kept.len()));
            kept.push((extent.kind, extent.polygon.clone()));
        }
        let has_exposed = kept.iter().any(|(kind, _)| *kind == ExtentKind::Exposed);
        Self {
            origin,
            extents: kept,
            boxes: RTree::bulk_load(boxes),
            has_exposed,
        }
    }

    /// How far from a place it is at least to anything that could hide a print, metres.
    pub fn open_m(&self, place: Vector) -> f64 {
        if self.has_exposed {
            return 0.0;
        }
        let at = [place.east + self.origin[0], place.north + self.origin[1]];
        let nearest = self.boxes.nearest_neighbor(at);
        nearest.map_or(f64::INFINITY, |leaf| leaf.distance_2(&at).max(0.0).sqrt())
    }

    /// Whether anything between two places could be hidden; a coarse and quick answer.
    pub fn hides_between(&self, one: Vector, other: Vector) -> bool {
        if self.extents.is_empty() {
            return false;
        }
        let corners = [one, other].map(|place| [place.east + self.origin[0], place.north + self.origin[1]]);
        let between = AABB::from_corners(corners[0], corners[1]);
        self.has_exposed
            || self
                .boxes
                .locate_in_envelope_intersecting(between)
                .next()
                .is_some()
    }

    /// Whether a print at this place could not be seen: covered, eroded or unmapped.
    pub fn is_hidden(&self, place: Vector) -> bool {
        if self.extents.is_empty() {
            return false;
        }
        let [easting, northing] = [place.east + self.origin[0], place.north + self.origin[1]];
        let (at, mut exposed) = (Point::new(easting, northing), false);
        for leaf in self
            .boxes
            .locate_in_envelope_intersecting(AABB::from_point([easting, northing]))
        {
            let (kind, polygon) = &self.extents[leaf.data];
            if polygon.contains(&at) {
                match kind {
                    ExtentKind::Exposed => exposed = true,
                    ExtentKind::Covered | ExtentKind::Eroded | ExtentKind::Unmapped => return true,
                }
            }
        }
        self.has_exposed && !exposed
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::polygon;

    fn square(kind: ExtentKind, from: f64, to: f64) -> Extent {
        Extent {
            label: "E1".parse().unwrap(),
            kind,
            polygon: polygon![(x: from, y: from), (x: to, y: from), (x: to, y: to), (x: from, y: to)],
            surveyed_on: None,
            revision: 0,
        }
    }

    fn hidden(extents: &[Extent], at: f64) -> bool {
        let place = Vector {
            east: at - 100.0,
            north: at - 100.0,
        };
        Ground::of(extents, [100.0, 100.0]).is_hidden(place)
    }

    #[test]
    fn rock_hides_and_open_ground_does_not() {
        assert!(!hidden(&[], 5.0), "without extents all is open");
        let covered = square(ExtentKind::Covered, 0.0, 10.0);
        assert!(hidden(std::slice::from_ref(&covered), 5.0));
        assert!(!hidden(std::slice::from_ref(&covered), 15.0));
        let exposed = square(ExtentKind::Exposed, 0.0, 20.0);
        assert!(
            hidden(std::slice::from_ref(&exposed), 25.0),
            "outside all that is exposed nobody looked"
        );
        assert!(hidden(&[exposed.clone(), covered.clone()], 5.0));
        assert!(!hidden(&[exposed, covered], 15.0));
    }
}
