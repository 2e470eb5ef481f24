//! The ground that a trackway goes on over: its extents, and whether a print there would be seen.

use super::options::Seen;
use crate::index::SurfaceIndex;
use crate::model::{ExtentKind, Label};
use geo::{BoundingRect, Contains, Point, Polygon};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

type Leaf = GeomWithData<Rectangle<[f64; 2]>, usize>;

/// The extent that a place lies in.
#[derive(Debug, Clone, PartialEq)]
pub struct InExtent {
    /// The extent; `None` outside all of them.
    pub label: Option<Label>,
    /// Its kind; unmapped outside all of them.
    pub kind: ExtentKind,
}

/// The extents of a surface.
#[derive(Debug)]
pub(super) struct Ground {
    extents: Vec<(Label, ExtentKind, Polygon<f64>)>,
    boxes: RTree<Leaf>,
    /// With any exposed extent drawn, what lies outside them all was not looked at.
    has_exposed: bool,
    /// Beyond the outermost prints nobody is known to have looked, unless an extent says so.
    bounds: Option<[[f64; 2]; 2]>,
}

impl Ground {
    pub fn of(index: &SurfaceIndex) -> Self {
        let (mut kept, mut boxes) = (Vec::new(), Vec::new());
        for extent in index.extents() {
            let Some(rect) = extent.polygon.bounding_rect() else {
                continue;
            };
            let corners = Rectangle::from_corners(rect.min().into(), rect.max().into());
            boxes.push(Leaf::new(corners, kept.len()));
            kept.push((extent.label.clone(), extent.kind, extent.polygon.clone()));
        }
        Self {
            has_exposed: kept.iter().any(|(_, kind, _)| *kind == ExtentKind::Exposed),
            extents: kept,
            boxes: RTree::bulk_load(boxes),
            bounds: index.bounds(),
        }
    }

    /// The extent that a place lies in: of several the one that hides it, of equals the first by label.
    fn extent(&self, place: [f64; 2]) -> Option<&(Label, ExtentKind, Polygon<f64>)> {
        let at = Point::from(place);
        let around = self
            .boxes
            .locate_in_envelope_intersecting(AABB::from_point(place));
        around
            .filter(|leaf| self.extents[leaf.data].2.contains(&at))
            .map(|leaf| leaf.data)
            .min_by_key(|number| (self.extents[*number].1 == ExtentKind::Exposed, *number))
            .map(|number| &self.extents[number])
    }

    /// What a place lies in.
    pub fn at(&self, place: [f64; 2]) -> InExtent {
        match self.extent(place) {
            Some((label, kind, _)) => InExtent {
                label: Some(label.clone()),
                kind: *kind,
            },
            None => InExtent {
                label: None,
                kind: ExtentKind::Unmapped,
            },
        }
    }

    /// The probability that a print at this place is seen; `open` is that on exposed ground.
    ///
    /// A surface without any exposed extent is open wherever no other extent says otherwise, as far as prints lie.
    pub fn seen(&self, place: [f64; 2], seen: &Seen, open: f64) -> f64 {
        match self.extent(place).map(|(_, kind, _)| *kind) {
            Some(ExtentKind::Exposed) => open,
            Some(ExtentKind::Covered) => seen.covered,
            Some(ExtentKind::Eroded) => seen.eroded,
            Some(ExtentKind::Unmapped) => seen.unmapped,
            None if self.has_exposed || !self.is_among_prints(place) => seen.unmapped,
            None => open,
        }
    }

    fn is_among_prints(&self, place: [f64; 2]) -> bool {
        self.bounds.is_some_and(|[lower, upper]| {
            (0..2).all(|axis| (lower[axis]..=upper[axis]).contains(&place[axis]))
        })
    }

    /// Whether anything but plain open ground could lie within a box; a coarse and quick answer.
    pub fn may_hide(&self, lower: [f64; 2], upper: [f64; 2]) -> bool {
        self.has_exposed
            || !(self.is_among_prints(lower) && self.is_among_prints(upper))
            || (self.boxes)
                .locate_in_envelope_intersecting(AABB::from_corners(lower, upper))
                .next()
                .is_some()
    }
}
