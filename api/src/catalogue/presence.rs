//! Whether the store is there, or what is shown is of before.

use jiff::Timestamp;
use std::sync::atomic::{AtomicBool, AtomicI64, Ordering};

/// When the store was last there, and whether it is now.
#[derive(Default)]
pub(super) struct Presence {
    seen_us: AtomicI64,
    away: AtomicBool,
}

impl Presence {
    pub(super) fn here(&self) {
        self.seen_us
            .store(Timestamp::now().as_microsecond(), Ordering::Relaxed);
        self.away.store(false, Ordering::Relaxed);
    }

    pub(super) fn away(&self) {
        self.away.store(true, Ordering::Relaxed);
    }

    /// Since when the store is away; `None` while it is there.
    pub(super) fn away_since(&self) -> Option<Timestamp> {
        let seen = Timestamp::from_microsecond(self.seen_us.load(Ordering::Relaxed));
        self.away
            .load(Ordering::Relaxed)
            .then(|| seen.unwrap_or_default())
    }
}
