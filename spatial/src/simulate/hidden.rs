//! Patches of ground where prints are hidden or lost.

use crate::model::{Extent, ExtentKind};
use geo::{BoundingRect, Contains, LineString, Point, Polygon};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use std::f64::consts::{PI, TAU};

/// Rough ovals, covered and eroded in turn, over about this part of a rectangle.
pub(super) fn hidden_extents(
    rng: &mut ChaCha8Rng,
    corner: [f64; 2],
    size_m: [f64; 2],
    part: f64,
) -> Vec<Extent> {
    let mut extents = Vec::new();
    let mut hidden_m2 = 0.0;
    while hidden_m2 < part * size_m[0] * size_m[1] {
        let radius_m = rng.random_range(1.0..3.5f64).min(size_m[0].min(size_m[1]) / 4.0);
        let centre = [0, 1].map(|axis| corner[axis] + rng.random_range(0.0..size_m[axis]));
        let rim = (0..12).map(|corner| {
            let (sine, cosine) = (f64::from(corner) / 12.0 * TAU).sin_cos();
            let reach_m = radius_m * rng.random_range(0.8..1.2);
            (centre[0] + reach_m * sine, centre[1] + reach_m * cosine)
        });
        let kinds = [ExtentKind::Covered, ExtentKind::Eroded];
        extents.push(Extent {
            label: format!("E{}", extents.len())
                .parse()
                .expect("letters and digits are a label"),
            kind: kinds[extents.len() % 2],
            polygon: Polygon::new(LineString::from(rim.collect::<Vec<_>>()), Vec::new()),
            surveyed_on: None,
            revision: 0,
        });
        hidden_m2 += PI * radius_m * radius_m;
    }
    extents
}

/// Hidden extents, asked of places.
#[derive(Debug)]
pub(super) struct Hidden {
    pub extents: Vec<Extent>,
    boxes: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>,
}

impl Hidden {
    pub fn of(extents: Vec<Extent>) -> Self {
        let boxes = extents.iter().enumerate().filter_map(|(place, extent)| {
            let rect = extent.polygon.bounding_rect()?;
            let corners = Rectangle::from_corners(rect.min().into(), rect.max().into());
            Some(GeomWithData::new(corners, place))
        });
        let boxes = RTree::bulk_load(boxes.collect());
        Self { extents, boxes }
    }

    pub fn holds(&self, place: [f64; 2]) -> bool {
        let at = Point::new(place[0], place[1]);
        self.boxes
            .locate_in_envelope_intersecting(AABB::from_point(place))
            .any(|found| self.extents[found.data].polygon.contains(&at))
    }
}

/// Side of the squares in which damage lies, metres.
const PATCH_M: f64 = 1.5;
/// The part of prints in a damaged patch that are lost.
pub(super) const LOST: f64 = 0.7;

/// Patches of damage that nobody records: a square is damaged or not by the toss of a coin that depends on its place.
#[derive(Debug, Clone, Copy)]
pub(super) struct Damage {
    pub seed: u64,
    /// The part of prints that are lost so.
    pub part: f64,
}

impl Damage {
    pub fn is_at(&self, place: [f64; 2]) -> bool {
        let [east, north] = place.map(|along| (along / PATCH_M).floor() as i64 as u64);
        // A multiplicative hash; its upper bits are even enough for patches.
        let mixed = (east.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ north.wrapping_mul(0xC2B2_AE3D_27D4_EB4F))
            .wrapping_add(self.seed)
            .wrapping_mul(0xD6E8_FEB8_6659_FD93);
        let even =
            ((mixed ^ (mixed >> 32)).wrapping_mul(0xD6E8_FEB8_6659_FD93) >> 11) as f64 / (1u64 << 53) as f64;
        even < self.part / LOST
    }
}
