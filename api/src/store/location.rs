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

    /// Opens a store that is there for a service, as [`PostgresStore::open_watched`] does; `replica` is where its reads go.
    ///
    /// # Errors
    /// As [`StoreLocation::open_existing`]; [`StoreError::Unfit`] when a file is to have a replica.
    pub fn open_for_service(&self, replica: Option<&Self>) -> Result<Arc<dyn Store>, StoreError> {
        match (self, replica) {
            (_, None) | (Self::Postgres(_), Some(Self::Postgres(_))) => {}
            _ => {
                let why = "only a database has a replica to read from; both are named postgres://…";
                return Err(StoreError::Unfit(why.to_owned()));
            }
        }
        match (self, replica) {
            (Self::File(path), _) => Ok(Arc::new(SqliteStore::open_existing(path)?)),
            (Self::Postgres(address), replica) => {
                let replica = replica.and_then(|replica| match replica {
                    Self::Postgres(address) => Some(address),
                    Self::File(_) => None,
                });
                Ok(Arc::new(PostgresStore::open_watched(address, replica)?))
            }
        }
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
