//! What is wrong with a sheet, for its author to mend.

use serde::Serialize;
use std::fmt;

/// One thing wrong with a sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// The row: of a CSV sheet the number that a spreadsheet shows, the header row being 1; of
    /// GeoJSON the number of the feature, counted from 1. `None` where the fault is the whole sheet's.
    pub row: Option<u64>,
    /// The column, or the property.
    pub column: Option<String>,
    /// The value as it came, shortened where it is long.
    pub value: Option<String>,
    /// What was expected, and where it is known how to mend it.
    pub expected: String,
}

impl Fault {
    /// A fault of the sheet as a whole.
    #[must_use]
    pub fn of_sheet(expected: impl Into<String>) -> Self {
        Self {
            row: None,
            column: None,
            value: None,
            expected: shortened(&expected.into(), LONGEST_EXPECTED),
        }
    }

    /// A fault of a whole row.
    #[must_use]
    pub fn of_row(row: u64, expected: impl Into<String>) -> Self {
        Self {
            row: Some(row),
            ..Self::of_sheet(expected)
        }
    }

    /// A fault of one cell; an empty value says that there was none.
    #[must_use]
    pub fn of_cell(row: u64, column: &str, value: &str, expected: impl Into<String>) -> Self {
        Self {
            column: Some(shortened(column, LONGEST_VALUE)),
            value: (!value.is_empty()).then(|| shortened(value, LONGEST_VALUE)),
            ..Self::of_row(row, expected)
        }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(row) = self.row {
            write!(f, "row {row}, ")?;
        }
        if let Some(column) = &self.column {
            write!(f, "column {column}, ")?;
        }
        if let Some(value) = &self.value {
            write!(f, "value {value:?}, ")?;
        }
        write!(f, "expected: {}", self.expected)
    }
}

/// Everything that is wrong with a sheet.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Faults {
    /// The faults in the order of rows; at most [`Faults::LISTED`].
    pub faults: Vec<Fault>,
    /// How many faults there are in all.
    pub total: u64,
}

impl Faults {
    /// How many faults are listed: memory stays bounded when every row of a huge sheet is wrong.
    pub const LISTED: usize = 10_000;

    /// Whether the sheet is without fault.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.total == 0
    }

    /// One fault.
    pub(super) fn one(fault: Fault) -> Self {
        let mut faults = Self::default();
        faults.push(fault);
        faults
    }

    /// Counts a fault, and lists it while there is room.
    pub(super) fn push(&mut self, fault: Fault) {
        self.total += 1;
        if self.faults.len() < Self::LISTED {
            self.faults.push(fault);
        }
    }

    /// The faults of both in the order of rows; those of the sheet as a whole come first.
    pub(super) fn and(mut self, others: Self) -> Self {
        self.total += others.total;
        self.faults.extend(others.faults);
        self.faults.sort_by_key(|fault| fault.row);
        self.faults.truncate(Self::LISTED);
        self
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = if self.total == 1 { "fault" } else { "faults" };
        write!(
            f,
            "the sheet has {} {word}, and nothing of it was stored",
            self.total
        )
    }
}

impl std::error::Error for Faults {}

const LONGEST_VALUE: usize = 80;
const LONGEST_EXPECTED: usize = 600;

/// A fault must not repeat a whole novel that stood in a cell.
fn shortened(text: &str, longest: usize) -> String {
    let mut short: String = text.chars().take(longest).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_is_one_readable_line() {
        let fault = Fault::of_cell(14, "length_m", "35", "metres");
        assert_eq!(
            fault.to_string(),
            "row 14, column length_m, value \"35\", expected: metres"
        );
        assert_eq!(Fault::of_sheet("rows").to_string(), "expected: rows");
        let long = Fault::of_cell(2, "note", &"é".repeat(500), "less");
        assert_eq!(long.value.unwrap().chars().count(), 81);
    }

    #[test]
    fn only_so_many_faults_are_listed_but_all_are_counted() {
        let mut many = Faults::default();
        for row in 0..20_000 {
            many.push(Fault::of_row(row, "something else"));
        }
        let both = many.and(Faults::one(Fault::of_sheet("something")));
        assert_eq!((both.faults.len(), both.total), (Faults::LISTED, 20_001));
        assert_eq!(both.faults[0].row, None);
    }
}
