//! From what PostgreSQL says to what the store says.

use super::PostgresAddress;
use crate::store::StoreError;
use postgres::error::SqlState;
use std::error::Error;
use std::io;

/// What went wrong below the store.
#[derive(Debug, thiserror::Error)]
pub(super) enum Fault {
    /// The database, or the way there.
    #[error(transparent)]
    Database(#[from] postgres::Error),
    /// A value that this program cannot have written.
    #[error("column {column} cannot be read")]
    Unreadable {
        column: String,
        #[source]
        source: Box<dyn Error + Send + Sync>,
    },
    /// A value that cannot be written as JSON.
    #[error(transparent)]
    Unwritable(#[from] serde_json::Error),
    /// What must be there by the store's own laws is not.
    #[error("{0}")]
    Broken(&'static str),
}

/// What the database gave, or a fault.
pub(super) type Given<T> = Result<T, Fault>;

impl From<io::Error> for Fault {
    /// Data on its way in fails as an error of input and output, around the database's own.
    fn from(error: io::Error) -> Self {
        match error.downcast::<postgres::Error>() {
            Ok(error) => Self::Database(error),
            Err(error) => Self::Unreadable {
                column: "of the data on its way in".to_owned(),
                source: Box::new(error),
            },
        }
    }
}

impl Fault {
    /// Whether a key came a second time.
    pub(super) fn is_duplicate(&self) -> bool {
        self.is(&SqlState::UNIQUE_VIOLATION)
    }

    /// Whether the user may not do that.
    pub(super) fn is_forbidden(&self) -> bool {
        self.is(&SqlState::INSUFFICIENT_PRIVILEGE)
    }

    fn is(&self, state: &SqlState) -> bool {
        matches!(self, Self::Database(error) if error.code() == Some(state))
    }
}

/// Says what was being done when the database failed.
pub(super) trait Doing<T> {
    /// Turns the fault into the store's error.
    fn doing(self, doing: &'static str) -> Result<T, StoreError>;
}

impl<T, E: Into<Fault>> Doing<T> for Result<T, E> {
    fn doing(self, doing: &'static str) -> Result<T, StoreError> {
        self.map_err(|fault| match fault.into() {
            Fault::Database(error) => told(error, doing),
            other => StoreError::Failed {
                doing,
                source: Box::new(other),
            },
        })
    }
}

fn told(error: postgres::Error, doing: &'static str) -> StoreError {
    let code = error.code().map(SqlState::code).unwrap_or_default();
    match code {
        // A lock that did not come in time, two that waited for each other.
        "55P03" | "40P01" | "40001" => StoreError::Busy,
        "22021" | "22P05" => StoreError::NulCharacter,
        "53100" => StoreError::NoRoom(chain(&error)),
        "25006" => StoreError::NotWritable(chain(&error)),
        "57P01" | "57P02" | "57P03" | "53300" => StoreError::Unreachable(chain(&error)),
        _ if code.starts_with("08") => StoreError::Unreachable(chain(&error)),
        "" if error.is_closed() || is_of_the_way(&error) => StoreError::Unreachable(chain(&error)),
        _ => StoreError::Failed {
            doing,
            source: Box::new(error),
        },
    }
}

/// Whether the way to the database failed, not the database.
fn is_of_the_way(error: &postgres::Error) -> bool {
    error.source().is_some_and(|source| source.is::<io::Error>())
}

/// An error with its reasons in one line.
pub(super) fn chain(error: &dyn Error) -> String {
    let mut line = error.to_string();
    let mut next = error.source();
    while let Some(reason) = next {
        line = format!("{line}: {reason}");
        next = reason.source();
    }
    line
}

/// Why there is no connection, and what to do.
pub(super) fn no_connection(address: &PostgresAddress, error: &postgres::Error) -> StoreError {
    let code = error.code().map(SqlState::code).unwrap_or_default();
    let why = chain(error);
    StoreError::Unfit(match code {
        "28P01" | "28000" => format!(
            "{address} does not let this user in ({why}); check the user in the address and the password (in \
             $PGPASSWORD, or in the address), and that the server's pg_hba.conf allows it from here; where the server \
             wants TLS, add ?sslmode=require"
        ),
        "3D000" => format!(
            "there is no database {} at {address}; make it with `createdb`, or name another one",
            address.database()
        ),
        "" if why.contains("password") => {
            format!("{address} asks for a password; give it in $PGPASSWORD, or in the address")
        }
        "" if why.contains("does not support TLS") => format!(
            "{address} offers no TLS, which sslmode=require asks for; turn it on at the server, or leave sslmode out"
        ),
        "" if why.contains("TLS") || why.contains("certificate") => format!(
            "{address} cannot be reached over TLS: {why}; certificates are checked against those of this machine, or \
             those in $SSL_CERT_FILE"
        ),
        "" => format!(
            "{address} cannot be reached: {why}; see that the server runs, and that host and port are right"
        ),
        _ => format!("{address} cannot be opened: {why}"),
    })
}
