//! The record as it is read: what stands in it, and what stood.

use super::{RecordId, StoreError};
use jiff::Timestamp;
use serde::Serialize;
use spatial::index::SurfaceContents;
use spatial::model::{Site, Surface, SurfaceId};

/// What stands in a store of one surface, without its members.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfaceSummary {
    /// The surface's id.
    pub id: SurfaceId,
    /// Its own record.
    pub surface: Surface,
    /// How many prints it has.
    pub prints: u64,
    /// How many extents it has.
    pub extents: u64,
    /// How many trackways it has, those rejected included.
    pub trackways: u64,
    /// The smallest box around its prints and extents, `[[west, south], [east, north]]`, metres in the
    /// site's CRS; it may be larger than needed after prints have moved. `None` while it has none.
    pub bounds: Option<[[f64; 2]; 2]>,
    /// Grows by one with every change of the surface or of a member of it.
    pub contents_revision: u64,
}

/// One revision of a record, as the history keeps it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Revision {
    /// Its number, counted from 1.
    pub revision: u32,
    /// Who made it.
    pub author: String,
    /// When.
    pub at: Timestamp,
    /// By what deed.
    pub deed: String,
    /// The record as it was, as JSON.
    pub record: serde_json::Value,
}

/// What can be read of a record.
pub trait RecordStore: Send + Sync {
    /// A number that moves whenever anybody, in this process or another, has committed a change.
    ///
    /// # Errors
    /// When the store fails.
    fn mark(&self) -> Result<u64, StoreError>;

    /// The same where it is known without waiting for another machine; `None` where it is not. What another process has committed may
    /// show a moment later than by [`Self::mark`]; what this one has, at once.
    fn mark_at_once(&self) -> Option<u64> {
        None
    }

    /// All sites in the order of slugs.
    ///
    /// # Errors
    /// When the store fails.
    fn sites(&self) -> Result<Vec<Site>, StoreError>;

    /// All surfaces in the order of ids.
    ///
    /// # Errors
    /// When the store fails.
    fn surfaces(&self) -> Result<Vec<SurfaceSummary>, StoreError>;

    /// One surface without its members, and its site, as of one moment; `None` where there is none.
    ///
    /// # Errors
    /// When the store fails.
    fn surface(&self, id: &SurfaceId) -> Result<Option<(Site, SurfaceSummary)>, StoreError>;

    /// One surface with all its members as of one moment, and the contents revision of that moment;
    /// `None` where there is none.
    ///
    /// # Errors
    /// When the store fails.
    fn contents(&self, id: &SurfaceId) -> Result<Option<(SurfaceContents, u64)>, StoreError>;

    /// All sites and surfaces as they were at a moment, without their members, in the order of ids; of a surface's box what is
    /// known now.
    ///
    /// # Errors
    /// When the store fails.
    fn listing_at(&self, at: Timestamp) -> Result<(Vec<Site>, Vec<SurfaceSummary>), StoreError>;

    /// One surface with all its members as they were at a moment; `None` where there was none.
    ///
    /// # Errors
    /// When the store fails.
    fn contents_at(&self, id: &SurfaceId, at: Timestamp) -> Result<Option<SurfaceContents>, StoreError>;

    /// All revisions of a record, oldest first; empty where there is no such record.
    ///
    /// # Errors
    /// When the store fails.
    fn history(&self, id: &RecordId) -> Result<Vec<Revision>, StoreError>;
}
