//! The header row of a CSV sheet: what stands in which column.

use super::column::{Column, Pair};
use super::place::Ground;
use super::records::Row;
use super::{Fault, Faults};
use std::collections::HashSet;
use std::sync::Arc;

/// What a column holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Slot {
    /// What the record knows.
    Known(Column),
    /// A further column.
    Further(Arc<str>),
    /// A column without a name, such as spreadsheets leave to the right of a table.
    Unnamed,
}

impl Slot {
    /// The column's name.
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Known(column) => column.name(),
            Self::Further(name) => name,
            Self::Unnamed => "",
        }
    }
}

/// What each column holds, and the pair of columns that says where the prints lie. `row` is the header row's
/// number, `names` the texts of its cells.
///
/// # Errors
/// Every fault of the header row.
pub(super) fn slots(row: u64, names: &[String], ground: &Ground) -> Result<(Vec<Slot>, Pair), Faults> {
    let mut faults = Faults::default();
    let mut seen = HashSet::new();
    let slots: Vec<Slot> = names
        .iter()
        .map(|name| {
            let name = name.trim();
            let twice = !name.is_empty() && !seen.insert(name);
            if let Some(expected) = unfit(name).or(twice.then_some(TWICE)) {
                faults.push(Fault::of_cell(row, name, name, expected));
            }
            slot(name)
        })
        .collect();
    let has = |column: &Column| slots.contains(&Slot::Known(*column));
    let pair = pair(row, &slots, &mut faults);
    let required = [Column::Surface, Column::Print]
        .into_iter()
        .chain(pair.into_iter().flat_map(Pair::columns))
        .chain([Column::Length]);
    for column in required.filter(|column| !has(column)) {
        faults.push(missing(row, column, &slots));
    }
    if let (Some(Pair::Local), Err(expected)) = (pair, ground.grid()) {
        faults.push(Fault::of_cell(row, &Pair::Local.names(), "", expected));
    }
    match pair {
        Some(pair) if faults.is_empty() => Ok((slots, pair)),
        _ => Err(faults),
    }
}

/// The pair of columns that the sheet has; `None`, and a fault, where it has columns of both.
fn pair(row: u64, slots: &[Slot], faults: &mut Faults) -> Option<Pair> {
    let has = |column: &Column| slots.contains(&Slot::Known(*column));
    match Pair::ALL.map(|pair| pair.columns().iter().any(has)) {
        [true, true] => {
            faults.push(Fault::of_cell(row, &Pair::all_names(), "", Pair::ONE));
            None
        }
        [false, true] => Some(Pair::Local),
        [true, false] => Some(Pair::Projected),
        [false, false] => Some(meant(slots)),
    }
}

/// The pair that a header row without either comes nearest to.
fn meant(slots: &[Slot]) -> Pair {
    let is_meant = |column: &Column| {
        let mut names = slots.iter().map(Slot::name);
        names.any(|name| column.is_meant_by(name))
    };
    if Pair::Local.columns().iter().any(is_meant) {
        Pair::Local
    } else {
        Pair::Projected
    }
}

/// A separator of columns that is no comma.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Delimiter(char, &'static str);

impl Delimiter {
    const OTHERS: [Self; 3] = [
        Self(';', "semicolons"),
        Self('\t', "tabs"),
        Self('|', "vertical bars"),
    ];

    /// What separates the columns, if more known names stand between it than between commas.
    pub(super) fn of(names: &[String]) -> Option<Self> {
        let line = names.join(",");
        let known = |delimiter: char| {
            line.split(delimiter)
                .filter(|name| Column::named(name.trim().trim_matches('"')).is_some())
                .count()
        };
        let commas = known(',').max(1);
        Self::OTHERS.into_iter().find(|other| known(other.0) > commas)
    }

    /// What was expected; the first row below the header row tells how numbers are written.
    pub(super) fn expected(self, first_row: &[String]) -> String {
        let Self(delimiter, word) = self;
        let decimal_comma =
            |cell: &str| cell.contains(',') && cell.trim().replacen(',', ".", 1).parse::<f64>().is_ok();
        if first_row.join(",").split(delimiter).any(decimal_comma) {
            format!(
                "columns separated by commas and numbers with a decimal point: this sheet has {word} and decimal commas; set the spreadsheet's language to English (or its decimal separator to a point) and save it as CSV again"
            )
        } else {
            format!("columns separated by commas: this sheet has {word}; save it as CSV with commas")
        }
    }
}

/// The texts of a row's cells; what is no UTF-8 is replaced.
pub(super) fn texts(row: &Row<'_>) -> Vec<String> {
    (0..row.len())
        .map(|no| String::from_utf8_lossy(row.bytes(no)).into_owned())
        .collect()
}

fn slot(name: &str) -> Slot {
    match Column::named(name) {
        Some(column) => Slot::Known(column),
        None if name.is_empty() => Slot::Unnamed,
        None => Slot::Further(name.into()),
    }
}

pub(super) const TWICE: &str = "each column name once; rename or remove one of the columns with this name";

/// What is wrong with the name of a column or property.
pub(super) fn unfit(name: &str) -> Option<&'static str> {
    if name.contains('\0') {
        Some("a name without NUL characters; if every second character is NUL, save the sheet as UTF-8")
    } else if name.contains('\u{FFFD}') {
        Some("a name in UTF-8; save the sheet as CSV UTF-8")
    } else {
        None
    }
}

fn missing(row: u64, column: Column, slots: &[Slot]) -> Fault {
    let name = column.name();
    let meant = slots.iter().find_map(|slot| match slot {
        Slot::Further(further) if column.is_meant_by(further) => Some(&**further),
        _ => None,
    });
    let required = "every sheet needs surface, print and length_m, and either easting_m and northing_m or local_x_m and local_y_m";
    let expected = match meant {
        Some(other) if name.ends_with("_m") => {
            format!("a column {name}, in metres: rename the column {other:?} if that is meant ({required})")
        }
        Some(other) => format!("a column {name}: rename the column {other:?} if that is meant ({required})"),
        None => format!("a column {name}: {required}"),
    };
    Fault::of_cell(row, name, meant.unwrap_or_default(), expected)
}
