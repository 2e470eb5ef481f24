//! The whole record on its way from one store to another: what stands, and every revision that ever stood.

use super::{Change, RecordId, Store, StoreError, SurfaceSummary};
use serde::Serialize;
use spatial::model::{Extent, Label, Print, Site, Slug, Trackway};

/// One part of a record. All parts of a site come together: first which site, then its changes, itself, its surfaces each
/// before its members, and the past revisions last.
#[derive(Debug, Clone)]
pub enum Entry {
    /// What follows is of this site.
    Of(Slug),
    /// A change, and the number that the records that it made know it by.
    Change {
        /// The number.
        number: i64,
        /// Who, when and by what deed.
        change: Change,
    },
    /// The site itself.
    Site {
        /// The record.
        site: Site,
        /// The change that made it.
        change: i64,
    },
    /// A surface, and the summary of its members.
    Surface {
        /// The record and the summary.
        summary: SurfaceSummary,
        /// The change that made it.
        change: i64,
    },
    /// An extent of a surface.
    Extent {
        /// The surface.
        surface: Label,
        /// The record.
        extent: Extent,
        /// The change that made it.
        change: i64,
    },
    /// A print of a surface.
    Print {
        /// The surface.
        surface: Label,
        /// The record.
        print: Print,
        /// The row of the sheet that it was read from.
        sheet_row: u64,
        /// The change that made it.
        change: i64,
    },
    /// A trackway of a surface.
    Trackway {
        /// The surface.
        surface: Label,
        /// The record.
        trackway: Trackway,
        /// The change that made it.
        change: i64,
    },
    /// A revision that no longer stands.
    Past {
        /// The record.
        id: RecordId,
        /// The revision's number.
        revision: u32,
        /// The change that made it.
        change: i64,
        /// The record as it was, as the JSON text that the history keeps.
        json: String,
    },
}

/// An empty store that is being filled: one transaction, from `Store::begin_filling` to `finish`. Dropped without it, the
/// store stays empty.
pub trait Filling {
    /// Puts the next part of a record.
    ///
    /// # Errors
    /// When the store fails; the filling can only be dropped then.
    fn put(&mut self, entry: Entry) -> Result<(), StoreError>;

    /// Commits; when it returns, everything is on disk.
    ///
    /// # Errors
    /// When the store fails; it stays empty then.
    fn finish(self: Box<Self>) -> Result<(), StoreError>;
}

/// How much was copied.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Copied {
    /// Sites.
    pub sites: u64,
    /// Surfaces.
    pub surfaces: u64,
    /// Extents.
    pub extents: u64,
    /// Prints.
    pub prints: u64,
    /// Trackways.
    pub trackways: u64,
    /// Revisions that no longer stand, of all kinds.
    pub past: u64,
    /// Changes.
    pub changes: u64,
}

impl Copied {
    /// How many records and revisions in all.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.sites + self.surfaces + self.extents + self.prints + self.trackways + self.past
    }

    fn count(&mut self, entry: &Entry) {
        let counter = match entry {
            Entry::Of(_) => return,
            Entry::Change { .. } => &mut self.changes,
            Entry::Site { .. } => &mut self.sites,
            Entry::Surface { .. } => &mut self.surfaces,
            Entry::Extent { .. } => &mut self.extents,
            Entry::Print { .. } => &mut self.prints,
            Entry::Trackway { .. } => &mut self.trackways,
            Entry::Past { .. } => &mut self.past,
        };
        *counter += 1;
    }
}

/// Copies everything from one store into another, empty one, whole or not at all; `told` hears how far it is.
///
/// # Errors
/// [`StoreError::NotEmpty`], or when either store fails.
pub fn copy(from: &dyn Store, to: &dyn Store, told: &dyn Fn(&Copied)) -> Result<Copied, StoreError> {
    let mut copied = Copied::default();
    let mut filling = to.begin_filling()?;
    from.read_all(&mut |entry| {
        copied.count(&entry);
        told(&copied);
        filling.put(entry)
    })?;
    filling.finish()?;
    Ok(copied)
}

/// The new numbers of the changes of one site, by those that they had.
#[derive(Default)]
pub(super) struct Renumbered(std::collections::HashMap<i64, i64>);

impl Renumbered {
    pub(super) fn insert(&mut self, before: i64, now: i64) {
        self.0.insert(before, now);
    }

    pub(super) fn clear(&mut self) {
        self.0.clear();
    }

    /// # Errors
    /// Where a record names a change that the store it comes from does not have.
    pub(super) fn get(&self, before: i64) -> Result<i64, StoreError> {
        self.0.get(&before).copied().ok_or_else(|| {
            StoreError::Unfit(format!(
                "the store to copy from is damaged: a record names change {before}, which it does not have"
            ))
        })
    }
}
