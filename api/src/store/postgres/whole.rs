//! The whole record, out of the database and into it.

use super::column::{count, required};
use super::connections::Writing;
use super::failure::{Doing, Fault, Given};
use super::member::{self, Member};
use super::print_row::{self, Origin};
use super::rows::Rows;
use super::surface_row::Key;
use super::{past, site_row, surface_row};
use crate::store::copying::{Entry, Filling, Renumbered};
use crate::store::kept::Kind;
use crate::store::{Change, RecordId, StoreError};
use postgres::fallible_iterator::FallibleIterator;
use postgres::{Row, Transaction};
use spatial::model::{Extent, Label, Site, Slug, SurfaceId, Trackway};
use std::collections::HashMap;

const READING: &str = "reading everything";
const FILLING: &str = "filling the store";
const CHANGES: &str = "SELECT id, author, at, deed FROM change WHERE site = $1 ORDER BY id";
const PAST: &str = "SELECT kind, surface, label, revision, change, record::text FROM past WHERE site = $1";
/// Nobody adds a site while the store is filled.
const LOCK: &str = "LOCK TABLE site IN SHARE ROW EXCLUSIVE MODE";
const IS_EMPTY: &str = "SELECT NOT EXISTS (SELECT 1 FROM change) AND NOT EXISTS (SELECT 1 FROM site)";

type Take<'t> = &'t mut dyn FnMut(Entry) -> Result<(), StoreError>;

/// Gives every part of the record as of one moment; see `Store::read_all`.
pub(super) fn read(moment: &mut Transaction<'_>, take: Take<'_>) -> Result<(), StoreError> {
    let surfaces = surface_row::all(moment).doing(READING)?;
    for site_row::Stored { id, change, site } in site_row::all(moment).doing(READING)? {
        let slug = site.slug.clone();
        take(Entry::Of(slug.clone()))?;
        each(moment, CHANGES, &[id], &mut |row| {
            take(read_change(row).doing(READING)?)
        })?;
        take(Entry::Site { site, change })?;
        // They come in the order of sites.
        let first = surfaces.partition_point(|stored| stored.summary.id.site < slug);
        let of_site = surfaces[first..]
            .iter()
            .take_while(|stored| stored.key.site == id);
        let mut ids = HashMap::new();
        for stored in of_site {
            ids.insert(stored.key.surface, &stored.summary.id);
            read_surface(moment, stored, take)?;
        }
        each(moment, PAST, &[id], &mut |row| {
            take(read_past(row, &slug, &ids).doing(READING)?)
        })?;
    }
    Ok(())
}

/// Gives each row of a query about a site or a surface as it comes.
fn each(
    moment: &mut Transaction<'_>,
    query: &str,
    about: &[i32],
    take: &mut dyn FnMut(&Row) -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    let mut rows = moment.query_raw(query, about.iter().copied()).doing(READING)?;
    while let Some(row) = rows.next().doing(READING)? {
        take(&row)?;
    }
    Ok(())
}

fn read_change(row: &Row) -> Given<Entry> {
    Ok(Entry::Change {
        number: row.try_get(0)?,
        change: Change {
            author: row.try_get(1)?,
            at: required(row, 2)?,
            deed: row.try_get(3)?,
        },
    })
}

fn read_past(row: &Row, site: &Slug, surfaces: &HashMap<i32, &SurfaceId>) -> Given<Entry> {
    let surface = || -> Given<SurfaceId> {
        let surface = surfaces.get(&row.try_get(1)?).copied().cloned();
        surface.ok_or(Fault::Broken("a past revision is of no known surface"))
    };
    Ok(Entry::Past {
        id: match Kind::named(row.try_get(0)?) {
            Some(Kind::Site) => RecordId::Site(site.clone()),
            Some(Kind::Surface) => RecordId::Surface(surface()?),
            Some(Kind::Extent) => RecordId::Extent(surface()?, required(row, 2)?),
            Some(Kind::Print) => RecordId::Print(surface()?, required(row, 2)?),
            Some(Kind::Trackway) => RecordId::Trackway(surface()?, required(row, 2)?),
            None => return Err(Fault::Broken("a past revision is of no known kind")),
        },
        revision: count(row, 3)?,
        change: row.try_get(4)?,
        json: row.try_get(5)?,
    })
}

fn read_surface(
    moment: &mut Transaction<'_>,
    stored: &surface_row::Stored,
    take: Take<'_>,
) -> Result<(), StoreError> {
    let id = &stored.summary.id;
    let surface = || id.label.clone();
    let key = stored.key;
    take(Entry::Surface {
        summary: stored.summary.clone(),
        change: stored.change,
    })?;
    for (extent, change) in member::of_surface::<Extent>(moment, key).doing(READING)? {
        take(Entry::Extent {
            surface: surface(),
            extent,
            change,
        })?;
    }
    each(
        moment,
        print_row::WITH_ORIGIN,
        &[key.site, key.surface],
        &mut |row| {
            let (print, sheet_row, change) = print_row::read_with_origin(row).doing(READING)?;
            take(Entry::Print {
                surface: surface(),
                print,
                sheet_row,
                change,
            })
        },
    )?;
    for (trackway, change) in member::of_surface::<Trackway>(moment, key).doing(READING)? {
        take(Entry::Trackway {
            surface: surface(),
            trackway,
            change,
        })?;
    }
    Ok(())
}

