//! The contract, and what only holds of a database.

mod gis;
mod keeping;
mod reaching;

use super::{PostgresAddress, PostgresStore};
use crate::store::Store;
use crate::store::contract::{Trial, every_store_must};
use cluster::{Cluster, Database};
use std::sync::OnceLock;

/// A store in a database that is gone after the test.
pub(crate) struct Fresh {
    database: Database,
    store: PostgresStore,
}

impl Fresh {
    pub(crate) fn new() -> Self {
        Self::on(Cluster::shared().copy_of(template()))
    }

    fn on(database: Database) -> Self {
        let store = PostgresStore::open(&address(&database)).unwrap();
        Self { database, store }
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        Cluster::shared().drop(&self.database);
    }
}

/// A database with an empty store: to copy one is quicker than to make one.
fn template() -> &'static str {
    static MADE: OnceLock<Database> = OnceLock::new();
    MADE.get_or_init(|| {
        let database = Cluster::shared().database();
        drop(PostgresStore::open(&address(&database)).unwrap());
        database
    })
    .name()
}

fn address(database: &Database) -> PostgresAddress {
    PostgresAddress::parse(database.url()).unwrap()
}

impl Trial for Fresh {
    fn store(&self) -> &dyn Store {
        &self.store
    }

    fn again(&self) -> Box<dyn Store> {
        Box::new(PostgresStore::open_existing(&address(&self.database)).unwrap())
    }
}

every_store_must!(super::Fresh::new());
