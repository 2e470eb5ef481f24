//! The record as it was at a moment, the same in every store.
//!
//! Of each record that revision was in force which is the highest of those made at or before the moment. Where a clock went
//! back, a later revision may bear an earlier time: then the later one counts, since it was made knowing the other.

use super::StoreError;
use super::kept::Record;
use jiff::Timestamp;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::hash::Hash;

/// A revision that no longer stands.
pub(super) struct Past {
    pub(super) label: String,
    /// The change that made it.
    pub(super) change: i64,
    /// The record, or null where it was removed.
    pub(super) json: String,
}

/// The changes that were made after a moment.
pub(super) struct Later<K>(HashSet<(K, i64)>);

impl<K: Hash + Eq> Later<K> {
    /// Of changes by what they are numbered on and their number, those that were made after a moment.
    pub(super) fn than(at: Timestamp, changes: impl IntoIterator<Item = (K, i64, Timestamp)>) -> Self {
        let later = changes.into_iter().filter(|(_, _, made)| *made > at);
        Self(later.map(|(on, number, _)| (on, number)).collect())
    }

    /// Whether a change is one of them.
    pub(super) fn has(&self, on: K, change: i64) -> bool {
        self.0.contains(&(on, change))
    }
}

/// The records of one kind that were in force, in the order of labels. `past` comes in the order of labels and revisions.
///
/// # Errors
/// When a past revision cannot be read.
pub(super) fn in_force<R: Record>(
    current: impl IntoIterator<Item = (R, i64)>,
    past: impl IntoIterator<Item = Past>,
    later: &dyn Fn(i64) -> bool,
) -> Result<Vec<R>, StoreError> {
    let mut found: BTreeMap<String, Option<R>> = BTreeMap::new();
    for (record, change) in current {
        if !later(change) {
            found.insert(record.label().to_owned(), Some(record));
        }
    }
    let standing: HashSet<String> = found.keys().cloned().collect();
    for past in past {
        if later(past.change) || standing.contains(&past.label) {
            continue;
        }
        let record = match past.json.as_str() {
            "null" => None,
            json => Some(R::from_json(json).map_err(|error| StoreError::Failed {
                doing: "reading a past revision",
                source: Box::new(error),
            })?),
        };
        found.insert(past.label, record);
    }
    Ok(found.into_values().flatten().collect())
}

/// How many records of one kind were in force on each surface.
pub(super) struct Counting<K> {
    /// What was in force of records that have a past: whether there was one.
    past: HashMap<(K, String), bool>,
    counts: HashMap<K, u64>,
}

impl<K: Copy + Hash + Eq> Counting<K> {
    pub(super) fn new() -> Self {
        Self {
            past: HashMap::new(),
            counts: HashMap::new(),
        }
    }

    /// Takes a past revision that was in force or before one that was; they come in the order of revisions.
    pub(super) fn past(&mut self, surface: K, label: String, removed: bool) {
        self.past.insert((surface, label), !removed);
    }

    /// Takes a record that stands now and was in force then, after all past revisions.
    pub(super) fn standing(&mut self, surface: K, label: String) {
        *self.counts.entry(surface).or_default() += 1;
        self.past.remove(&(surface, label));
    }

    /// The counts by surface.
    pub(super) fn end(mut self) -> HashMap<K, u64> {
        for ((surface, _), there) in self.past {
            *self.counts.entry(surface).or_default() += u64::from(there);
        }
        self.counts
    }
}
