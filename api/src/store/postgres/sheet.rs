//! A sheet on its way in: one transaction under the lock of its site.
//!
//! Prints of surfaces that had none before go straight into the table, by COPY, while the next are read (`sending`).
//! Prints of other surfaces wait in a temporary table, which meets the record as a set once all are there (`known`).

use super::column::as_integer;
use super::connections::Writing;
use super::extents::SheetExtents;
use super::failure::{Doing, Given};
use super::known::Known;
use super::print_row::{self, Origin};
use super::rows::Rows;
use super::sending::Sending;
use super::surface_row::Key;
use super::touched::TouchedSurfaces;
use super::{field_trackways, past, site_row, surface_row};
use crate::store::{
    Change, Conflict, Outcome, RowConflict, SheetExtent, SheetPrint, SheetTransaction, StoreError, Taken,
    finite,
};
use spatial::model::{Slug, Surface};

const OVERLIES_UNKNOWN: &str = include_str!("overlies_unknown.sql");

/// A sheet that is being taken.
pub(super) struct Sheet {
    pub(super) sending: Sending,
    pub(super) change: i64,
    pub(super) surfaces: TouchedSurfaces,
    /// Prints of surfaces that had none.
    fresh: Rows,
    known: Known,
    extents: SheetExtents,
    taken: Taken,
    /// Whether there was a conflict: nothing may be stored then.
    refused: bool,
    /// Whether the database failed in the middle of a batch: what was stored may be half of it.
    broken: bool,
}

impl Sheet {
    /// Begins to take a sheet in a transaction that has just begun.
    pub(super) fn begin(mut conn: Writing, site: &Slug, change: &Change) -> Result<Self, StoreError> {
        const DOING: &str = "beginning a sheet";
        let stored = site_row::lock(&mut conn, site).doing(DOING)?;
        let id = stored
            .ok_or_else(|| StoreError::Missing(format!("site {site}")))?
            .id;
        // Rolled back with all the rest where the sheet turns out to change nothing.
        let change = past::begin_change(&mut conn, id, change).doing(DOING)?;
        Ok(Self {
            sending: Sending::new(conn),
            change,
            surfaces: TouchedSurfaces::new(site.clone(), id, change),
            fresh: Rows::default(),
            known: Known::default(),
            extents: SheetExtents::default(),
            taken: Taken::default(),
            refused: false,
            broken: false,
        })
    }

    fn take_print(&mut self, given: &SheetPrint) -> Given<()> {
        if !self.surfaces.has(&given.surface) {
            self.bring_back()?;
        }
        let surface = match self.surfaces.get(&given.surface) {
            Some(surface) => surface,
            None => self.surfaces.touch(self.sending.conn(), &given.surface)?,
        };
        let origin = Origin {
            key: surface.key,
            sheet_row: given.row,
            change: self.change,
        };
        let last = surface.removed.get(&given.print.label);
        let first = last.map_or(1, |last| last + 1);
        if surface.had_prints || self.known.is_doubtful() {
            print_row::write(self.known.rows(), origin, &given.print, first)?;
            if self.known.rows().is_full() {
                self.bring_back()?;
                self.known.send(self.sending.conn())?;
            }
            return Ok(());
        }
        print_row::write(&mut self.fresh, origin, &given.print, first)?;
        surface.touched.growth.prints += 1;
        surface.touched.note_print(&given.print);
        self.taken.prints.added += 1;
        if self.fresh.is_full() {
            self.send_fresh()?;
        }
        Ok(())
    }

    /// Waits until the transaction is at hand. Where a label came twice among the prints that were sent with it, which a
    /// sheet must not do, they and all that follow are laid beside what is there, to tell which rows those are.
    fn bring_back(&mut self) -> Given<()> {
        if let Some(mut doubtful) = self.sending.bring_back()? {
            self.known.doubt(&mut doubtful);
        }
        Ok(())
    }

    /// Sends prints of surfaces that had none, once those before have arrived.
    fn send_fresh(&mut self) -> Given<()> {
        self.bring_back()?;
        if self.known.is_doubtful() {
            self.known.doubt(&mut self.fresh);
        } else if self.fresh.count() > 0 {
            self.sending.send(std::mem::take(&mut self.fresh));
        }
        Ok(())
    }

    fn take_extents(&mut self, batch: &[SheetExtent]) -> Given<Vec<RowConflict>> {
        self.bring_back()?;
        let (conn, surfaces) = (self.sending.conn(), &mut self.surfaces);
        self.extents.take(conn, surfaces, batch, &mut self.taken.extents)
    }

