//! Listings and indexes as of moments that are past: few, made when they are asked for.

use super::indexes::indexed;
use super::prepared::Room;
use super::{Indexed, Listing, ReadFault, SurfaceEntry};
use crate::access::Audience;
use crate::store::Store;
use jiff::Timestamp;
use spatial::model::SurfaceId;
use std::sync::{Arc, Mutex, PoisonError};

/// So many of each are kept for the next who asks.
const KEPT: usize = 8;

/// The last few values, each with its key.
type Shelf<K, V> = Mutex<Vec<(K, V)>>;

/// What was made of moments, at some mark of the store: a change that is entered with an earlier time moves what was.
#[derive(Default)]
pub(super) struct Moments {
    listings: Shelf<(Timestamp, u64, Audience), Arc<Listing>>,
    indexes: Shelf<(SurfaceId, Timestamp, u64), Arc<Indexed>>,
}

impl Moments {
    /// The listing as of a moment, of what an audience is shown now.
    pub(super) fn listing(
        &self,
        store: &dyn Store,
        moment: Timestamp,
        audience: &Audience,
        now: &Listing,
    ) -> Result<Arc<Listing>, ReadFault> {
        let key = (moment, now.mark(), audience.clone());
        kept(&self.listings, key, || {
            let (sites, surfaces) = store.listing_at(moment)?;
            let then = Listing::of(sites, surfaces, now.mark());
            Ok(Arc::new(then.seen_as(audience, now)))
        })
    }

    /// The index of a surface as of a moment.
    pub(super) fn index(
        &self,
        store: &dyn Store,
        entry: &SurfaceEntry,
        moment: Timestamp,
        mark: u64,
    ) -> Result<Arc<Indexed>, ReadFault> {
        let id = &entry.summary.id;
        kept(&self.indexes, (id.clone(), moment, mark), || {
            let contents = store.contents_at(id, moment)?;
            let contents = contents.ok_or_else(|| ReadFault::missing("surface", id))?;
            // The past is seldom asked for twice.
            indexed(entry, contents, Room::new(0))
        })
    }
}

/// What is kept under a key, or is made and kept now.
fn kept<K: PartialEq, V: Clone>(
    shelf: &Shelf<K, V>,
    key: K,
    make: impl FnOnce() -> Result<V, ReadFault>,
) -> Result<V, ReadFault> {
    let lock = || shelf.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((_, value)) = lock().iter().find(|(other, _)| *other == key) {
        return Ok(value.clone());
    }
    let value = make()?;
    let mut shelf = lock();
    if shelf.len() >= KEPT {
        shelf.remove(0);
    }
    shelf.push((key, value.clone()));
    Ok(value)
}
