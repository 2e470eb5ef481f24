//! The whole record, out of the file and into it.

use super::column::{required, text, unreadable};
use super::connections::Writing;
use super::failure::Doing;
use super::past::{self, Kept};
use super::print_row::{self, Origin};
use super::{extent_row, site_row, surface_row, trackway_row};
use crate::store::copying::{Entry, Filling, Renumbered};
use crate::store::kept::Kind;
use crate::store::{Change, RecordId, StoreError};
use rusqlite::types::FromSqlError;
use rusqlite::{Connection, Row, ToSql};
use spatial::model::{Label, SurfaceId};
use std::collections::HashMap;

const READING: &str = "reading everything";
const FILLING: &str = "filling the store";
const CHANGES: &str = include_str!("changes_of_site.sql");
const PAST_OF_SITE: &str = "SELECT kind, label, revision, change, record FROM past \
     WHERE kind = 'site' AND surface = 0 AND label = ?1";
const PAST_OF_SURFACE: &str = "SELECT kind, label, revision, change, record FROM past \
     WHERE kind IN ('surface', 'extent', 'print', 'trackway') AND surface = ?1";
const IS_EMPTY: &str = "SELECT NOT EXISTS (SELECT 1 FROM change)";

type Take<'t> = &'t mut dyn FnMut(Entry) -> Result<(), StoreError>;

/// Gives every part of the record as of one moment; see `Store::read_all`.
pub(super) fn read(moment: &Connection, take: Take<'_>) -> Result<(), StoreError> {
    let surfaces = surface_row::all_stored(moment).doing(READING)?;
    for site in site_row::all(moment).doing(READING)? {
        take(Entry::Of(site.slug.clone()))?;
        each(moment, CHANGES, site.slug.as_str(), read_change, take)?;
        let (site, change) = site_row::find(moment, &site.slug)
            .doing(READING)?
            .ok_or(StoreError::Busy)?;
        let slug = site.slug.clone();
        take(Entry::Site { site, change })?;
        // They come in the order of sites.
        let first = surfaces.partition_point(|stored| stored.summary.id.site < slug);
        let of_site = || {
            surfaces[first..]
                .iter()
                .take_while(|stored| stored.summary.id.site == slug)
        };
        for stored in of_site() {
            read_surface(moment, stored, take)?;
        }
        each(
            moment,
            PAST_OF_SITE,
            slug.as_str(),
            |row| read_past(row, None),
            take,
        )?;
        for stored in of_site() {
            let id = &stored.summary.id;
            each(
                moment,
                PAST_OF_SURFACE,
                stored.key,
                |row| read_past(row, Some(id)),
                take,
            )?;
        }
    }
    Ok(())
}

/// Gives what each row of a query about one site or surface says.
fn each(
    moment: &Connection,
    query: &str,
    about: impl ToSql,
    read: impl Fn(&Row<'_>) -> rusqlite::Result<Entry>,
    take: Take<'_>,
) -> Result<(), StoreError> {
    let mut select = moment.prepare_cached(query).doing(READING)?;
    let mut rows = select.query([about]).doing(READING)?;
    while let Some(row) = rows.next().doing(READING)? {
        take(read(row).doing(READING)?)?;
    }
    Ok(())
}

fn read_change(row: &Row<'_>) -> rusqlite::Result<Entry> {
    Ok(Entry::Change {
        number: row.get(0)?,
        change: Change {
            author: row.get(1)?,
            at: required(row, 2)?,
            deed: row.get(3)?,
        },
    })
}

fn read_past(row: &Row<'_>, surface: Option<&SurfaceId>) -> rusqlite::Result<Entry> {
    let kind = text(row, 0)?.and_then(Kind::named);
    Ok(Entry::Past {
        id: match (kind, surface.cloned()) {
            (Some(Kind::Site), _) => RecordId::Site(required(row, 1)?),
            (Some(Kind::Surface), Some(surface)) => RecordId::Surface(surface),
            (Some(Kind::Extent), Some(surface)) => RecordId::Extent(surface, required(row, 1)?),
            (Some(Kind::Print), Some(surface)) => RecordId::Print(surface, required(row, 1)?),
            (Some(Kind::Trackway), Some(surface)) => RecordId::Trackway(surface, required(row, 1)?),
            _ => return Err(unreadable(0, FromSqlError::InvalidType)),
        },
        revision: row.get(2)?,
        change: row.get(3)?,
        json: row.get(4)?,
    })
}

fn read_surface(moment: &Connection, stored: &surface_row::Stored, take: Take<'_>) -> Result<(), StoreError> {
    let label = &stored.summary.id.label;
    take(Entry::Surface {
        summary: stored.summary.clone(),
        change: stored.change,
    })?;
    for (extent, change) in extent_row::of_surface(moment, stored.key).doing(READING)? {
        let surface = label.clone();
        take(Entry::Extent {
            surface,
            extent,
            change,
        })?;
    }
    print_row::each_of_surface(moment, stored.key, &mut |print, sheet_row, change| {
        let surface = label.clone();
        take(Entry::Print {
            surface,
            print,
            sheet_row,
            change,
        })
    })?;
    for (trackway, change) in trackway_row::of_surface(moment, stored.key).doing(READING)? {
        let surface = label.clone();
        take(Entry::Trackway {
            surface,
            trackway,
            change,
        })?;
    }
    Ok(())
}

/// A file that is being filled.
pub(super) struct Fill<'store> {
    conn: Writing<'store>,
    changes: Renumbered,
    /// The keys of the site's surfaces.
    keys: HashMap<Label, i64>,
}

