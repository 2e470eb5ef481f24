//! Whether a condition holds for a record, by the three-valued logic of SQL: `None` is "not known".

use super::condition::{Comparison, Condition, Operand, Place, Relation, folded};
use crate::feature::Cell;
use geo::{BoundingRect, Geometry, Intersects, Relate};
use jiff::Timestamp;
use jiff::civil::Date;
use std::borrow::Cow;
use std::cmp::Ordering;

/// A record as conditions see it.
pub trait Record {
    /// The value of the property at this place of the collection's columns.
    fn cell(&self, column: usize) -> Cell<'_>;
    /// The geometry in the filter's CRS, x before y; `None` where it has none, or none there.
    fn place(&self) -> Option<&Geometry<f64>>;
}

/// A value that is known.
#[derive(Debug, Clone, PartialEq)]
enum Known<'a> {
    Text(Cow<'a, str>),
    Number(f64),
    Boolean(bool),
    Day(Date),
    Instant(Timestamp),
}

impl Condition {
    /// Whether this holds for a record; `None` where something that it needs is not known.
    #[must_use]
    pub fn holds(&self, record: &dyn Record) -> Option<bool> {
        match self {
            Self::Always(holds) => Some(*holds),
            Self::And(all) => decided(all, false, record),
            Self::Or(all) => decided(all, true, record),
            Self::Not(inner) => inner.holds(record).map(|holds| !holds),
            Self::Compare(how, left, right) => {
                let order = order(&left.known(record)?, &right.known(record)?)?;
                Some(how.allows(order))
            }
            Self::Like(value, pattern) => match value.known(record)? {
                Known::Text(text) => Some(fits(&text, pattern)),
                _ => None,
            },
            Self::In(value, list) => {
                let value = value.known(record)?;
                let is = |other: &Operand| Some(order(&value, &other.known(record)?)? == Ordering::Equal);
                first_of(list.iter().map(is), true)
            }
            Self::IsNull(operand) => Some(operand.known(record).is_none()),
            Self::Placeless => Some(record.place().is_none()),
            Self::Spatial(relation, one, other) => Some(relation.holds(one.of(record)?, other.of(record)?)),
        }
    }
}

/// What AND (decided by the first false) or OR (by the first true) make of conditions.
fn decided(all: &[Condition], by: bool, record: &dyn Record) -> Option<bool> {
    first_of(all.iter().map(|condition| condition.holds(record)), by)
}

fn first_of(all: impl Iterator<Item = Option<bool>>, by: bool) -> Option<bool> {
    let mut unknown = false;
    for holds in all {
        match holds {
            Some(holds) if holds == by => return Some(by),
            None => unknown = true,
            Some(_) => {}
        }
    }
    if unknown { None } else { Some(!by) }
}

impl Operand {
    fn known<'a>(&'a self, record: &'a dyn Record) -> Option<Known<'a>> {
        match self {
            Self::Property(column) => match record.cell(*column) {
                Cell::Unknown | Cell::Json(_) => None,
                Cell::Text(text) => Some(Known::Text(text)),
                Cell::Number(number) => Some(Known::Number(number)),
                // Counts and revisions stay far below 2^53.
                Cell::Whole(number) => Some(Known::Number(number as f64)),
                Cell::Day(day) => Some(Known::Day(day)),
            },
            Self::Text(text) => Some(Known::Text(text.into())),
            Self::Number(number) => Some(Known::Number(*number)),
            Self::Boolean(value) => Some(Known::Boolean(*value)),
            Self::Day(day) => Some(Known::Day(*day)),
            Self::Instant(instant) => Some(Known::Instant(*instant)),
            Self::Folded(inner) => match inner.known(record)? {
                Known::Text(text) => Some(Known::Text(folded(&text).into())),
                other => Some(other),
            },
        }
    }
}

/// The order of two values of one sort; texts by their code points.
fn order(one: &Known, other: &Known) -> Option<Ordering> {
    match (one, other) {
        (Known::Text(one), Known::Text(other)) => Some(one.cmp(other)),
        (Known::Number(one), Known::Number(other)) => one.partial_cmp(other),
        (Known::Boolean(one), Known::Boolean(other)) => Some(one.cmp(other)),
        (Known::Day(one), Known::Day(other)) => Some(one.cmp(other)),
        (Known::Instant(one), Known::Instant(other)) => Some(one.cmp(other)),
        _ => None,
    }
}

