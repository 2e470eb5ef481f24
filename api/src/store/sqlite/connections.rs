//! One connection that writes, and as many that read as are needed at once.

use super::failure::Doing;
use super::file;
use crate::store::StoreError;
use rusqlite::{Connection, Transaction};
use std::ops::Deref;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// The one connection that writes; whoever writes takes it out and puts it back.
///
/// A plain mutex around it could not give up after a while.
pub(super) struct Writer {
    idle: Mutex<Option<Connection>>,
    /// How often something was written, or may have been.
    written: AtomicU64,
    returned: Condvar,
    patience: Duration,
}

impl Writer {
    pub(super) fn new(conn: Connection, patience: Duration) -> Self {
        Self {
            idle: Mutex::new(Some(conn)),
            written: AtomicU64::new(0),
            returned: Condvar::new(),
            patience,
        }
    }

    /// How often something was written, or may have been: it has grown before anybody is told that his change is on disk.
    pub(super) fn written(&self) -> u64 {
        self.written.load(Ordering::Acquire)
    }

    /// Waits for the connection and begins a transaction that ends with `Writing`.
    pub(super) fn begin(&self) -> Result<Writing<'_>, StoreError> {
        let (mut idle, _) = self
            .returned
            .wait_timeout_while(unpoisoned(&self.idle), self.patience, |idle| idle.is_none())
            .unwrap_or_else(PoisonError::into_inner);
        let conn = idle.take().ok_or(StoreError::Busy)?;
        drop(idle);
        let writing = Writing {
            writer: self,
            conn: Some(conn),
        };
        // Immediate: a writer of another process is met here, not in the middle of a sheet.
        writing
            .execute_batch("BEGIN IMMEDIATE")
            .doing("beginning a change")?;
        Ok(writing)
    }
}

/// A transaction of the writer; dropped without `commit`, it is rolled back.
pub(super) struct Writing<'writer> {
    writer: &'writer Writer,
    conn: Option<Connection>,
}

impl Writing<'_> {
    /// Commits; when it returns, the change is on disk.
    pub(super) fn commit(self) -> rusqlite::Result<()> {
        let committed = self.execute_batch("COMMIT");
        self.writer.written.fetch_add(1, Ordering::Release);
        committed
    }
}

impl Deref for Writing<'_> {
    type Target = Connection;

    fn deref(&self) -> &Connection {
        self.conn
            .as_ref()
            .expect("the connection is there until the drop")
    }
}

impl Drop for Writing<'_> {
    fn drop(&mut self) {
        if !self.is_autocommit() {
            // It fails only where SQLite has rolled back by itself.
            let _ = self.execute_batch("ROLLBACK");
        }
        *unpoisoned(&self.writer.idle) = self.conn.take();
        self.writer.returned.notify_one();
    }
}

/// Connections that read. They never wait for the writer: the log lets each see the last commit.
pub(super) struct Readers {
    path: PathBuf,
    patience: Duration,
    idle: Mutex<Vec<Connection>>,
}

impl Readers {
    /// More than this many at once are closed again after use.
    const KEPT: usize = 8;

    pub(super) fn new(path: PathBuf, patience: Duration) -> Self {
        Self {
            path,
            patience,
            idle: Mutex::new(Vec::new()),
        }
    }

    /// Reads in one transaction: all that `read` sees is of one moment.
    pub(super) fn read<T>(
        &self,
        doing: &'static str,
        read: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, StoreError> {
        self.ask(doing, |conn| conn.transaction().and_then(|moment| read(&moment)))
    }

    /// Asks what is told in one statement.
    pub(super) fn ask<T>(
        &self,
        doing: &'static str,
        ask: impl FnOnce(&mut Connection) -> rusqlite::Result<T>,
    ) -> Result<T, StoreError> {
        let idle = unpoisoned(&self.idle).pop();
        let mut conn = match idle {
            Some(conn) => conn,
            None => file::open_reader(&self.path, self.patience)?,
        };
        let answer = ask(&mut conn).doing(doing)?;
        let mut idle = unpoisoned(&self.idle);
        if idle.len() < Self::KEPT {
            idle.push(conn);
        }
        Ok(answer)
    }
}

/// The lock, also after a thread has panicked with it: what it guards is moved in or out in one step.
pub(super) fn unpoisoned<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
