//! What is wrong with a sheet, for its author to mend.

use serde::Serialize;

/// One thing wrong with a sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// The row: of a CSV sheet the line number that a spreadsheet shows, the header row being 1; of
    /// GeoJSON the number of the feature, counted from 1. `None` where the fault is the whole sheet's.
    pub row: Option<u64>,
    /// The column, or the property.
    pub column: Option<String>,
    /// The value as it came, shortened where it is long.
    pub value: Option<String>,
    /// What was expected, and where it is known how to mend it.
    pub expected: String,
}

/// Everything that is wrong with a sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Faults {
    /// The faults in the order of rows; at most [`Faults::LISTED`].
    pub faults: Vec<Fault>,
    /// How many faults there are in all.
    pub total: u64,
}

impl Faults {
    /// How many faults are listed: memory stays bounded when every row of a huge sheet is wrong.
    pub const LISTED: usize = 10_000;
}
