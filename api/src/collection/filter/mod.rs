//! Filters in CQL2 (OGC 21-065r2): read from text or JSON into one tree, asked of each record as it is.
//!
//! Nothing of a filter goes into a database's language. The depth and the length of what is read are limited, so
//! that no filter can use up the stack.

mod build;
mod condition;
mod evaluate;
mod json;
mod reach;
mod scan;
mod shape;
#[cfg(test)]
mod tests;
mod text;

pub use build::GEOMETRY;

use super::{Bbox, Collection, Member};
use crate::crs::CrsFault;
use crate::feature::{Cell, OutputCrs};
use build::Vocabulary;
use condition::Condition;
use evaluate::Record;
use geo::Geometry;

/// So long may a filter be, bytes.
const LONGEST: usize = 16 * 1024;

/// The languages of filters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Language {
    /// CQL2 text.
    Text,
    /// CQL2 JSON.
    Json,
}

impl Language {
    /// All, the usual one first.
    pub const ALL: [Self; 2] = [Self::Text, Self::Json];

    /// Its name in `filter-lang`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Text => "cql2-text",
            Self::Json => "cql2-json",
        }
    }
}

/// Why a text is no filter.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("at {place}: expected {expected}")]
pub struct Fault {
    /// Where: a character of a text, or a JSON Pointer.
    place: String,
    /// What was expected there.
    expected: String,
}

impl Fault {
    fn new(place: impl Into<String>, expected: impl Into<String>) -> Self {
        Self {
            place: place.into(),
            expected: expected.into(),
        }
    }
}

/// A filter of one collection's records.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter {
    condition: Condition,
    crs: OutputCrs,
    reach: Option<Bbox>,
}

impl Filter {
    /// Reads a filter whose coordinates are of this CRS, in the order of its axes.
    ///
    /// # Errors
    /// Where the text is no filter, and what was expected there.
    pub fn parse(
        text: &str,
        language: Language,
        collection: Collection,
        crs: OutputCrs,
    ) -> Result<Self, Fault> {
        if text.len() > LONGEST {
            let end = format!("byte {LONGEST}");
            return Err(Fault::new(end, "the end: a filter has at most so many bytes"));
        }
        let words = Vocabulary::new(collection, crs.clone());
        let condition = match language {
            Language::Text => text::read(text, &words)?,
            Language::Json => json::read(text, &words)?,
        };
        let reach = reach::reach(&condition, &crs);
        Ok(Self {
            condition,
            crs,
            reach,
        })
    }

    /// A box outside of which no record can be selected, where the filter sets one.
    #[must_use]
    pub fn reach(&self) -> Option<&Bbox> {
        self.reach.as_ref()
    }

    /// Whether the filter takes a record: what is not known is not taken.
    ///
    /// # Errors
    /// When the CRS database cannot be read.
    pub fn takes(&self, member: &Member) -> Result<bool, CrsFault> {
        let place = if self.condition.asks_for_place() {
            placed(member, &self.crs)?
        } else {
            None
        };
        Ok(self.condition.holds(&Seen { member, place }) == Some(true))
    }
}

/// A record's geometry where answers in this CRS say that it is, x before y, so that what was read in one answer
/// can be asked for in the next. `None` also where the CRS is not defined at the record's place.
fn placed(member: &Member, crs: &OutputCrs) -> Result<Option<Geometry<f64>>, CrsFault> {
    match member.place(crs) {
        Ok(place) => Ok(place.map(|place| crs.rounded(&place))),
        Err(CrsFault::NotTransformed(_)) => Ok(None),
        Err(fault) => Err(fault),
    }
}

struct Seen<'a> {
    member: &'a Member,
    place: Option<Geometry<f64>>,
}

impl Record for Seen<'_> {
    fn cell(&self, column: usize) -> Cell<'_> {
        self.member.cell(column)
    }

    fn place(&self) -> Option<&Geometry<f64>> {
        self.place.as_ref()
    }
}
