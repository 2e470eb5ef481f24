//! A sheet on its way in: one transaction, in which each row meets the record as it stands.

use super::connections::Writing;
use super::failure::Doing;
use super::past;
use super::print_row::{self, Origin};
use super::surface_row::as_integer;
use super::touched::{TouchedSurface, TouchedSurfaces};
use super::{extent_row, field_trackways, site_row, surface_row};
use crate::store::kept::{Kind, Record};
use crate::store::words::Words;
use crate::store::{
    Change, Conflict, Outcome, RowConflict, SheetExtent, SheetPrint, SheetTransaction, StoreError, Taken,
    Tally, finite,
};
use rusqlite::Connection;
use spatial::model::{Extent, Label, Print, Slug, Surface};

const REMEMBER: &str =
    "INSERT INTO temp.seen (kind, surface, label) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING";
const FORGET: &str = "DELETE FROM temp.seen";
const OVERLIES_UNKNOWN: &str = include_str!("overlies_unknown.sql");

/// A sheet that is being taken.
pub(super) struct Sheet<'store> {
    pub(super) conn: Writing<'store>,
    pub(super) change: i64,
    pub(super) surfaces: TouchedSurfaces,
    taken: Taken,
    /// Whether a batch met a conflict: nothing may be stored then.
    refused: bool,
    /// Whether the database failed in the middle of a batch: what was stored may be half of it.
    broken: bool,
}

impl<'store> Sheet<'store> {
    /// Begins to take a sheet in a transaction that has just begun.
    pub(super) fn begin(conn: Writing<'store>, site: &Slug, change: &Change) -> Result<Self, StoreError> {
        const DOING: &str = "beginning a sheet";
        if site_row::find(&conn, site).doing(DOING)?.is_none() {
            return Err(StoreError::Missing(format!("site {site}")));
        }
        // Rolled back with all the rest where the sheet turns out to change nothing.
        let change = past::begin_change(&conn, change).doing(DOING)?;
        Ok(Self {
            conn,
            change,
            surfaces: TouchedSurfaces::new(site.clone(), change),
            taken: Taken::default(),
            refused: false,
            broken: false,
        })
    }

    fn take<R>(
        &mut self,
        batch: &[R],
        take: impl Fn(&mut Self, &R, &mut Words) -> rusqlite::Result<Option<RowConflict>>,
    ) -> rusqlite::Result<Vec<RowConflict>> {
        let mut words = Words::default();
        let mut conflicts = Vec::new();
        for record in batch {
            conflicts.extend(take(self, record, &mut words)?);
        }
        self.refused |= !conflicts.is_empty();
        Ok(conflicts)
    }

    fn take_print(&mut self, given: &SheetPrint, words: &mut Words) -> rusqlite::Result<Option<RowConflict>> {
        let on_file = self.surfaces.touch(&self.conn, &given.surface)?;
        let origin = Origin {
            surface: on_file.key,
            sheet_row: given.row,
            change: self.change,
        };
        let fits = take_print(
            &self.conn,
            origin,
            &given.print,
            on_file,
            &mut self.taken.prints,
            words,
        )?;
        Ok((!fits).then_some(RowConflict {
            row: given.row,
            conflict: Conflict::DuplicatePrint,
        }))
    }

    fn take_extent(&mut self, given: &SheetExtent) -> rusqlite::Result<Option<RowConflict>> {
        let on_file = self.surfaces.touch(&self.conn, &given.surface)?;
        let fits = take_extent(
            &self.conn,
            self.change,
            &given.extent,
            on_file,
            &mut self.taken.extents,
        )?;
        Ok((!fits).then_some(RowConflict {
            row: given.row,
            conflict: Conflict::DuplicateExtent,
        }))
    }

    /// Remembers a failure: after it, the sheet can only be dropped.
    fn noting_failure<T>(&mut self, result: rusqlite::Result<T>) -> Result<T, StoreError> {
        self.broken |= result.is_err();
        result.doing("taking a sheet")
    }

    /// All that can only be done when every row is there.
    fn settle(&mut self) -> rusqlite::Result<Vec<RowConflict>> {
        let mut conflicts = Vec::new();
        for TouchedSurface { key, touched, .. } in self.surfaces.all_mut() {
            if touched.overlies {
                overlies_unknown(&self.conn, self.change, *key, &mut conflicts)?;
            }
            if touched.trackways {
                let (tally, found) = field_trackways::rebuild(&self.conn, self.change, *key)?;
                touched.growth.trackways += as_integer(tally.added);
                self.taken.trackways += tally;
                conflicts.extend(found);
            } else {
                self.taken.trackways.unchanged += field_trackways::standing(&self.conn, *key)?;
            }
            if touched.changed {
                surface_row::sum_up(&self.conn, *key, &touched.growth)?;
            }
        }
        conflicts.sort_by_key(|conflict| conflict.row);
        Ok(conflicts)
    }
}