impl<'store> Fill<'store> {
    /// Begins in a transaction that has just begun.
    pub(super) fn begin(conn: Writing<'store>) -> Result<Self, StoreError> {
        let is_empty: bool = conn.query_row(IS_EMPTY, [], |row| row.get(0)).doing(FILLING)?;
        if !is_empty {
            return Err(StoreError::NotEmpty);
        }
        Ok(Self {
            conn,
            changes: Renumbered::default(),
            keys: HashMap::new(),
        })
    }

    fn key(&self, surface: &Label) -> Result<i64, StoreError> {
        self.keys.get(surface).copied().ok_or_else(|| {
            StoreError::Unfit(format!(
                "the store to copy from is damaged: there is no surface {surface}"
            ))
        })
    }

    fn put_past(&self, id: RecordId, revision: u32, change: i64, json: String) -> Result<(), StoreError> {
        let (kind, surface, label) = match id {
            RecordId::Site(slug) => (Kind::Site, 0, slug.to_string()),
            RecordId::Surface(id) => (Kind::Surface, self.key(&id.label)?, id.label.to_string()),
            RecordId::Extent(id, label) => (Kind::Extent, self.key(&id.label)?, label.to_string()),
            RecordId::Print(id, label) => (Kind::Print, self.key(&id.label)?, label.to_string()),
            RecordId::Trackway(id, label) => (Kind::Trackway, self.key(&id.label)?, label.to_string()),
        };
        let kept = Kept {
            kind,
            surface,
            label,
            revision,
            change: self.changes.get(change)?,
            json,
        };
        kept.keep(&self.conn).doing(FILLING)
    }
}

impl Filling for Fill<'_> {
    fn put(&mut self, entry: Entry) -> Result<(), StoreError> {
        match entry {
            Entry::Of(_) => {
                self.changes.clear();
                self.keys.clear();
                Ok(())
            }
            Entry::Change { number, change } => {
                let now = past::begin_change(&self.conn, &change).doing(FILLING)?;
                self.changes.insert(number, now);
                Ok(())
            }
            Entry::Site { site, change } => {
                site_row::put(&self.conn, self.changes.get(change)?, &site).doing(FILLING)
            }
            Entry::Surface { summary, change } => {
                let change = self.changes.get(change)?;
                let key = surface_row::put(&self.conn, change, &summary).doing(FILLING)?;
                self.keys.insert(summary.id.label, key);
                Ok(())
            }
            Entry::Extent {
                surface,
                extent,
                change,
            } => {
                let (key, change) = (self.key(&surface)?, self.changes.get(change)?);
                extent_row::put(&self.conn, key, change, &extent).doing(FILLING)
            }
            Entry::Print {
                surface,
                print,
                sheet_row,
                change,
            } => {
                let origin = Origin {
                    surface: self.key(&surface)?,
                    sheet_row,
                    change: self.changes.get(change)?,
                };
                print_row::put(&self.conn, origin, &print).doing(FILLING)
            }
            Entry::Trackway {
                surface,
                trackway,
                change,
            } => {
                let (key, change) = (self.key(&surface)?, self.changes.get(change)?);
                trackway_row::put(&self.conn, key, change, &trackway).doing(FILLING)
            }
            Entry::Past {
                id,
                revision,
                change,
                json,
            } => self.put_past(id, revision, change, json),
        }
    }

    fn finish(self: Box<Self>) -> Result<(), StoreError> {
        self.conn.commit().doing(FILLING)
    }
}
