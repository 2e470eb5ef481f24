//! Where the record is kept: one trait, and its implementations on SQLite and PostgreSQL.
//!
//! The trait is synchronous, and made of parts: who reads needs no more than [`RecordStore`], who takes a sheet no more than
//! [`SheetStore`]. It speaks of the record as `spatial` defines it, gives a
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
mod record;
mod record_id;
mod sheet;
mod sqlite;
mod touched;
mod words;

pub use checking::{Finding, check};
pub use copying::{Copied, Entry, Filling, copy};
pub use editing::{Deed, Edit, Edited, Expected, Once};
pub use error::StoreError;
pub use location::StoreLocation;
pub use postgres::{PostgresAddress, PostgresStore};
pub use record::{RecordStore, Revision, SurfaceSummary};
pub use record_id::RecordId;
pub use sheet::{
    Conflict, Outcome, RowConflict, SheetExtent, SheetPrint, SheetStore, SheetTransaction, Taken, Tally,
};
pub use sqlite::{SqliteStore, back_up};

use jiff::Timestamp;
use spatial::model::{Site, Status, SurfaceId, Trackway, TrackwayId};

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

/// A keeper of the record.
pub trait Store: RecordStore + SheetStore {
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
