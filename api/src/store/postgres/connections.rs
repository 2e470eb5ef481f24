//! Connections that read and connections that write, each from a pool of its own: writers who wait for one another
//! never keep readers out.

use super::PostgresAddress;
use super::failure::{Doing, Given};
use super::watch::Watch;
use crate::store::StoreError;
use postgres::{Client, IsolationLevel, Transaction};
use r2d2::{NopErrorHandler, PooledConnection};
use r2d2_postgres::PostgresConnectionManager;
use std::ops::{Deref, DerefMut};
use std::sync::{Arc, Weak};
use std::time::Duration;
use tokio_postgres_rustls::MakeRustlsConnect;

type Manager = PostgresConnectionManager<MakeRustlsConnect>;

/// Connections to one database, made when they are needed. One that has broken is replaced by itself.
pub(super) struct Pool {
    connections: Option<r2d2::Pool<Manager>>,
    /// Who knows whether there is any use in waiting for a connection, and is told of what is committed.
    watch: Option<Weak<Watch>>,
}

impl Pool {
    /// A pool of at most so many connections.
    pub(super) fn new(address: &PostgresAddress, most: u32, patience: Duration) -> Result<Self, StoreError> {
        let manager = PostgresConnectionManager::new(address.settled(patience), address.tls()?);
        Ok(Self {
            watch: None,
            connections: Some(
                r2d2::Pool::builder()
                    .max_size(most)
                    .min_idle(Some(0))
                    .connection_timeout(patience)
                    // Whoever asks is told; the pool need not tell a log besides.
                    .error_handler(Box::new(NopErrorHandler))
                    .build_unchecked(manager),
            ),
        })
    }

    /// Hands the pool of a primary to who watches it.
    pub(super) fn watched_by(&mut self, watch: &Arc<Watch>) {
        self.watch = Some(Arc::downgrade(watch));
    }

    fn watch(&self) -> Option<Arc<Watch>> {
        self.watch.as_ref().and_then(Weak::upgrade)
    }

    fn get(&self) -> Result<PooledConnection<Manager>, StoreError> {
        if let Some(watch) = self.watch() {
            watch.check()?;
        }
        let pool = self
            .connections
            .as_ref()
            .expect("the pool is there until the drop");
        pool.get().map_err(|error| {
            let why = error.to_string();
            // Without a reason behind it, all connections were in use for too long.
            match why.split_once(": ") {
                Some((_, reason)) => StoreError::Unreachable(reason.to_owned()),
                None => StoreError::Busy,
            }
        })
    }

    /// Reads in one transaction: all that `read` sees is of one moment.
    pub(super) fn read<T>(
        &self,
        doing: &'static str,
        read: impl FnOnce(&mut Transaction<'_>) -> Given<T>,
    ) -> Result<T, StoreError> {
        let mut conn = self.get()?;
        let mut moment = conn
            .build_transaction()
            .isolation_level(IsolationLevel::RepeatableRead)
            .read_only(true)
            .start()
            .doing(doing)?;
        let answer = read(&mut moment).doing(doing)?;
        moment.commit().doing(doing)?;
        Ok(answer)
    }

    /// Asks one question.
    pub(super) fn ask<T>(
        &self,
        doing: &'static str,
        ask: impl FnOnce(&mut Client) -> Given<T>,
    ) -> Result<T, StoreError> {
        ask(&mut *self.get()?).doing(doing)
    }

    /// Begins a transaction that ends with `Writing`.
    pub(super) fn begin(&self) -> Result<Writing, StoreError> {
        let mut conn = self.get()?;
        conn.batch_execute("BEGIN").doing("beginning a change")?;
        Ok(Writing {
            conn,
            open: true,
            watch: self.watch(),
        })
    }
}

impl Drop for Pool {
    /// To close a connection is to wait for it, and the last to hold the store may be a thread of the HTTP service, where
    /// nothing may wait.
    fn drop(&mut self) {
        let pool = self.connections.take();
        let closing = std::thread::Builder::new().spawn(move || drop(pool));
        let _ = closing.map(std::thread::JoinHandle::join);
    }
}

/// A transaction that writes; dropped without `commit`, it is rolled back.
pub(super) struct Writing {
    conn: PooledConnection<Manager>,
    open: bool,
    watch: Option<Arc<Watch>>,
}

impl Writing {
    /// Commits; when it returns, the change is on the server's disk.
    pub(super) fn commit(mut self) -> Given<()> {
        self.conn.batch_execute("COMMIT")?;
        self.open = false;
        if let Some(watch) = &self.watch {
            watch.committed();
        }
        Ok(())
    }
}

impl Deref for Writing {
    type Target = Client;

    fn deref(&self) -> &Client {
        &self.conn
    }
}

impl DerefMut for Writing {
    fn deref_mut(&mut self) -> &mut Client {
        &mut self.conn
    }
}

impl Drop for Writing {
    fn drop(&mut self) {
        if self.open {
            // It fails only where the connection has broken; the server has rolled back by itself then.
            let _ = self.conn.batch_execute("ROLLBACK");
        }
    }
}
