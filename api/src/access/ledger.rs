//! Writes the ledger: every write before it is answered, refusals besides.

use crate::store::access::LedgerEntry;
use crate::store::{Store, StoreError};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, TryRecvError, sync_channel};
use std::thread::{JoinHandle, park_timeout};
use std::time::Duration;

/// So many refusals wait to be written; more are lost, since whoever floods the service must not fill its memory.
const WAITING: usize = 10_000;
/// Refusals are written so often, and not each when it comes: else whoever asked for what is hidden would wait longer than who asks for
/// what there is not, and learn by the clock that it is there.
const EACH: Duration = Duration::from_millis(250);
/// So many refusals are kept.
const KEPT: u64 = 1_000_000;
/// After so many new ones the oldest are struck out.
const BETWEEN_STRIKES: usize = 1_000;

/// Writes the ledger of a store.
pub struct Ledger {
    store: Arc<dyn Store>,
    /// Closed when the ledger ends.
    refusals: Option<SyncSender<LedgerEntry>>,
    writer: Option<JoinHandle<()>>,
}

impl Ledger {
    /// A ledger of a store; refusals are written on a thread of its own, that ends with it when all of them are on disk.
    #[must_use]
    pub fn new(store: Arc<dyn Store>) -> Self {
        let (refusals, coming) = sync_channel(WAITING);
        let writer = store.clone();
        // Without the thread refusals go nowhere, and `refused` says so.
        let writer = std::thread::Builder::new()
            .name("ledger".to_owned())
            .spawn(move || write_refusals(&*writer, &coming));
        Self {
            store,
            refusals: Some(refusals),
            writer: writer.ok(),
        }
    }

    /// Enters a write; when it returns, the line is on disk.
    ///
    /// # Errors
    /// When the store fails.
    pub fn wrote(&self, entry: LedgerEntry) -> Result<(), StoreError> {
        self.store.gatekeeper().enter(&[entry])
    }

    /// Enters a refusal, soon.
    pub fn refused(&self, entry: LedgerEntry) {
        let room = self
            .refusals
            .as_ref()
            .map(|refusals| refusals.try_send(entry).is_ok());
        if room != Some(true) {
            tracing::warn!("too many refusals at once: one is not in the ledger");
        }
    }
}

impl Drop for Ledger {
    fn drop(&mut self) {
        self.refusals = None;
        if let Some(writer) = self.writer.take() {
            writer.thread().unpark();
            // It has nothing to say; a store that failed it has told of.
            let _ = writer.join();
        }
    }
}

fn write_refusals(store: &dyn Store, coming: &Receiver<LedgerEntry>) {
    let mut since_strike = 0;
    let mut ended = false;
    while !ended {
        park_timeout(EACH);
        let mut batch = Vec::new();
        while batch.len() < WAITING && !ended {
            match coming.try_recv() {
                Ok(entry) => batch.push(entry),
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => ended = true,
            }
        }
        if batch.is_empty() {
            continue;
        }
        since_strike += batch.len();
        let mut written = store.gatekeeper().enter(&batch);
        if since_strike >= BETWEEN_STRIKES {
            since_strike = 0;
            written = written.and_then(|()| store.gatekeeper().strike(KEPT).map(drop));
        }
        if let Err(error) = written {
            tracing::warn!(%error, lines = batch.len(), "refusals are not in the ledger");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::SqliteStore;
    use jiff::Timestamp;

    #[test]
    fn refusals_are_all_on_disk_when_the_ledger_ends() {
        let folder = tempfile::tempdir().unwrap();
        let store = Arc::new(SqliteStore::open(&folder.path().join("ledge.db")).unwrap());
        let ledger = Ledger::new(store.clone());
        for status in [401, 403, 404] {
            ledger.refused(LedgerEntry {
                at: Timestamp::now(),
                who: None,
                address: None,
                method: "GET".to_owned(),
                path: "/collections/sites/items/shut-cove".to_owned(),
                site: None,
                status,
            });
        }
        drop(ledger);
        let lines = store.gatekeeper().ledger(10).unwrap();
        assert_eq!(lines.len(), 3);
    }
}
