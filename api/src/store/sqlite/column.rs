//! Reading columns: texts that are ids, names of enumerations, dates, and JSON.

use rusqlite::Row;
use rusqlite::types::{FromSqlError, Type};
use serde::de::DeserializeOwned;
use std::error::Error;
use std::str::FromStr;

/// A text column, borrowed; `None` for NULL.
pub(super) fn text<'row>(row: &'row Row<'_>, at: usize) -> rusqlite::Result<Option<&'row str>> {
    row.get_ref(at)?
        .as_str_or_null()
        .map_err(|error: FromSqlError| unreadable(at, error))
}

/// A text column that is parsed; `None` for NULL.
pub(super) fn parsed<T: FromStr>(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<T>>
where
    T::Err: Error + Send + Sync + 'static,
{
    text(row, at)?
        .map(|text| text.parse().map_err(|error| unreadable(at, error)))
        .transpose()
}

/// A text column that is parsed and never NULL.
pub(super) fn required<T: FromStr>(row: &Row<'_>, at: usize) -> rusqlite::Result<T>
where
    T::Err: Error + Send + Sync + 'static,
{
    parsed(row, at)?.ok_or_else(|| unreadable(at, FromSqlError::InvalidType))
}

/// A column of JSON; `None` for NULL.
pub(super) fn json<T: DeserializeOwned>(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<T>> {
    text(row, at)?
        .map(|text| serde_json::from_str(text).map_err(|error| unreadable(at, error)))
        .transpose()
}

/// A value that this program cannot have written: the file was changed by something else.
pub(super) fn unreadable(at: usize, error: impl Error + Send + Sync + 'static) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(at, Type::Text, Box::new(error))
}