    /// Remembers a failure: after it, the sheet can only be dropped.
    fn noting_failure<T>(&mut self, result: Given<T>) -> Result<T, StoreError> {
        self.broken |= result.is_err();
        result.doing("taking a sheet")
    }

    fn find_duplicates(&mut self) -> Given<Vec<RowConflict>> {
        self.send_fresh()?;
        self.bring_back()?;
        let conn = self.sending.conn();
        let conflicts = self.known.duplicates(conn, self.surfaces.site, self.change)?;
        self.refused |= !conflicts.is_empty();
        Ok(conflicts)
    }

    /// All that can only be done when every row is there.
    pub(super) fn settle(&mut self) -> Given<Vec<RowConflict>> {
        let mut conflicts = self.find_duplicates()?;
        if self.refused {
            return Ok(conflicts);
        }
        self.known
            .merge(self.sending.conn(), &mut self.surfaces, &mut self.taken.prints)?;
        let conn = self.sending.conn();
        for surface in self.surfaces.all_mut() {
            let (key, touched) = (surface.key, &mut surface.touched);
            if touched.overlies {
                overlies_unknown(conn, self.change, key, &mut conflicts)?;
            }
            if touched.trackways {
                let (tally, found) = field_trackways::rebuild(conn, self.change, key)?;
                touched.growth.trackways += as_integer(tally.added);
                self.taken.trackways += tally;
                conflicts.extend(found);
            } else {
                self.taken.trackways.unchanged += field_trackways::standing(conn, key)?;
            }
            if touched.changed {
                surface_row::sum_up(conn, key, &touched.growth)?;
            }
        }
        conflicts.sort_by_key(|conflict| conflict.row);
        Ok(conflicts)
    }
}

impl SheetTransaction for Sheet {
    fn put_surface(&mut self, surface: &Surface) -> Result<(), StoreError> {
        finite::check_all([surface])?;
        let put = self.bring_back();
        let put = put.and_then(|()| self.surfaces.put(self.sending.conn(), surface));
        self.noting_failure(put)
    }

    fn put_prints(&mut self, batch: &[SheetPrint]) -> Result<Vec<RowConflict>, StoreError> {
        finite::check_all(batch.iter().map(|given| &given.print))?;
        let taken = batch.iter().try_for_each(|given| self.take_print(given));
        self.noting_failure(taken)?;
        Ok(Vec::new())
    }

    fn put_extents(&mut self, batch: &[SheetExtent]) -> Result<Vec<RowConflict>, StoreError> {
        finite::check_all(batch.iter().map(|given| &given.extent))?;
        if batch.is_empty() {
            return Ok(Vec::new());
        }
        let taken = self.take_extents(batch);
        let conflicts = self.noting_failure(taken)?;
        self.refused |= !conflicts.is_empty();
        Ok(conflicts)
    }

    fn late_conflicts(&mut self) -> Result<Vec<RowConflict>, StoreError> {
        let found = self.find_duplicates();
        self.noting_failure(found)
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
        self.end()
    }
}

impl Sheet {
    /// Whether anything is other than before.
    pub(super) fn writes(&self) -> bool {
        self.surfaces.all().any(|surface| surface.touched.changed)
    }

    /// Commits what is settled.
    pub(super) fn end(self) -> Result<Outcome, StoreError> {
        const DOING: &str = "finishing a sheet";
        let mut taken = self.taken;
        taken.surfaces = self.surfaces.all().map(|surface| surface.id.clone()).collect();
        let new = self.surfaces.all().filter(|surface| surface.touched.growth.new);
        taken.surfaces_added = new.count() as u64;
        if self.surfaces.all().any(|surface| surface.touched.changed) {
            self.sending.commit().doing(DOING)?;
        }
        Ok(Outcome::Taken(taken))
    }
}

fn overlies_unknown(
    conn: &mut Writing,
    change: i64,
    key: Key,
    conflicts: &mut Vec<RowConflict>,
) -> Given<()> {
    for row in conn.query(OVERLIES_UNKNOWN, &[&key.site, &key.surface, &change])? {
        conflicts.push(RowConflict {
            row: row.try_get::<_, i64>(0)?.unsigned_abs(),
            conflict: Conflict::OverliesUnknown(super::column::required(&row, 1)?),
        });
    }
    Ok(())
}
