//! The store in one SQLite file.
//!
//! `file` opens it, `connections` hands out its one writer and its readers. Each kind of record has a
//! file that turns it into rows and back; `past` keeps what is replaced and `history` reads it.
//! `sheet` takes a sheet, `field_trackways` rebuilds what the field party saw, `proposals` takes what
//! the grouping says, `judging` what somebody holds of it.

mod access;
mod backup;
mod column;
mod connections;
mod editing;
mod extent_row;
mod failure;
mod field_trackways;
mod file;
mod glance;
mod history;
mod job_sql;
mod jobs;
mod judging;
mod moment;
mod past;
mod print_row;
mod proposals;
mod sheet;
mod site_row;
mod surface_row;
#[cfg(test)]
pub(crate) mod tests;
mod touched;
mod trackway_row;
mod whole;

pub use backup::back_up;

use super::access::AccessStore;
use super::copying::{Entry, Filling};
use super::jobs::JobStore;
use super::judging::is_changed;
use super::{
    Change, Edit, Edited, Once, RecordId, RecordStore, Revision, SheetStore, SheetTransaction, Store,
    StoreError, SurfaceSummary, Tally, Verdict, finite,
};
use connections::{Readers, Writer};
use failure::Doing;
use glance::Glance;
use jiff::Timestamp;
use rusqlite::Connection;
use sheet::Sheet;
use spatial::index::SurfaceContents;
use spatial::model::{Site, Slug, SurfaceId, Trackway, TrackwayId};
use std::path::Path;
use std::time::{Duration, Instant};

/// A store in one SQLite file, with its write-ahead log beside it while it is open.
///
/// One writer at a time, in this process or another; any number of readers, who never wait for it.
pub struct SqliteStore {
    writer: Writer,
    readers: Readers,
    glance: Glance,
}

impl SqliteStore {
    /// How long a writer waits for another before it gives up.
    pub const PATIENCE: Duration = Duration::from_secs(10);

    /// Opens the store, and makes it where there is no file.
    ///
    /// # Errors
    /// [`StoreError::Unfit`] when the file cannot be opened, or is another program's or a later version's.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_with(path, true, Self::PATIENCE)
    }

    /// Opens a store that is there.
    ///
    /// # Errors
    /// [`StoreError::Missing`] when there is no file, and as [`SqliteStore::open`].
    pub fn open_existing(path: &Path) -> Result<Self, StoreError> {
        if !path.exists() {
            return Err(StoreError::Missing(format!("store at {}", path.display())));
        }
        Self::open_with(path, false, Self::PATIENCE)
    }

    fn open_with(path: &Path, create: bool, patience: Duration) -> Result<Self, StoreError> {
        let writer = file::open_writer(path, create, patience)?;
        Ok(Self {
            writer: Writer::new(writer, patience),
            readers: Readers::new(path.to_owned(), patience),
            glance: Glance::default(),
        })
    }
}

impl RecordStore for SqliteStore {
    fn mark(&self) -> Result<u64, StoreError> {
        // Every change of the record has a row here. `PRAGMA data_version` would move with the queue of jobs, too.
        const LAST_CHANGE: &str = "SELECT coalesce(max(id), 0) FROM change";
        let last = self.readers.ask("asking for changes", |conn| {
            let mut last = conn.prepare_cached(LAST_CHANGE)?;
            last.query_row([], |row| row.get::<_, i64>(0))
        });
        last.map(i64::unsigned_abs)
    }

    fn mark_at_once(&self) -> Option<u64> {
        let (now, written) = (Instant::now(), self.writer.written());
        self.glance.mark(now, written, || self.mark()).ok()
    }

    fn sites(&self) -> Result<Vec<Site>, StoreError> {
        self.readers.read("reading sites", |moment| site_row::all(moment))
    }

    fn surfaces(&self) -> Result<Vec<SurfaceSummary>, StoreError> {
        self.readers
            .read("reading surfaces", |moment| surface_row::all(moment))
    }

    fn surface(&self, id: &SurfaceId) -> Result<Option<(Site, SurfaceSummary)>, StoreError> {
        self.readers.read("reading a surface", |moment| {
            let (surface, site) = (surface_row::find(moment, id)?, site_row::find(moment, &id.site)?);
            Ok(site
                .zip(surface)
                .map(|((site, _), surface)| (site, surface.summary)))
        })
    }

    fn contents(&self, id: &SurfaceId) -> Result<Option<(SurfaceContents, u64)>, StoreError> {
        self.readers
            .read("reading a surface", |moment| contents(moment, id))
    }

