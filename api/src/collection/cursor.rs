//! Where a page begins.

use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::{Label, SurfaceId};
use std::cmp::Ordering;

/// The last record of the page before, on its surface.
pub(super) struct Cursor {
    pub(super) surface: SurfaceId,
    label: Label,
}

impl Cursor {
    /// `None` for what is no id of a surface's member.
    pub(super) fn read(id: &str) -> Option<Self> {
        let (surface, label) = id.rsplit_once(':')?;
        Some(Self {
            surface: surface.parse().ok()?,
            label: label.parse().ok()?,
        })
    }

    /// Whether a label of a surface comes after it.
    pub(super) fn is_before(&self, index: &SurfaceIndex, label: &Label) -> bool {
        match index.id().cmp(&self.surface) {
            Ordering::Less => false,
            Ordering::Equal => *label > self.label,
            Ordering::Greater => true,
        }
    }

    /// The number of the first print of a surface that comes after it.
    pub(super) fn first_of(&self, index: &SurfaceIndex) -> PrintNo {
        match index.id().cmp(&self.surface) {
            Ordering::Less => PrintNo::MAX,
            Ordering::Equal => index.first_after(&self.label),
            Ordering::Greater => 0,
        }
    }
}
