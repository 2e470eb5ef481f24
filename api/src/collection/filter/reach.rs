//! What can be said of a condition before any record is looked at.

use super::condition::{Condition, Place, Relation};
use crate::collection::Bbox;
use crate::feature::OutputCrs;
use geo::{BoundingRect, Geometry, Rect};

impl Condition {
    /// Whether it asks where records are.
    #[must_use]
    pub fn asks_for_place(&self) -> bool {
        match self {
            Self::And(all) | Self::Or(all) => all.iter().any(Self::asks_for_place),
            Self::Not(inner) => inner.asks_for_place(),
            Self::Placeless | Self::Spatial(..) => true,
            Self::Always(_) | Self::Compare(..) | Self::Like(..) | Self::In(..) | Self::IsNull(_) => false,
        }
    }
}

/// The boxes that every record must meet for the condition to hold; `None` where there are none.
#[must_use]
pub fn reach(condition: &Condition, crs: &OutputCrs) -> Option<Bbox> {
    let boxes = boxes(condition)?;
    // Places are compared as they are written, which moves them by half of the last decimal.
    let slack = if crs.in_degrees() { 1e-8 } else { 1e-3 };
    let grown = boxes.into_iter().map(|rect| {
        let [lower, upper] = [rect.min(), rect.max()];
        Rect::new(
            [lower.x - slack, lower.y - slack],
            [upper.x + slack, upper.y + slack],
        )
    });
    Some(Bbox::around(grown.collect(), crs.clone()))
}

fn boxes(condition: &Condition) -> Option<Vec<Rect<f64>>> {
    match condition {
        // Any part of an AND must hold: the one that reaches least far says most.
        Condition::And(all) => all
            .iter()
            .filter_map(boxes)
            .min_by(|one, other| size(one).total_cmp(&size(other))),
        Condition::Or(all) => {
            let parts: Option<Vec<_>> = all.iter().map(boxes).collect();
            parts.map(|parts| parts.concat())
        }
        Condition::Spatial(relation, Place::Own, Place::Given(place))
        | Condition::Spatial(relation, Place::Given(place), Place::Own) => {
            (*relation != Relation::Disjoint).then(|| around(place))
        }
        _ => None,
    }
}

fn size(boxes: &[Rect<f64>]) -> f64 {
    boxes.iter().map(|rect| rect.width() * rect.height()).sum()
}

/// A box around each part: the halves on both sides of the antimeridian lie a world apart.
fn around(place: &Geometry<f64>) -> Vec<Rect<f64>> {
    match place {
        Geometry::MultiPolygon(parts) => parts.iter().filter_map(BoundingRect::bounding_rect).collect(),
        other => other.bounding_rect().into_iter().collect(),
    }
}
