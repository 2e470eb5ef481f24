//! An index in memory, and what is worked out of it once.

use super::overview::Overview;
use super::prepared::{Prepared, Room};
use spatial::continuation::Surroundings;
use spatial::index::{PrintNo, SurfaceIndex};
use std::ops::Deref;
use std::sync::{Arc, OnceLock};

/// A surface's index, with what its queries look up again and again.
#[derive(Debug)]
pub struct Indexed {
    index: SurfaceIndex,
    surroundings: OnceLock<Surroundings>,
    overview: OnceLock<Overview>,
    prepared: Prepared,
}

impl Indexed {
    pub(super) fn new(index: SurfaceIndex, room: Arc<Room>) -> Self {
        Self {
            prepared: Prepared::new(index.prints().len(), room),
            index,
            surroundings: OnceLock::new(),
            overview: OnceLock::new(),
        }
    }

    /// Where the surface's trackways end and what gaits are usual on it; worked out when it is first asked for.
    #[must_use]
    pub fn surroundings(&self) -> &Surroundings {
        self.surroundings.get_or_init(|| Surroundings::of(&self.index))
    }

    /// What the surface holds, counted, and where its trackways run; worked out when it is first asked for.
    #[must_use]
    pub fn overview(&self) -> &Overview {
        self.overview.get_or_init(|| Overview::of(&self.index))
    }

    /// Appends what the one writer of features, `write`, makes of prints for most askers, with commas between them; what it made once
    /// is kept.
    pub fn append_prints(
        &self,
        numbers: &[PrintNo],
        out: &mut Vec<u8>,
        write: impl Fn(PrintNo, &mut Vec<u8>),
    ) {
        self.prepared.append(numbers, out, write);
    }

    /// About how much memory it takes, bytes.
    #[must_use]
    pub fn memory_bytes(&self) -> usize {
        let surroundings = self.surroundings.get().map_or(0, Surroundings::memory_bytes);
        let overview = self.overview.get().map_or(0, Overview::memory_bytes);
        self.index.memory_bytes() + surroundings + overview + self.prepared.memory_bytes()
    }
}

#[cfg(test)]
impl From<SurfaceIndex> for Indexed {
    fn from(index: SurfaceIndex) -> Self {
        Self::new(index, Room::new(0))
    }
}

impl Deref for Indexed {
    type Target = SurfaceIndex;

    fn deref(&self) -> &SurfaceIndex {
        &self.index
    }
}
