//! The store in a PostgreSQL database, for many machines.
//!
//! `address` reads where it is, `migrate` makes and checks the schema, `gis` its views for mapping programs, `connections` hands out connections that read and
//! that write, `watch` knows of changes and of losses without asking. Each kind of record has a file that turns it into rows and back; `rows` sends many at once, `past` keeps
//! what is replaced and `history` reads it. `sheet` takes a sheet, with `known` for prints of surfaces that have some
//! already; `field_trackways` rebuilds what the field party saw, `proposals` takes what the grouping says, `judging` what
//! somebody holds of it. Whoever changes anything of a site holds the site's row until the end of the transaction.

mod access;
mod address;
mod column;
mod connections;
mod editing;
mod extent_row;
mod extents;
mod failure;
mod field_trackways;
mod gis;
mod history;
mod jobs;
mod judging;
mod known;
mod member;
mod migrate;
mod moment;
mod past;
mod print_row;
mod proposals;
mod rows;
mod sending;
mod sheet;
mod site_row;
mod surface_row;
#[cfg(test)]
pub(crate) mod tests;
mod touched;
mod trackway_row;
mod watch;
mod whole;

pub use address::PostgresAddress;

use super::access::AccessStore;
use super::copying::{Entry, Filling};
use super::jobs::JobStore;
use super::judging::is_changed;
use super::{
    Change, Edit, Edited, Once, RecordId, RecordStore, Revision, SheetStore, SheetTransaction, Store,
    StoreError, SurfaceSummary, Tally, Verdict, finite,
};
use connections::Pool;
use failure::{Doing, Given};
use jiff::Timestamp;
use postgres::Transaction;
use sheet::Sheet;
use spatial::index::SurfaceContents;
use spatial::model::{Site, Slug, SurfaceId, Trackway, TrackwayId};
use std::sync::Arc;
use std::time::Duration;
use watch::Watch;

const MARK: &str = "SELECT sum(commits)::bigint FROM mark";
/// Connections that read at once; more readers wait for one.
const READERS: u32 = 16;
/// Transactions that write at once, or wait for a site that another one writes.
const WRITERS: u32 = 8;

/// A store in the schema `stridebed` of a PostgreSQL database.
///
/// One writer at a time for each site, on this machine or another; any number of readers, who never wait for one.
pub struct PostgresStore {
    readers: Pool,
    writers: Pool,
    /// Of a store that a service reads from all the time.
    watch: Option<Arc<Watch>>,
}

impl PostgresStore {
    /// How long a writer waits for another before it gives up, and anybody for a connection.
    pub const PATIENCE: Duration = Duration::from_secs(10);

    /// Opens the store, and makes it where the database has none.
    ///
    /// # Errors
    /// [`StoreError::Unfit`] when the database cannot be reached or entered, or cannot hold a store, or has one of a later
    /// version.
    pub fn open(address: &PostgresAddress) -> Result<Self, StoreError> {
        Self::open_with(address, true, Self::PATIENCE)
    }

    /// Opens a store that is there.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when the database has none, and as [`PostgresStore::open`].
    pub fn open_existing(address: &PostgresAddress) -> Result<Self, StoreError> {
        Self::open_with(address, false, Self::PATIENCE)
    }

    fn open_with(address: &PostgresAddress, create: bool, patience: Duration) -> Result<Self, StoreError> {
        let mut conn = address.connect(patience)?;
        migrate::bring_up_to_date(&mut conn, address, create)?;
        gis::offer(&mut conn);
        Ok(Self {
            readers: Pool::new(address, READERS, patience)?,
            writers: Pool::new(address, WRITERS, patience)?,
            watch: None,
        })
    }

    /// Opens a store that is there for a service: it is watched, so that requests need not ask it what has changed, and fail at once while
    /// it is away. Reads of the record go to a streaming replica, where one is given.
    ///
    /// # Errors
    /// As [`PostgresStore::open_existing`], and when the replica cannot be reached.
    pub fn open_watched(
        address: &PostgresAddress,
        replica: Option<&PostgresAddress>,
    ) -> Result<Self, StoreError> {
        let mut store = Self::open_existing(address)?;
        let watch = Watch::begin(address, replica, Self::PATIENCE, READERS)?;
        store.readers.watched_by(&watch);
        store.writers.watched_by(&watch);
        store.watch = Some(watch);
        Ok(store)
    }

    /// The connections that reads of the record go to.
    fn reading(&self) -> &Pool {
        let elsewhere = self.watch.as_ref().and_then(|watch| watch.reading());
        elsewhere.unwrap_or(&self.readers)
    }

    fn ask_mark(&self) -> Result<u64, StoreError> {
        self.readers.ask("asking for changes", |conn| {
            column::count(&conn.query_one(MARK, &[])?, 0)
        })
    }
}

impl RecordStore for PostgresStore {
    fn mark(&self) -> Result<u64, StoreError> {
        match &self.watch {
            Some(watch) => watch.mark(|| self.ask_mark()),
            None => self.ask_mark(),
        }
    }

    fn mark_at_once(&self) -> Option<u64> {
        self.watch.as_ref()?.mark_at_once()
    }

    fn sites(&self) -> Result<Vec<Site>, StoreError> {
        self.reading().read("reading sites", |moment| {
            Ok(site_row::all(moment)?
                .into_iter()
                .map(|stored| stored.site)
                .collect())
        })
    }