/// A database that is being filled.
pub(super) struct Fill {
    conn: Writing,
    /// The number of the site that the entries are of; it gets it only when all its changes are here.
    site: i32,
    numbers: Renumbered,
    /// The site's changes, in order.
    changes: Vec<Change>,
    /// The keys of the site's surfaces.
    keys: HashMap<Label, Key>,
    extents: Rows,
    prints: Rows,
    trackways: Rows,
    past: Rows,
}

impl Fill {
    /// Begins in a transaction that has just begun.
    pub(super) fn begin(mut conn: Writing) -> Result<Self, StoreError> {
        conn.batch_execute(LOCK).doing(FILLING)?;
        let row = conn.query_one(IS_EMPTY, &[]).doing(FILLING)?;
        if !row.try_get::<_, bool>(0).doing(FILLING)? {
            return Err(StoreError::NotEmpty);
        }
        Ok(Self {
            conn,
            site: 0,
            numbers: Renumbered::default(),
            changes: Vec::new(),
            keys: HashMap::new(),
            extents: Rows::default(),
            prints: Rows::default(),
            trackways: Rows::default(),
            past: Rows::default(),
        })
    }

    /// Puts a site and its changes: the tables of what follows refer to both.
    fn put_site(&mut self, site: &Site, change: i64) -> Given<()> {
        let added = site_row::add(&mut self.conn, change, site)?;
        self.site = added.ok_or(Fault::Broken("a site comes twice"))?;
        let mut rows = Rows::default();
        for (number, change) in (1..).zip(&self.changes) {
            past::write_change(&mut rows, self.site, number, change);
        }
        rows.send(&mut self.conn, "change", past::CHANGE_COLUMNS)
    }

    fn key(&self, surface: &Label) -> Result<Key, StoreError> {
        self.keys.get(surface).copied().ok_or_else(|| {
            StoreError::Unfit(format!(
                "the store to copy from is damaged: there is no surface {surface}"
            ))
        })
    }

    fn put_past(&mut self, id: &RecordId, revision: u32, change: i64, json: &str) -> Result<(), StoreError> {
        let of_site = Key {
            site: self.site,
            surface: 0,
        };
        let (kind, key, label) = match id {
            RecordId::Site(slug) => (Kind::Site, of_site, slug.as_str()),
            RecordId::Surface(id) => (Kind::Surface, self.key(&id.label)?, id.label.as_str()),
            RecordId::Extent(id, label) => (Kind::Extent, self.key(&id.label)?, label.as_str()),
            RecordId::Print(id, label) => (Kind::Print, self.key(&id.label)?, label.as_str()),
            RecordId::Trackway(id, label) => (Kind::Trackway, self.key(&id.label)?, label.as_str()),
        };
        past::write_json(&mut self.past, kind, key, (label, revision), change, json);
        Ok(())
    }

    fn send_when(&mut self, due: impl Fn(&Rows) -> bool) -> Given<()> {
        let conn = &mut *self.conn;
        let tables = [
            (&mut self.extents, Extent::TABLE, Extent::COLUMNS),
            (&mut self.prints, "print", print_row::COLUMNS),
            (&mut self.trackways, Trackway::TABLE, Trackway::COLUMNS),
            (&mut self.past, "past", past::COLUMNS),
        ];
        for (rows, table, columns) in tables {
            if due(rows) {
                rows.send(conn, table, columns)?;
            }
        }
        Ok(())
    }
}

impl Filling for Fill {
    fn put(&mut self, entry: Entry) -> Result<(), StoreError> {
        match entry {
            Entry::Of(_) => {
                self.numbers.clear();
                self.changes.clear();
                self.keys.clear();
            }
            Entry::Change { number, change } => {
                self.changes.push(change);
                self.numbers.insert(number, self.changes.len() as i64);
            }
            Entry::Site { site, change } => {
                let change = self.numbers.get(change)?;
                self.put_site(&site, change).doing(FILLING)?;
            }
            Entry::Surface { summary, change } => {
                let change = self.numbers.get(change)?;
                let key = surface_row::put(&mut self.conn, self.site, change, &summary).doing(FILLING)?;
                self.keys.insert(summary.id.label, key);
            }
            Entry::Extent {
                surface,
                extent,
                change,
            } => {
                let (key, change) = (self.key(&surface)?, self.numbers.get(change)?);
                let written = extent.write(&mut self.extents, key, extent.revision, change);
                written.doing(FILLING)?;
            }
            Entry::Print {
                surface,
                print,
                sheet_row,
                change,
            } => {
                let origin = Origin {
                    key: self.key(&surface)?,
                    sheet_row,
                    change: self.numbers.get(change)?,
                };
                print_row::write(&mut self.prints, origin, &print, print.revision).doing(FILLING)?;
            }
            Entry::Trackway {
                surface,
                trackway,
                change,
            } => {
                let (key, change) = (self.key(&surface)?, self.numbers.get(change)?);
                let written = trackway.write(&mut self.trackways, key, trackway.revision, change);
                written.doing(FILLING)?;
            }
            Entry::Past {
                id,
                revision,
                change,
                json,
            } => {
                let change = self.numbers.get(change)?;
                self.put_past(&id, revision, change, &json)?;
            }
        }
        self.send_when(Rows::is_full).doing(FILLING)
    }

    fn finish(mut self: Box<Self>) -> Result<(), StoreError> {
        self.send_when(|_| true).doing(FILLING)?;
        self.conn.commit().doing(FILLING)
    }
}
