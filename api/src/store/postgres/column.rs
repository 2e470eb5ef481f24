//! Reading columns: texts that are ids, names of enumerations, dates, JSON, and counts.

use super::failure::{Fault, Given};
use postgres::Row;
use serde::de::DeserializeOwned;
use spatial::model::{IdFault, Label};
use std::error::Error;
use std::str::FromStr;

/// A text column that is parsed; `None` for NULL.
pub(super) fn parsed<T: FromStr>(row: &Row, at: usize) -> Given<Option<T>>
where
    T::Err: Error + Send + Sync + 'static,
{
    let text: Option<&str> = row.try_get(at)?;
    text.map(|text| text.parse().map_err(|error| unreadable(row, at, error)))
        .transpose()
}

/// A text column that is parsed and never NULL.
pub(super) fn required<T: FromStr>(row: &Row, at: usize) -> Given<T>
where
    T::Err: Error + Send + Sync + 'static,
{
    let text: &str = row.try_get(at)?;
    text.parse().map_err(|error| unreadable(row, at, error))
}

/// A column of JSON, selected as text; `None` for NULL.
pub(super) fn json<T: DeserializeOwned>(row: &Row, at: usize) -> Given<Option<T>> {
    let text: Option<&str> = row.try_get(at)?;
    text.map(|text| serde_json::from_str(text).map_err(|error| unreadable(row, at, error)))
        .transpose()
}

/// A column of labels; `None` for NULL.
pub(super) fn labels(row: &Row, at: usize) -> Given<Option<Vec<Label>>> {
    let texts: Option<Vec<&str>> = row.try_get(at)?;
    let read = |texts: Vec<&str>| {
        let labels = texts.into_iter().map(str::parse);
        labels
            .collect::<Result<_, IdFault>>()
            .map_err(|error| unreadable(row, at, error))
    };
    texts.map(read).transpose()
}

/// An integer column in the type that the record has it in; `None` for NULL.
pub(super) fn integer<T: TryFrom<i64>>(row: &Row, at: usize) -> Given<Option<T>>
where
    T::Error: Error + Send + Sync + 'static,
{
    let number: Option<i64> = row.try_get(at)?;
    number
        .map(|number| T::try_from(number).map_err(|error| unreadable(row, at, error)))
        .transpose()
}

/// An integer column that is never NULL.
pub(super) fn count<T: TryFrom<i64>>(row: &Row, at: usize) -> Given<T>
where
    T::Error: Error + Send + Sync + 'static,
{
    let number: i64 = row.try_get(at)?;
    T::try_from(number).map_err(|error| unreadable(row, at, error))
}

/// A value that this program cannot have written: something else has changed it.
pub(super) fn unreadable(row: &Row, at: usize, error: impl Error + Send + Sync + 'static) -> Fault {
    Fault::Unreadable {
        column: row.columns()[at].name().to_owned(),
        source: Box::new(error),
    }
}

/// A count as the database holds it: its integers are signed.
pub(super) fn as_integer(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