    fn surfaces(&self) -> Result<Vec<SurfaceSummary>, StoreError> {
        self.reading().read("reading surfaces", |moment| {
            let all = surface_row::all(moment)?;
            Ok(all.into_iter().map(|stored| stored.summary).collect())
        })
    }

    fn surface(&self, id: &SurfaceId) -> Result<Option<(Site, SurfaceSummary)>, StoreError> {
        self.reading().read("reading a surface", |moment| {
            let (surface, site) = (surface_row::find(moment, id)?, site_row::find(moment, &id.site)?);
            Ok(site
                .zip(surface)
                .map(|(site, surface)| (site.site, surface.summary)))
        })
    }

    fn contents(&self, id: &SurfaceId) -> Result<Option<(SurfaceContents, u64)>, StoreError> {
        self.reading()
            .read("reading a surface", |moment| contents(moment, id))
    }

    fn listing_at(&self, at: Timestamp) -> Result<(Vec<Site>, Vec<SurfaceSummary>), StoreError> {
        self.reading()
            .read("reading how the record was", |conn| Ok(moment::listing(conn, at)))?
    }

    fn contents_at(&self, id: &SurfaceId, at: Timestamp) -> Result<Option<SurfaceContents>, StoreError> {
        self.reading().read("reading how the record was", |conn| {
            Ok(moment::contents(conn, id, at))
        })?
    }

    fn history(&self, id: &RecordId) -> Result<Vec<Revision>, StoreError> {
        self.reading()
            .read("reading a history", |moment| history::of(moment, id))
    }
}

impl SheetStore for PostgresStore {
    fn begin_sheet<'store>(
        &'store self,
        site: &Slug,
        change: &Change,
    ) -> Result<Box<dyn SheetTransaction + 'store>, StoreError> {
        Ok(Box::new(Sheet::begin(self.writers.begin()?, site, change)?))
    }
}

impl Store for PostgresStore {
    fn add_site_once(&self, site: &Site, once: Option<&Once>, change: &Change) -> Result<Edited, StoreError> {
        finite::check_all([site])?;
        editing::add_site(self.writers.begin()?, site, once, change)
    }

    fn change_site(&self, site: &Site, change: &Change) -> Result<Site, StoreError> {
        const DOING: &str = "changing a site";
        finite::check_all([site])?;
        let mut writing = self.writers.begin()?;
        let found = site_row::lock(&mut writing, &site.slug).doing(DOING)?;
        let stored = found.ok_or_else(|| StoreError::Missing(format!("site {}", site.slug)))?;
        if !is_changed(&stored.site, site)? {
            return Ok(stored.site);
        }
        let change = past::begin_change(&mut writing, stored.id, change).doing(DOING)?;
        site_row::replace(&mut writing, change, &stored, site).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(Site {
            revision: stored.site.revision + 1,
            ..site.clone()
        })
    }

    fn judge(
        &self,
        trackway: &TrackwayId,
        verdict: Verdict,
        revision: Option<u32>,
        change: &Change,
    ) -> Result<Trackway, StoreError> {
        judging::judge(self.writers.begin()?, trackway, verdict, revision, change)
    }

    fn propose(
        &self,
        surface: &SurfaceId,
        proposals: &[Trackway],
        change: &Change,
    ) -> Result<Tally, StoreError> {
        finite::check_all(proposals)?;
        proposals::propose(self.writers.begin()?, surface, proposals, change)
    }

    fn edit(&self, edit: &Edit, change: &Change) -> Result<Edited, StoreError> {
        editing::edit(self.writers.begin()?, edit, change)
    }

    fn queue(&self) -> &dyn JobStore {
        self
    }

    fn gatekeeper(&self) -> &dyn AccessStore {
        self
    }

    fn find_damage(&self) -> Result<Vec<String>, StoreError> {
        // The server checks its pages as it reads them (where it was made with checksums), and its own constraints hold.
        Ok(Vec::new())
    }

    fn read_all(&self, take: &mut dyn FnMut(Entry) -> Result<(), StoreError>) -> Result<(), StoreError> {
        self.readers
            .read("reading everything", |moment| Ok(whole::read(moment, take)))?
    }

    fn begin_filling<'store>(&'store self) -> Result<Box<dyn Filling + 'store>, StoreError> {
        Ok(Box::new(whole::Fill::begin(self.writers.begin()?)?))
    }
}

fn contents(moment: &mut Transaction<'_>, id: &SurfaceId) -> Given<Option<(SurfaceContents, u64)>> {
    let (Some(stored), Some(site)) = (surface_row::find(moment, id)?, site_row::find(moment, &id.site)?)
    else {
        return Ok(None);
    };
    let (key, summary) = (stored.key, stored.summary);
    let contents = SurfaceContents {
        id: id.clone(),
        crs: site.site.crs,
        prints: print_row::of_surface(moment, key, summary.prints)?,
        extents: records(member::of_surface(moment, key)?),
        trackways: records(member::of_surface(moment, key)?),
        surface: summary.surface,
    };
    Ok(Some((contents, summary.contents_revision)))
}

/// Records without the changes that made them.
fn records<R>(stored: Vec<(R, i64)>) -> Vec<R> {
    stored.into_iter().map(|(record, _)| record).collect()
}
