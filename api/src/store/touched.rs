//! What a change does to a surface.

use super::Tally;
use geo::BoundingRect;
use spatial::model::{Extent, Print};

/// The smallest box around some places, `[[west, south], [east, north]]`, metres.
pub(super) type Bounds = [[f64; 2]; 2];

/// What a change adds to a surface's summary, or takes away.
#[derive(Default)]
pub(super) struct Growth {
    pub(super) prints: i64,
    pub(super) extents: i64,
    pub(super) trackways: i64,
    /// The box around what was added or moved.
    pub(super) bounds: Option<Bounds>,
    /// Whether the surface was made by this change; it has its first contents revision then.
    pub(super) new: bool,
}

/// What a sheet has done to one surface so far.
#[derive(Default)]
pub(super) struct Touched {
    /// What is to be added to its summary.
    pub(super) growth: Growth,
    /// Whether anything of it is other than before.
    pub(super) changed: bool,
    /// Whether a print was added or changed that is, or was, of a field trackway.
    pub(super) trackways: bool,
    /// Whether a print was added or changed that overlies another.
    pub(super) overlies: bool,
}

impl Touched {
    /// A surface that the sheet has made.
    pub(super) fn new_surface() -> Self {
        Self {
            growth: Growth {
                new: true,
                ..Growth::default()
            },
            changed: true,
            ..Self::default()
        }
    }

    /// Notes that something was added or changed in this box.
    pub(super) fn grow(&mut self, [lower, upper]: Bounds) {
        self.changed = true;
        let [low, high] = self.growth.bounds.get_or_insert([lower, upper]);
        for axis in 0..2 {
            low[axis] = low[axis].min(lower[axis]);
            high[axis] = high[axis].max(upper[axis]);
        }
    }

    /// Notes a print that was added or changed.
    pub(super) fn note_print(&mut self, print: &Print) {
        self.trackways |= print.field_trackway.is_some();
        let remarks = print.remarks.as_ref();
        self.overlies |= remarks.is_some_and(|remarks| !remarks.overlies.is_empty());
        let place = [print.easting_m, print.northing_m];
        self.grow([place, place]);
    }

    /// Notes an extent that was added or changed.
    pub(super) fn note_extent(&mut self, extent: &Extent) {
        self.changed = true;
        if let Some(bounds) = extent.polygon.bounding_rect() {
            self.grow([bounds.min().into(), bounds.max().into()]);
        }
    }
}

impl std::ops::AddAssign for Tally {
    fn add_assign(&mut self, part: Self) {
        self.added += part.added;
        self.changed += part.changed;
        self.unchanged += part.unchanged;
    }
}
