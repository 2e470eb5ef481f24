//! Where a store is, as users write it.

use super::{PostgresAddress, PostgresStore, SqliteStore, Store, StoreError};
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A file, or a database; shown without a password.
#[derive(Debug, Clone)]
pub enum StoreLocation {
    /// One SQLite file.
    File(PathBuf),
    /// A PostgreSQL database.
    Postgres(PostgresAddress),
}

impl StoreLocation {
    /// Reads a location: an address that begins with `postgres://` or `postgresql://`, else a path.
    ///
    /// # Errors
    /// [`StoreError::Unfit`] where such an address is written wrongly; the message repeats nothing of it.
    pub fn parse(text: &str) -> Result<Self, StoreError> {
        if PostgresAddress::is_meant(text) {
            PostgresAddress::parse(text).map(Self::Postgres)
        } else {
            Ok(Self::File(PathBuf::from(text)))
        }
    }

    /// Opens the store, and makes it where there is none.
    ///
    /// # Errors
    /// As [`SqliteStore::open`] and [`PostgresStore::open`].
    pub fn open(&self) -> Result<Arc<dyn Store>, StoreError> {
        Ok(match self {
            Self::File(path) => Arc::new(SqliteStore::open(path)?),
            Self::Postgres(address) => Arc::new(PostgresStore::open(address)?),
        })
    }

    /// Opens a store that is there.
    ///
    /// # Errors
    /// As [`SqliteStore::open_existing`] and [`PostgresStore::open_existing`].
    pub fn open_existing(&self) -> Result<Arc<dyn Store>, StoreError> {
        Ok(match self {
            Self::File(path) => Arc::new(SqliteStore::open_existing(path)?),
            Self::Postgres(address) => Arc::new(PostgresStore::open_existing(address)?),
        })
    }

    /// The folder that the store lies in, where it is a file.
    #[must_use]
    pub fn folder(&self) -> Option<&Path> {
        match self {
            Self::File(path) => path.parent().map(|folder| {
                if folder.as_os_str().is_empty() {
                    Path::new(".")
                } else {
                    folder
                }
            }),
            Self::Postgres(_) => None,
        }
    }
}

impl fmt::Display for StoreLocation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => path.display().fmt(f),
            Self::Postgres(address) => address.fmt(f),
        }
    }
}
