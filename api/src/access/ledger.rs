//! Writes the ledger: every write before it is answered, refusals besides.

use crate::store::access::LedgerEntry;
use crate::store::{Store, StoreError};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};

/// So many refusals wait to be written; more are lost, since whoever floods the service must not fill its memory.
const WAITING: usize = 10_000;
/// So many refusals are kept.
const KEPT: u64 = 1_000_000;
/// After so many new ones the oldest are struck out.
const BETWEEN_STRIKES: usize = 1_000;

/// Writes the ledger of a store.
pub struct Ledger {
    store: Arc<dyn Store>,
    refusals: SyncSender<LedgerEntry>,
}

impl Ledger {
    /// A ledger of a store; refusals are written on a thread of its own, that ends with it.
    #[must_use]
    pub fn new(store: Arc<dyn Store>) -> Self {
        let (refusals, coming) = sync_channel(WAITING);
        let writer = store.clone();
        // Without the thread refusals go nowhere, and `refused` says so.
        let _ = std::thread::Builder::new()
            .name("ledger".to_owned())
            .spawn(move || write_refusals(&*writer, &coming));
        Self { store, refusals }
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
        if self.refusals.try_send(entry).is_err() {
            tracing::warn!("too many refusals at once: one is not in the ledger");
        }
    }
}

fn write_refusals(store: &dyn Store, coming: &Receiver<LedgerEntry>) {
    let mut since_strike = 0;
    while let Ok(first) = coming.recv() {
        let batch: Vec<LedgerEntry> = std::iter::once(first)
            .chain(coming.try_iter().take(WAITING))
            .collect();
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