impl SheetTransaction for Sheet<'_> {
    fn put_surface(&mut self, surface: &Surface) -> Result<(), StoreError> {
        finite::check_all([surface])?;
        let put = self.surfaces.put(&self.conn, surface);
        self.noting_failure(put)
    }

    fn put_prints(&mut self, batch: &[SheetPrint]) -> Result<Vec<RowConflict>, StoreError> {
        finite::check_all(batch.iter().map(|given| &given.print))?;
        let taken = self.take(batch, |sheet, given, words| sheet.take_print(given, words));
        self.noting_failure(taken)
    }

    fn put_extents(&mut self, batch: &[SheetExtent]) -> Result<Vec<RowConflict>, StoreError> {
        finite::check_all(batch.iter().map(|given| &given.extent))?;
        let taken = self.take(batch, |sheet, given, _| sheet.take_extent(given));
        self.noting_failure(taken)
    }

    fn finish(mut self: Box<Self>) -> Result<Outcome, StoreError> {
        const DOING: &str = "finishing a sheet";
        if self.broken {
            return Err(StoreError::Failed {
                doing: DOING,
                source: "an earlier batch of it failed".into(),
            });
        }
        let conflicts = self.settle().doing(DOING)?;
        if self.refused || !conflicts.is_empty() {
            return Ok(Outcome::Refused(conflicts));
        }
        self.taken.surfaces = self.surfaces.ids();
        self.taken.surfaces_added = self
            .surfaces
            .all()
            .map(|on_file| u64::from(on_file.touched.growth.new))
            .sum();
        if self.surfaces.all().any(|on_file| on_file.touched.changed) {
            self.conn.execute_batch(FORGET).doing(DOING)?;
            self.conn.commit().doing(DOING)?;
        }
        Ok(Outcome::Taken(self.taken))
    }
}

/// Stores a print where it is new or other than before; false where the sheet has had its label already.
fn take_print(
    conn: &Connection,
    origin: Origin,
    print: &Print,
    TouchedSurface {
        touched, had_more, ..
    }: &mut TouchedSurface,
    tally: &mut Tally,
    words: &mut Words,
) -> rusqlite::Result<bool> {
    let first = match *had_more {
        true => past::first_revision(conn, Kind::Print, origin.surface, print.label.as_str())?,
        false => 1,
    };
    if print_row::add(conn, origin, print, first)? {
        tally.added += 1;
        touched.growth.prints += 1;
    } else {
        let stored = print_row::find(conn, origin.surface, &print.label, words)?
            .ok_or(rusqlite::Error::QueryReturnedNoRows)?;
        if stored.1 == origin.change || !is_first(conn, Kind::Print, origin.surface, &print.label)? {
            return Ok(false);
        }
        if stored.0.says(print) {
            tally.unchanged += 1;
            return Ok(true);
        }
        print_row::replace(conn, origin, &stored, print)?;
        tally.changed += 1;
        touched.trackways |= stored.0.field_trackway.is_some();
    }
    touched.note_print(print);
    Ok(true)
}

/// As `take_print`, for an extent.
fn take_extent(
    conn: &Connection,
    change: i64,
    extent: &Extent,
    TouchedSurface {
        key: surface,
        touched,
        ..
    }: &mut TouchedSurface,
    tally: &mut Tally,
) -> rusqlite::Result<bool> {
    let surface = *surface;
    if extent_row::add(conn, surface, change, extent)? {
        tally.added += 1;
        touched.growth.extents += 1;
    } else {
        let stored =
            extent_row::find(conn, surface, &extent.label)?.ok_or(rusqlite::Error::QueryReturnedNoRows)?;
        if stored.1 == change || !is_first(conn, Kind::Extent, surface, &extent.label)? {
            return Ok(false);
        }
        if stored.0.says(extent) {
            tally.unchanged += 1;
            return Ok(true);
        }
        extent_row::replace(conn, surface, change, &stored, extent)?;
        tally.changed += 1;
    }
    touched.note_extent(extent);
    Ok(true)
}

/// Whether the sheet has not yet had this label; of new and changed rows their `change` tells.
///
/// It is remembered in a table on disk: a set in memory would grow with the sheet.
fn is_first(conn: &Connection, kind: Kind, surface: i64, label: &Label) -> rusqlite::Result<bool> {
    let remembered = conn
        .prepare_cached(REMEMBER)?
        .execute((kind.name(), surface, label.as_str()))?;
    Ok(remembered == 1)
}

fn overlies_unknown(
    conn: &Connection,
    change: i64,
    surface: i64,
    conflicts: &mut Vec<RowConflict>,
) -> rusqlite::Result<()> {
    let mut select = conn.prepare_cached(OVERLIES_UNKNOWN)?;
    let mut rows = select.query([surface, change])?;
    while let Some(row) = rows.next()? {
        conflicts.push(RowConflict {
            row: row.get::<_, i64>(0)?.unsigned_abs(),
            conflict: Conflict::OverliesUnknown(super::column::required(row, 1)?),
        });
    }
    Ok(())
}
