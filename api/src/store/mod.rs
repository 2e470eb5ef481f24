//! Where the record is kept: one trait, and its implementations on SQLite and PostgreSQL.
//!
//! The trait is synchronous and small. It speaks of the record as `spatial` defines it, gives a
//! surface whole and as of one moment, and takes a sheet in one transaction and in batches, so that
//! an implementation over a network needs no round trip for each print. Nothing above it knows
//! which database is below. `contract` holds the tests that every implementation must pass.

pub mod access;
mod as_of;
mod checking;
#[cfg(test)]
pub(crate) mod contract;
mod copying;
#[cfg(test)]
mod copying_tests;
mod editing;
mod error;
mod field_trackways;
mod finite;
pub mod jobs;
mod judging;
mod kept;
mod location;
mod postgres;
mod proposals;
mod record_id;
mod sqlite;
mod touched;
mod words;

pub use checking::{Finding, check};
pub use copying::{Copied, Entry, Filling, copy};
pub use editing::{Deed, Edit, Edited, Expected, Once};
pub use error::StoreError;
pub use location::StoreLocation;
pub use postgres::{PostgresAddress, PostgresStore};
pub use record_id::RecordId;
pub use sqlite::{SqliteStore, back_up};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use spatial::index::SurfaceContents;
use spatial::model::{Extent, Label, Print, Site, Slug, Status, Surface, SurfaceId, Trackway, TrackwayId};

/// Who changes the record, when and by what deed; kept beside each revision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Who, in the words that the program knows them by.
    pub author: String,
    /// When.
    pub at: Timestamp,
    /// By what, as in `import ledge.csv`.
    pub deed: String,
}

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

/// What somebody holds of a trackway.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// It stands.
    Accept,
    /// It is wrong.
    Reject,
}

impl Verdict {
    /// The status that a trackway has after it.
    #[must_use]
    pub fn status(self) -> Status {
        match self {
            Self::Accept => Status::Accepted,
            Self::Reject => Status::Rejected,
        }
    }
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

/// A keeper of the record.
pub trait Store: Send + Sync {
    /// A number that moves whenever anybody, in this process or another, has committed a change.
    ///
    /// # Errors
    /// When the store fails.
    fn mark(&self) -> Result<u64, StoreError>;

    /// The same where it is known without waiting for another machine; `None` where it is not.
    fn mark_at_once(&self) -> Option<u64> {
        None
    }

    /// All sites in the order of slugs.
    ///
    /// # Errors
    /// When the store fails.
    fn sites(&self) -> Result<Vec<Site>, StoreError>;

    /// Adds a site, at revision 1.
    ///
    /// # Errors
    /// [`StoreError::Exists`] when the slug is taken, [`StoreError::NotFinite`], or when the store fails.
    fn add_site(&self, site: &Site, change: &Change) -> Result<Site, StoreError> {
        self.add_site_once(site, None, change)?;
        Ok(Site {
            revision: 1,
            ..site.clone()
        })
    }

    /// As `add_site`; who asks a second time with the same key is answered as the first time.
    ///
    /// # Errors
    /// As `add_site`, and [`StoreError::KeyUsed`].
    fn add_site_once(&self, site: &Site, once: Option<&Once>, change: &Change) -> Result<Edited, StoreError>;

    /// Gives a site a new revision where its record differs from the stored one, and leaves it alone where it
    /// does not; gives the site as it stands then. Its revision must be the stored one: who changes a record
    /// has seen what he changes.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is no such site, [`StoreError::Moved`] when it has another revision,
    /// [`StoreError::FixedCrs`] when it has another CRS, [`StoreError::NotFinite`], or when the store fails.
    fn change_site(&self, site: &Site, change: &Change) -> Result<Site, StoreError>;

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

    /// Accepts or rejects a trackway in the name of the change's author. All else that is known of it stays as it
    /// was, so that it still tells where it comes from and how probable it was held to be. `revision` is the one that
    /// the judge has seen; `None` takes it as it stands. One that is judged so already is left alone.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is no such trackway, [`StoreError::Moved`] when it has another
    /// revision, [`StoreError::Gone`] when one that is to be accepted has a print that was removed, [`StoreError::Shared`] when
    /// an accepted one has one of its prints already, or when the store fails.
    fn judge(
        &self,
        trackway: &TrackwayId,
        verdict: Verdict,
        revision: Option<u32>,
        change: &Change,
    ) -> Result<Trackway, StoreError>;

    /// Replaces the proposals of the grouping on a surface: a proposal whose prints (in order) are
    /// those of a stored trackway of basis `grouping` keeps that trackway's label, and is left alone
    /// where nothing else differs; others get the next free label `G1`, `G2`, …; stored proposals
    /// that do not come again are set to `rejected`. Accepted trackways, and those that somebody has judged, are
    /// never touched.
    /// The labels and revisions of `proposals` are ignored.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is no such surface, or no such print on it, or when the store
    /// fails.
    fn propose(
        &self,
        surface: &SurfaceId,
        proposals: &[Trackway],
        change: &Change,
    ) -> Result<Tally, StoreError>;

    /// Makes, replaces or removes one record, in one transaction that sees it as it stands; durably. What else follows from it
    /// (the field party's trackways, the summary of its surface) follows as from a sheet.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is no such record, surface or site, [`StoreError::Exists`], [`StoreError::Moved`],
    /// [`StoreError::InUse`] when others need a record that is to be removed, [`StoreError::Shared`],
    /// [`StoreError::KeyUsed`], [`StoreError::NotFinite`], or when the store fails.
    fn edit(&self, edit: &Edit, change: &Change) -> Result<Edited, StoreError>;

    /// The queue of jobs beside the record.
    fn queue(&self) -> &dyn jobs::JobStore;

    /// The tokens and the ledger beside the record.
    fn gatekeeper(&self) -> &dyn access::AccessStore;

    /// What the database itself finds wrong with what it keeps, in its own words; empty where it finds nothing.
    ///
    /// # Errors
    /// When the store fails.
    fn find_damage(&self) -> Result<Vec<String>, StoreError>;

    /// Gives every part of the whole record as of one moment, as `Entry` tells in which order.
    ///
    /// # Errors
    /// When the store fails, or what `take` fails with.
    fn read_all(&self, take: &mut dyn FnMut(Entry) -> Result<(), StoreError>) -> Result<(), StoreError>;

    /// Begins to fill an empty store with what another one gives.
    ///
    /// # Errors
    /// [`StoreError::NotEmpty`] when anything was ever stored in it, or when the store fails.
    fn begin_filling<'store>(&'store self) -> Result<Box<dyn Filling + 'store>, StoreError>;
}
