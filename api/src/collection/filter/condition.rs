//! What a filter asks: one tree, whichever language it came in.

use geo::Geometry;
use jiff::Timestamp;
use jiff::civil::Date;

/// A condition: true, false or, where something that it needs is not known, neither.
#[derive(Debug, Clone, PartialEq)]
pub enum Condition {
    /// A condition that says itself.
    Always(bool),
    /// Holds where all hold.
    And(Vec<Condition>),
    /// Holds where any holds.
    Or(Vec<Condition>),
    /// Holds where the other does not; where that is not known, this is not either.
    Not(Box<Condition>),
    /// Compares two values of one sort.
    Compare(Comparison, Operand, Operand),
    /// Whether a text fits a pattern, in which `%` stands for any characters and `_` for one.
    Like(Operand, String),
    /// Whether a value is one of a list.
    In(Operand, Vec<Operand>),
    /// Whether a value is not known.
    IsNull(Operand),
    /// Whether the record has no geometry.
    Placeless,
    /// How two geometries lie.
    Spatial(Relation, Place, Place),
}

/// A value in a condition.
#[derive(Debug, Clone, PartialEq)]
pub enum Operand {
    /// A property of the record, by the column's place in the collection's columns.
    Property(usize),
    /// A text.
    Text(String),
    /// A number.
    Number(f64),
    /// True or false.
    Boolean(bool),
    /// A day.
    Day(Date),
    /// An instant.
    Instant(Timestamp),
    /// A property's text without regard to upper and lower case.
    Folded(Box<Operand>),
}

/// A geometry in a condition, x before y, in the filter's CRS.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    /// The record's own.
    Own,
    /// One that was written down.
    Given(Geometry<f64>),
}

/// A way to compare values.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // The names say it.
pub enum Comparison {
    Equal,
    NotEqual,
    Less,
    Greater,
    AtMost,
    AtLeast,
}

impl Comparison {
    /// All, the longer names before those that they start with.
    pub const ALL: [Self; 6] = [
        Self::NotEqual,
        Self::AtMost,
        Self::AtLeast,
        Self::Equal,
        Self::Less,
        Self::Greater,
    ];

    /// Its sign, in both languages.
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Self::Equal => "=",
            Self::NotEqual => "<>",
            Self::Less => "<",
            Self::Greater => ">",
            Self::AtMost => "<=",
            Self::AtLeast => ">=",
        }
    }
}

/// A way in which two geometries lie (OGC 06-103r4, the relations of DE-9IM).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)] // The names are the standard's.
pub enum Relation {
    Intersects,
    Disjoint,
    Equals,
    Touches,
    Crosses,
    Within,
    Contains,
    Overlaps,
}

impl Relation {
    /// All.
    pub const ALL: [Self; 8] = [
        Self::Intersects,
        Self::Disjoint,
        Self::Equals,
        Self::Touches,
        Self::Crosses,
        Self::Within,
        Self::Contains,
        Self::Overlaps,
    ];

    /// The name of its function, in lower case.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Intersects => "s_intersects",
            Self::Disjoint => "s_disjoint",
            Self::Equals => "s_equals",
            Self::Touches => "s_touches",
            Self::Crosses => "s_crosses",
            Self::Within => "s_within",
            Self::Contains => "s_contains",
            Self::Overlaps => "s_overlaps",
        }
    }

    /// The relation of this name, in any case.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL
            .into_iter()
            .find(|relation| relation.name().eq_ignore_ascii_case(name))
    }
}

/// A text without regard to upper and lower case, letter by letter, so that it does not depend on the neighbours.
#[must_use]
pub fn folded(text: &str) -> String {
    text.chars()
        .flat_map(char::to_uppercase)
        .flat_map(char::to_lowercase)
        .collect()
}