    fn listing_at(&self, at: Timestamp) -> Result<(Vec<Site>, Vec<SurfaceSummary>), StoreError> {
        self.readers
            .read("reading how the record was", |conn| Ok(moment::listing(conn, at)))?
    }

    fn contents_at(&self, id: &SurfaceId, at: Timestamp) -> Result<Option<SurfaceContents>, StoreError> {
        self.readers.read("reading how the record was", |conn| {
            Ok(moment::contents(conn, id, at))
        })?
    }

    fn history(&self, id: &RecordId) -> Result<Vec<Revision>, StoreError> {
        self.readers
            .read("reading a history", |moment| history::of(moment, id))
    }
}

impl SheetStore for SqliteStore {
    fn begin_sheet<'store>(
        &'store self,
        site: &Slug,
        change: &Change,
    ) -> Result<Box<dyn SheetTransaction + 'store>, StoreError> {
        Ok(Box::new(Sheet::begin(self.writer.begin()?, site, change)?))
    }
}

impl Store for SqliteStore {
    fn add_site_once(&self, site: &Site, once: Option<&Once>, change: &Change) -> Result<Edited, StoreError> {
        finite::check_all([site])?;
        editing::add_site(self.writer.begin()?, site, once, change)
    }

    fn change_site(&self, site: &Site, change: &Change) -> Result<Site, StoreError> {
        const DOING: &str = "changing a site";
        finite::check_all([site])?;
        let called = || format!("site {}", site.slug);
        let writing = self.writer.begin()?;
        let found = site_row::find(&writing, &site.slug).doing(DOING)?;
        let stored = found.ok_or_else(|| StoreError::Missing(called()))?;
        if !is_changed(&stored.0, site)? {
            return Ok(stored.0);
        }
        let change = past::begin_change(&writing, change).doing(DOING)?;
        site_row::replace(&writing, change, &stored, site).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(Site {
            revision: stored.0.revision + 1,
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
        judging::judge(self.writer.begin()?, trackway, verdict, revision, change)
    }

    fn propose(
        &self,
        surface: &SurfaceId,
        proposals: &[Trackway],
        change: &Change,
    ) -> Result<Tally, StoreError> {
        finite::check_all(proposals)?;
        proposals::propose(self.writer.begin()?, surface, proposals, change)
    }

    fn edit(&self, edit: &Edit, change: &Change) -> Result<Edited, StoreError> {
        editing::edit(self.writer.begin()?, edit, change)
    }

    fn queue(&self) -> &dyn JobStore {
        self
    }

    fn gatekeeper(&self) -> &dyn AccessStore {
        self
    }

    fn find_damage(&self) -> Result<Vec<String>, StoreError> {
        self.readers.read("looking for damage", |moment| {
            let told = moment
                .prepare("PRAGMA integrity_check(100)")?
                .query_map([], |row| row.get(0))?
                .collect::<rusqlite::Result<Vec<String>>>()?;
            let mut found: Vec<String> = told.into_iter().filter(|line| line != "ok").collect();
            let mut dangling = moment.prepare("PRAGMA foreign_key_check")?;
            let mut rows = dangling.query([])?;
            while let Some(row) = rows.next()? {
                let (table, parent): (String, String) = (row.get(0)?, row.get(2)?);
                found.push(format!(
                    "a row of {table} refers to one of {parent} that is not there"
                ));
            }
            Ok(found)
        })
    }

    fn read_all(&self, take: &mut dyn FnMut(Entry) -> Result<(), StoreError>) -> Result<(), StoreError> {
        self.readers
            .read("reading everything", |moment| Ok(whole::read(moment, take)))?
    }

    fn begin_filling<'store>(&'store self) -> Result<Box<dyn Filling + 'store>, StoreError> {
        Ok(Box::new(whole::Fill::begin(self.writer.begin()?)?))
    }
}

fn contents(moment: &Connection, id: &SurfaceId) -> rusqlite::Result<Option<(SurfaceContents, u64)>> {
    let (Some(stored), Some((site, _))) = (surface_row::find(moment, id)?, site_row::find(moment, &id.site)?)
    else {
        return Ok(None);
    };
    let summary = stored.summary;
    let contents = SurfaceContents {
        id: id.clone(),
        crs: site.crs,
        prints: print_row::of_surface(moment, stored.key, summary.prints)?,
        extents: extent_row::of_surface(moment, stored.key)?
            .into_iter()
            .map(|(extent, _)| extent)
            .collect(),
        trackways: trackway_row::of_surface(moment, stored.key)?
            .into_iter()
            .map(|(trackway, _)| trackway)
            .collect(),
        surface: summary.surface,
    };
    Ok(Some((contents, summary.contents_revision)))
}
