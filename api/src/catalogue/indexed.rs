//! An index in memory, and what is worked out of it once.

use spatial::continuation::Surroundings;
use spatial::index::SurfaceIndex;
use std::ops::Deref;
use std::sync::OnceLock;

/// A surface's index, with what its queries look up again and again.
#[derive(Debug)]
pub struct Indexed {
    index: SurfaceIndex,
    surroundings: OnceLock<Surroundings>,
}

impl Indexed {
    pub(super) fn new(index: SurfaceIndex) -> Self {
        Self {
            index,
            surroundings: OnceLock::new(),
        }
    }

    /// Where the surface's trackways end and what gaits are usual on it; worked out when it is first asked for.
    #[must_use]
    pub fn surroundings(&self) -> &Surroundings {
        self.surroundings.get_or_init(|| Surroundings::of(&self.index))
    }

    /// About how much memory it takes, bytes.
    #[must_use]
    pub fn memory_bytes(&self) -> usize {
        self.index.memory_bytes() + self.surroundings.get().map_or(0, Surroundings::memory_bytes)
    }
}

impl Deref for Indexed {
    type Target = SurfaceIndex;

    fn deref(&self) -> &SurfaceIndex {
        &self.index
    }
}