impl Comparison {
    fn allows(self, order: Ordering) -> bool {
        match self {
            Self::Equal => order.is_eq(),
            Self::NotEqual => order.is_ne(),
            Self::Less => order.is_lt(),
            Self::Greater => order.is_gt(),
            Self::AtMost => order.is_le(),
            Self::AtLeast => order.is_ge(),
        }
    }
}

/// Whether a text fits a pattern of `%` (any characters), `_` (one) and `\` (the next as it is). Goes back to the
/// last `%` only, so that the time grows with the product of the lengths and not beyond.
fn fits(text: &str, pattern: &str) -> bool {
    let text: Vec<char> = text.chars().collect();
    let pattern = pieces(pattern);
    let (mut at, mut piece) = (0, 0);
    let mut any: Option<(usize, usize)> = None;
    while at < text.len() {
        match pattern.get(piece) {
            Some(Piece::Any) => {
                any = Some((at, piece));
                piece += 1;
            }
            Some(Piece::One) => (at, piece) = (at + 1, piece + 1),
            Some(Piece::Letter(letter)) if *letter == text[at] => (at, piece) = (at + 1, piece + 1),
            _ => match &mut any {
                Some((from, wildcard)) => {
                    *from += 1;
                    (at, piece) = (*from, *wildcard + 1);
                }
                None => return false,
            },
        }
    }
    pattern[piece..].iter().all(|piece| *piece == Piece::Any)
}

#[derive(Debug, PartialEq, Eq)]
enum Piece {
    Any,
    One,
    Letter(char),
}

fn pieces(pattern: &str) -> Vec<Piece> {
    let mut letters = pattern.chars();
    let mut pieces = Vec::new();
    while let Some(letter) = letters.next() {
        pieces.push(match letter {
            '%' => Piece::Any,
            '_' => Piece::One,
            '\\' => Piece::Letter(letters.next().unwrap_or('\\')),
            letter => Piece::Letter(letter),
        });
    }
    pieces
}

impl Place {
    fn of<'a>(&'a self, record: &'a dyn Record) -> Option<&'a Geometry<f64>> {
        match self {
            Self::Own => record.place(),
            Self::Given(geometry) => Some(geometry),
        }
    }
}

impl Relation {
    fn holds(self, one: &Geometry<f64>, other: &Geometry<f64>) -> bool {
        let [Some(around_one), Some(around_other)] = [one.bounding_rect(), other.bounding_rect()] else {
            return self == Self::Disjoint;
        };
        // Boxes that lie apart decide everything, and most records lie apart from most places.
        if !around_one.intersects(&around_other) {
            return self == Self::Disjoint;
        }
        match self {
            Self::Intersects => one.intersects(other),
            Self::Disjoint => !one.intersects(other),
            Self::Equals => one.relate(other).is_equal_topo(),
            Self::Touches => one.relate(other).is_touches(),
            Self::Crosses => one.relate(other).is_crosses(),
            Self::Within => one.relate(other).is_within(),
            Self::Contains => one.relate(other).is_contains(),
            Self::Overlaps => one.relate(other).is_overlaps(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::fits;

    #[test]
    fn patterns_of_any_and_one_character() {
        for (text, pattern, expected) in [
            ("", "", true),
            ("", "%", true),
            ("", "_", false),
            ("abc", "abc", true),
            ("abc", "a_c", true),
            ("abc", "a%", true),
            ("abc", "%c", true),
            ("abc", "%b%", true),
            ("abc", "_", false),
            ("abc", "ABC", false),
            ("aXbXc", "a%X%c", true),
            ("abab", "%ab", true),
            ("københavn", "k_benhavn", true),
            ("50%", r"50\%", true),
            ("500", r"50\%", false),
            ("a_c", r"a\_c", true),
            ("abc", r"a\_c", false),
            (r"a\", r"a\", true),
            (r"a\b", r"a\\b", true),
        ] {
            assert_eq!(fits(text, pattern), expected, "{text:?} LIKE {pattern:?}");
        }
        assert!(!fits(&"a".repeat(20_000), &format!("{}b", "%a".repeat(500))));
    }
}
