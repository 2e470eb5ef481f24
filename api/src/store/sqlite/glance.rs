//! The store's mark for readers in a hurry.

use super::connections::unpoisoned;
use crate::store::StoreError;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// The mark as it was last asked for.
///
/// To ask SQLite takes some microseconds, a tenth of what a small question takes as a whole. So a mark serves for a while that no
/// other process needs less than to commit, to tell of it and to have somebody ask here; what this process itself commits ends it.
#[derive(Default)]
pub(super) struct Glance(Mutex<Option<Seen>>);

#[derive(Clone, Copy)]
struct Seen {
    mark: u64,
    /// How often this process had written when the mark was asked for.
    written: u64,
    at: Instant,
}

impl Glance {
    const SERVES: Duration = Duration::from_micros(250);

    /// The mark at a moment, asked for where the last one does not serve any more. `written` tells how often this process had
    /// written by then.
    pub(super) fn mark(
        &self,
        at: Instant,
        written: u64,
        ask: impl FnOnce() -> Result<u64, StoreError>,
    ) -> Result<u64, StoreError> {
        let seen = *unpoisoned(&self.0);
        let serves = |seen: &Seen| seen.written == written && at.duration_since(seen.at) < Self::SERVES;
        if let Some(seen) = seen.filter(serves) {
            return Ok(seen.mark);
        }
        let mark = ask()?;
        *unpoisoned(&self.0) = Some(Seen { mark, written, at });
        Ok(mark)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_serves_for_a_while_and_until_this_process_writes() {
        let (glance, begin) = (Glance::default(), Instant::now());
        let mark = |micros, written, now| {
            let at = begin + Duration::from_micros(micros);
            glance.mark(at, written, || now).ok()
        };
        assert_eq!(mark(0, 0, Ok(7)), Some(7));
        assert_eq!(mark(1, 1, Ok(8)), Some(8), "this process has written");
        assert_eq!(mark(250, 1, Ok(9)), Some(8));
        assert_eq!(mark(251, 1, Ok(10)), Some(10), "the while is over");
        assert_eq!(mark(252, 2, Err(StoreError::Busy)), None);
        assert_eq!(
            mark(253, 2, Ok(11)),
            Some(11),
            "what could not be told is asked for again"
        );
    }
}
