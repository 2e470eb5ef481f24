//! The whole record, out of the database and into it.

use super::column::{count, required};
use super::connections::Writing;
use super::failure::{Doing, Fault, Given};
use super::member::{self, Member};
use super::print_row::{self, Origin};
use super::rows::Rows;
use super::{past, site_row, surface_row};
use crate::store::copying::{Entry, Filling, Renumbered};
use crate::store::kept::Kind;
use crate::store::{Change, RecordId, StoreError};
use postgres::fallible_iterator::FallibleIterator;
use postgres::{Row, Transaction};
use spatial::model::{Extent, Slug, SurfaceId, Trackway};

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
    for (site, change) in site_row::all(moment).doing(READING)? {
        let slug = site.slug.clone();
        take(Entry::Of(slug.clone()))?;
        each(moment, CHANGES, &[slug.as_str()], &mut |row| {
            take(read_change(row).doing(READING)?)
        })?;
        take(Entry::Site { site, change })?;
        // They come in the order of sites.
        let first = surfaces.partition_point(|stored| stored.summary.id.site < slug);
        for stored in surfaces[first..]
            .iter()
            .take_while(|stored| stored.summary.id.site == slug)
        {
            read_surface(moment, stored, take)?;
        }
        each(moment, PAST, &[slug.as_str()], &mut |row| {
            take(read_past(row, &slug).doing(READING)?)
        })?;
    }
    Ok(())
}

/// Gives each row of a query as it comes.
fn each(
    moment: &mut Transaction<'_>,
    query: &str,
    about: &[&str],
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

fn read_past(row: &Row, site: &Slug) -> Given<Entry> {
    let surface = || -> Given<SurfaceId> {
        Ok(SurfaceId {
            site: site.clone(),
            label: required(row, 1)?,
        })
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
    take(Entry::Surface {
        summary: stored.summary.clone(),
        change: stored.change,
    })?;
    for (extent, change) in member::of_surface::<Extent>(moment, id).doing(READING)? {
        take(Entry::Extent {
            surface: surface(),
            extent,
            change,
        })?;
    }
    let place = [id.site.as_str(), id.label.as_str()];
    each(moment, print_row::WITH_ORIGIN, &place, &mut |row| {
        let (print, sheet_row, change) = print_row::read_with_origin(row).doing(READING)?;
        take(Entry::Print {
            surface: surface(),
            print,
            sheet_row,
            change,
        })
    })?;
    for (trackway, change) in member::of_surface::<Trackway>(moment, id).doing(READING)? {
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
    /// The site that the entries are of.
    site: String,
    numbers: Renumbered,
    changes: Rows,
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
            site: String::new(),
            numbers: Renumbered::default(),
            changes: Rows::default(),
            extents: Rows::default(),
            prints: Rows::default(),
            trackways: Rows::default(),
            past: Rows::default(),
        })
    }

    fn put_change(&mut self, number: i64, change: &Change) {
        let now = self.numbers.len() as i64 + 1;
        self.numbers.insert(number, now);
        let at = change.at.to_string();
        self.changes
            .begin(5)
            .text(self.site.as_str())
            .bigint(now)
            .text(change.author.as_str())
            .text(at.as_str())
            .text(change.deed.as_str());
    }

    fn put_past(&mut self, id: &RecordId, revision: u32, change: i64, json: &str) {
        let (kind, surface, label) = match id {
            RecordId::Site(slug) => (Kind::Site, "", slug.as_str()),
            RecordId::Surface(id) => (Kind::Surface, id.label.as_str(), id.label.as_str()),
            RecordId::Extent(id, label) => (Kind::Extent, id.label.as_str(), label.as_str()),
            RecordId::Print(id, label) => (Kind::Print, id.label.as_str(), label.as_str()),
            RecordId::Trackway(id, label) => (Kind::Trackway, id.label.as_str(), label.as_str()),
        };
        let place = [self.site.as_str(), surface];
        past::write_json(&mut self.past, kind, place, (label, revision), change, json);
    }

    fn send_when(&mut self, due: impl Fn(&Rows) -> bool) -> Given<()> {
        let conn = &mut *self.conn;
        let tables = [
            (&mut self.changes, "change", past::CHANGE_COLUMNS),
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

    fn put_given(&mut self, entry: Entry) -> Result<Given<()>, StoreError> {
        let site = self.site.clone();
        Ok(match entry {
            Entry::Of(slug) => {
                self.numbers.clear();
                self.site = slug.to_string();
                Ok(())
            }
            Entry::Change { number, change } => {
                self.put_change(number, &change);
                Ok(())
            }
            Entry::Site { site, change } => {
                let change = self.numbers.get(change)?;
                // The tables of what follows refer to changes.
                self.send_when(|_| true)
                    .and_then(|()| site_row::put(&mut self.conn, change, &site))
            }
            Entry::Surface { summary, change } => {
                surface_row::put(&mut self.conn, self.numbers.get(change)?, &summary)
            }
            Entry::Extent {
                surface,
                extent,
                change,
            } => {
                let (place, change) = ([&*site, surface.as_str()], self.numbers.get(change)?);
                extent.write(&mut self.extents, place, extent.revision, change)
            }
            Entry::Print {
                surface,
                print,
                sheet_row,
                change,
            } => {
                let origin = Origin {
                    site: &site,
                    surface: surface.as_str(),
                    sheet_row,
                    change: self.numbers.get(change)?,
                };
                print_row::write(&mut self.prints, origin, &print, print.revision)
            }
            Entry::Trackway {
                surface,
                trackway,
                change,
            } => {
                let (place, change) = ([&*site, surface.as_str()], self.numbers.get(change)?);
                trackway.write(&mut self.trackways, place, trackway.revision, change)
            }
            Entry::Past {
                id,
                revision,
                change,
                json,
            } => {
                let change = self.numbers.get(change)?;
                self.put_past(&id, revision, change, &json);
                Ok(())
            }
        })
    }
}

impl Filling for Fill {
    fn put(&mut self, entry: Entry) -> Result<(), StoreError> {
        self.put_given(entry)?.doing(FILLING)?;
        self.send_when(Rows::is_full).doing(FILLING)
    }

    fn finish(mut self: Box<Self>) -> Result<(), StoreError> {
        self.send_when(|_| true).doing(FILLING)?;
        self.conn.commit().doing(FILLING)
    }
}
