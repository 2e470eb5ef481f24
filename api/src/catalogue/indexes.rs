//! The indexes in memory: loaded on demand, swapped whole, given up by use.

use super::prepared::Room;
use super::{Indexed, ReadFault, SurfaceEntry};
use crate::crs::CrsFault;
use crate::store::{Store, StoreError};
use spatial::index::{IndexFault, SurfaceContents, SurfaceIndex};
use spatial::model::SurfaceId;
use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// An index and the contents revision that it shows.
struct Held {
    index: Arc<Indexed>,
    revision: u64,
}

impl Held {
    fn is_as_new_as(&self, entry: &SurfaceEntry) -> bool {
        self.revision >= entry.summary.contents_revision
    }
}

/// One surface's place: whoever finds it empty or old loads it while others of the same surface wait.
#[derive(Default)]
struct Place {
    held: Mutex<Option<Held>>,
}

#[derive(Default)]
struct Shelf {
    places: HashMap<SurfaceId, (Arc<Place>, u64)>,
    clock: u64,
}

/// What there is of indexes, and what became of them since the start.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct IndexFigures {
    /// How many are in memory.
    pub held: usize,
    /// About how much memory they take, bytes.
    pub bytes: usize,
    /// How many were loaded.
    pub loaded: usize,
    /// How many were given up to make room.
    pub given_up: usize,
}

pub(super) struct Indexes {
    shelf: Mutex<Shelf>,
    limit: usize,
    /// For features as they were written: half as much again as the indexes.
    room: Arc<Room>,
    loaded: AtomicUsize,
    given_up: AtomicUsize,
}

impl Indexes {
    pub(super) fn new(limit: usize) -> Self {
        Self {
            shelf: Mutex::default(),
            limit,
            room: Room::new(limit / 2),
            loaded: AtomicUsize::new(0),
            given_up: AtomicUsize::new(0),
        }
    }

    /// What there is now; of those that are being loaded the size is not known yet.
    pub(super) fn figures(&self) -> IndexFigures {
        let shelf = lock(&self.shelf);
        let held = shelf.places.values().filter_map(|(place, _)| size(place));
        let (held, bytes) = held.fold((0, 0), |(count, bytes), size| (count + 1, bytes + size));
        IndexFigures {
            held,
            bytes,
            loaded: self.loaded.load(Ordering::Relaxed),
            given_up: self.given_up.load(Ordering::Relaxed),
        }
    }

    /// The index of a surface at the entry's revision or a later one.
    pub(super) fn get(&self, store: &dyn Store, entry: &SurfaceEntry) -> Result<Arc<Indexed>, ReadFault> {
        let place = self.place(&entry.summary.id);
        let mut held = lock(&place.held);
        if let Some(held) = held.as_ref().filter(|held| held.is_as_new_as(entry)) {
            return Ok(held.index.clone());
        }
        let (index, revision) = match (self.load(store, entry), held.as_ref()) {
            (Ok(loaded), _) => loaded,
            // While the store is away, what is held is the newest that there is.
            (Err(ReadFault::Store(StoreError::Unreachable(_))), Some(held)) => return Ok(held.index.clone()),
            (Err(fault), _) => return Err(fault),
        };
        self.loaded.fetch_add(1, Ordering::Relaxed);
        *held = Some(Held {
            index: index.clone(),
            revision,
        });
        drop(held);
        self.give_up_oldest(&entry.summary.id);
        Ok(index)
    }

    /// The index of a surface at the entry's revision or a later one, where it is in memory and nobody is loading another.
    pub(super) fn at_hand(&self, entry: &SurfaceEntry) -> Option<Arc<Indexed>> {
        let place = lock(&self.shelf).places.get(&entry.summary.id)?.0.clone();
        let held = place.held.try_lock().ok()?;
        let held = held.as_ref().filter(|held| held.is_as_new_as(entry))?;
        Some(held.index.clone())
    }

    fn load(&self, store: &dyn Store, entry: &SurfaceEntry) -> Result<(Arc<Indexed>, u64), ReadFault> {
        let id = &entry.summary.id;
        let (contents, revision) = store
            .contents(id)?
            .ok_or_else(|| ReadFault::missing("surface", id))?;
        Ok((indexed(entry, contents, self.room.clone())?, revision))
    }

    fn place(&self, id: &SurfaceId) -> Arc<Place> {
        let mut shelf = lock(&self.shelf);
        shelf.clock += 1;
        let now = shelf.clock;
        let (place, used) = shelf.places.entry(id.clone()).or_default();
        *used = now;
        place.clone()
    }

    /// Gives up indexes, those longest unused first, until the rest fits; the newest always stays.
    fn give_up_oldest(&self, newest: &SurfaceId) {
        let mut shelf = lock(&self.shelf);
        let mut sizes: Vec<(u64, SurfaceId, usize)> = shelf
            .places
            .iter()
            .filter_map(|(id, (place, used))| Some((*used, id.clone(), size(place)?)))
            .collect();
        sizes.sort_unstable();
        let mut total: usize = sizes.iter().map(|(_, _, bytes)| bytes).sum();
        for (_, id, bytes) in sizes {
            if total <= self.limit {
                break;
            }
            if id != *newest {
                shelf.places.remove(&id);
                self.given_up.fetch_add(1, Ordering::Relaxed);
                total -= bytes;
            }
        }
    }
}

/// About how much memory an index takes; `None` where there is none, or it is being loaded: it is in use, and its size is not
/// known yet.
fn size(place: &Place) -> Option<usize> {
    let held = place.held.try_lock().ok()?;
    held.as_ref().map(|held| held.index.memory_bytes())
}

/// What stands on a surface, indexed.
pub(super) fn indexed(
    entry: &SurfaceEntry,
    contents: SurfaceContents,
    room: Arc<Room>,
) -> Result<Arc<Indexed>, ReadFault> {
    let crs = entry.crs()?;
    let index = SurfaceIndex::build(contents, |positions| crs.to_lonlat(positions));
    let index = index.map_err(|fault: IndexFault<CrsFault>| match fault {
        IndexFault::Places(fault) => ReadFault::Crs(fault),
        other => ReadFault::Broken {
            surface: entry.summary.id.clone(),
            reason: other.to_string(),
        },
    })?;
    Ok(Arc::new(Indexed::new(index, room)))
}

/// A thread that panicked while it loaded left the place as it was: empty or with the old index.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
