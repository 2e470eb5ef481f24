//! Extents of a sheet: each batch meets the stored ones of its surfaces at once.

use super::failure::Given;
use super::member::{self, Writes};
use super::surface_row::Key;
use super::touched::TouchedSurfaces;
use crate::store::kept::Record;
use crate::store::{Conflict, RowConflict, SheetExtent, Tally};
use postgres::Client;
use spatial::model::{Extent, Label};
use std::collections::hash_map::Entry;
use std::collections::{HashMap, HashSet};

/// The extents of a sheet so far. Their labels stay in memory: a surface has few extents beside its prints.
#[derive(Default)]
pub(super) struct SheetExtents {
    /// The stored extents of each surface that the sheet touches.
    stored: HashMap<i32, HashMap<Label, (Extent, i64)>>,
    seen: HashSet<(i32, Label)>,
}

impl SheetExtents {
    /// Takes a batch, and gives the rows whose label the sheet has had already.
    pub(super) fn take(
        &mut self,
        conn: &mut Client,
        surfaces: &mut TouchedSurfaces,
        batch: &[SheetExtent],
        tally: &mut Tally,
    ) -> Given<Vec<RowConflict>> {
        let mut conflicts = Vec::new();
        let mut taken = Vec::new();
        for given in batch {
            let key = surfaces.touch(conn, &given.surface)?.key;
            if let Entry::Vacant(vacant) = self.stored.entry(key.surface) {
                vacant.insert(stored(conn, key)?);
            }
            if self.seen.insert((key.surface, given.extent.label.clone())) {
                taken.push((key, &given.extent));
            } else {
                conflicts.push(RowConflict {
                    row: given.row,
                    conflict: Conflict::DuplicateExtent,
                });
            }
        }
        let mut writes = Writes::new(conn, surfaces.change);
        for (key, extent) in taken {
            self.put(&mut writes, surfaces, key, extent, tally)?;
        }
        writes.send()?;
        Ok(conflicts)
    }

    fn put(
        &self,
        writes: &mut Writes<'_, Extent>,
        surfaces: &mut TouchedSurfaces,
        key: Key,
        extent: &Extent,
        tally: &mut Tally,
    ) -> Given<()> {
        let stored = self
            .stored
            .get(&key.surface)
            .and_then(|all| all.get(&extent.label));
        let is_new = match stored {
            Some(stored) if stored.0.says(extent) => {
                tally.unchanged += 1;
                return Ok(());
            }
            Some(stored) => {
                tally.changed += 1;
                writes.replace(key, stored, extent)?;
                false
            }
            None => {
                tally.added += 1;
                writes.add(key, extent)?;
                true
            }
        };
        if let Some(touched) = surfaces.touched(key.surface) {
            touched.growth.extents += i64::from(is_new);
            touched.note_extent(extent);
        }
        Ok(())
    }
}

fn stored(conn: &mut Client, key: Key) -> Given<HashMap<Label, (Extent, i64)>> {
    let all = member::of_surface::<Extent>(conn, key)?;
    Ok(all
        .into_iter()
        .map(|stored| (stored.0.label.clone(), stored))
        .collect())
}
