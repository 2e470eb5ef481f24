//! From what SQLite says to what the store says.

use crate::store::StoreError;
use rusqlite::ErrorCode;

/// Says what was being done when the database failed.
pub(super) trait Doing<T> {
    /// Turns the database's error into the store's.
    fn doing(self, doing: &'static str) -> Result<T, StoreError>;
}

impl<T> Doing<T> for rusqlite::Result<T> {
    fn doing(self, doing: &'static str) -> Result<T, StoreError> {
        self.map_err(|error| match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => StoreError::Busy,
            Some(ErrorCode::DiskFull | ErrorCode::SystemIoFailure) => StoreError::NoRoom(error.to_string()),
            Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
                StoreError::NotWritable(error.to_string())
            }
            _ => StoreError::Failed {
                doing,
                source: Box::new(error),
            },
        })
    }
}

/// A value that cannot be written as JSON, as an error of the database's layer.
pub(super) fn unwritable(error: serde_json::Error) -> rusqlite::Error {
    rusqlite::Error::ToSqlConversionFailure(Box::new(error))
}
