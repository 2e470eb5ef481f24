//! A sheet on its way into the record, and what the record holds against it.

use super::{Change, StoreError};
use serde::{Deserialize, Serialize};
use spatial::model::{Extent, Label, Print, Slug, Surface, SurfaceId};

/// How many records of one kind a sheet added, changed and left alone.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tally {
    /// New records.
    pub added: u64,
    /// Records with a new revision.
    pub changed: u64,
    /// Records that stood as the sheet has them.
    pub unchanged: u64,
}

/// What a sheet did to the record.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Taken {
    /// Prints.
    #[serde(flatten)]
    pub prints: Tally,
    /// Surfaces that did not exist before.
    pub surfaces_added: u64,
    /// Extents.
    pub extents: Tally,
    /// Trackways that the field party saw.
    pub trackways: Tally,
    /// The surfaces that the sheet speaks of, in order.
    pub surfaces: Vec<SurfaceId>,
}

/// What a record of a sheet breaks that only the store can see.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Conflict {
    /// A print's label comes a second time on its surface in one sheet.
    DuplicatePrint,
    /// An extent's label comes a second time on its surface in one sheet.
    DuplicateExtent,
    /// A print overlies one that the surface does not have; the label of the missing one.
    OverliesUnknown(Label),
    /// Two prints of one limb (or both of an unknown one) have one place in the order of a trackway;
    /// the label of the other print.
    SameOrder(Label),
    /// A trackway has a print that its surface does not; the label of the missing one.
    PrintUnknown(Label),
    /// A trackway has a print twice; the print's label.
    PrintTwice(Label),
    /// The field party's trackway has the label of one that somebody else has made or accepted, and that
    /// has other prints; that label.
    NotOfField(Label),
}

/// A conflict and the row of the sheet that it stands in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowConflict {
    /// The row, as the sheet's reader counts them.
    pub row: u64,
    /// What it breaks.
    pub conflict: Conflict,
}

/// How a finished sheet ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// It was stored, durably.
    Taken(Taken),
    /// Nothing was stored, because of conflicts that the batches reported, or of these, which could only
    /// be seen at the end; in the order of rows.
    Refused(Vec<RowConflict>),
}

/// A print of a sheet: its row, its surface's label and its record.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetPrint {
    /// The row, as the sheet's reader counts them.
    pub row: u64,
    /// The surface.
    pub surface: Label,
    /// The record; its revision is ignored.
    pub print: Print,
}

/// An extent of a sheet: its row, its surface's label and its record.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetExtent {
    /// The row, as the sheet's reader counts them.
    pub row: u64,
    /// The surface.
    pub surface: Label,
    /// The record; its revision is ignored.
    pub extent: Extent,
}

/// A sheet on its way into the store: one transaction, from `Store::begin_sheet` to `finish`.
///
/// Surfaces that do not exist yet are made. Dropped without `finish`, or killed, it leaves nothing.
/// After the first conflict it may stop storing, but it goes on to report conflicts.
pub trait SheetTransaction {
    /// Adds the surface, or gives it a new revision where its record differs.
    ///
    /// # Errors
    /// [`StoreError::NotFinite`], or when the store fails.
    fn put_surface(&mut self, surface: &Surface) -> Result<(), StoreError>;

    /// Takes a batch of prints, and gives the conflicts that are known by then. A print whose stored record is the same but
    /// for its revision is left alone.
    ///
    /// # Errors
    /// [`StoreError::NotFinite`], or when the store fails.
    fn put_prints(&mut self, batch: &[SheetPrint]) -> Result<Vec<RowConflict>, StoreError>;

    /// Takes a batch of extents, as `put_prints` does.
    ///
    /// # Errors
    /// [`StoreError::NotFinite`], or when the store fails.
    fn put_extents(&mut self, batch: &[SheetExtent]) -> Result<Vec<RowConflict>, StoreError>;

    /// The conflicts among the records so far that no batch has told: a store may look at many batches at once.
    /// `finish` tells them where nobody has asked.
    ///
    /// # Errors
    /// When the store fails.
    fn late_conflicts(&mut self) -> Result<Vec<RowConflict>, StoreError> {
        Ok(Vec::new())
    }

    /// Rebuilds the field trackways of the surfaces that the sheet touched from their prints'
    /// `field_trackway` and `field_order`, checks what can only be checked at the end, and commits.
    /// When it returns, the sheet is on disk.
    ///
    /// # Errors
    /// When the store fails; nothing is stored then.
    fn finish(self: Box<Self>) -> Result<Outcome, StoreError>;
}

/// What takes sheets.
pub trait SheetStore: Send + Sync {
    /// Begins to take a sheet of a site.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is no such site, [`StoreError::Busy`] when another writer
    /// holds the store for too long, or when the store fails.
    fn begin_sheet<'store>(
        &'store self,
        site: &Slug,
        change: &Change,
    ) -> Result<Box<dyn SheetTransaction + 'store>, StoreError>;
}
