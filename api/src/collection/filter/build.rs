//! What both languages can say, and what they must not: names that exist, values of one sort.

use super::condition::{Comparison, Condition, Operand, Place, Relation, folded};
use crate::collection::{Collection, Column};
use crate::feature::{Kind, OutputCrs};
use geo::Geometry;
use jiff::Timestamp;
use jiff::civil::Date;

/// The name of the record's geometry in a filter.
pub const GEOMETRY: &str = "geometry";

/// So deep may conditions stand in each other: deep enough for people, too shallow for a stack to overflow.
pub const DEEPEST: usize = 64;

/// What a filter can speak of.
pub struct Vocabulary {
    columns: Vec<Column>,
    /// The CRS of its coordinates.
    pub crs: OutputCrs,
}

/// What stands where a value is expected.
#[derive(Debug, Clone, PartialEq)]
pub enum Term {
    /// A value.
    Value(Operand),
    /// A geometry.
    Place(Place),
}

/// The sorts of values, which cannot be compared with each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sort {
    Text,
    Number,
    Boolean,
    Day,
    Instant,
}

impl Sort {
    fn words(self) -> &'static str {
        match self {
            Self::Text => "a text such as 'left'",
            Self::Number => "a number",
            Self::Boolean => "true or false",
            Self::Day => "a day such as DATE('2026-03-21')",
            Self::Instant => "an instant such as TIMESTAMP('2026-03-21T09:00:00Z')",
        }
    }
}

impl Vocabulary {
    /// What a filter of this collection can speak of, its coordinates in this CRS.
    #[must_use]
    pub fn new(collection: Collection, crs: OutputCrs) -> Self {
        Self::of(collection.columns(), crs)
    }

    /// What a filter of records with these properties can speak of.
    #[must_use]
    pub fn of(columns: Vec<Column>, crs: OutputCrs) -> Self {
        Self { columns, crs }
    }

    /// The property or geometry of this name.
    ///
    /// # Errors
    /// What was expected, with the names that come nearest.
    pub fn named(&self, name: &str) -> Result<Term, String> {
        if name == GEOMETRY {
            return Ok(Term::Place(Place::Own));
        }
        match self.columns.iter().position(|column| column.name == name) {
            Some(place) if self.columns[place].kind == Kind::Json => Err(format!(
                "a property with one plain value, which {name} is not; there are {}",
                self.names().join(", ")
            )),
            Some(place) => Ok(Term::Value(Operand::Property(place))),
            None => Err(self.nearest(name)),
        }
    }

    fn names(&self) -> Vec<&'static str> {
        let columns = self.columns.iter().filter(|column| column.kind != Kind::Json);
        columns.map(|column| column.name).chain([GEOMETRY]).collect()
    }

    fn nearest(&self, name: &str) -> String {
        let short: String = name.chars().take(40).collect();
        let lower = short.to_lowercase();
        let mut names: Vec<(usize, &str)> = self
            .names()
            .into_iter()
            .map(|known| (strsim::osa_distance(&lower, known), known))
            .filter(|(slips, known)| *slips <= 1 + known.len() / 4)
            .collect();
        names.sort_unstable();
        names.truncate(3);
        let (said, names): (_, Vec<&str>) = match names.len() {
            0 => ("there are", self.names()),
            _ => ("nearest are", names.into_iter().map(|(_, name)| name).collect()),
        };
        format!("a property, and there is no {short}; {said} {}", names.join(", "))
    }

    fn sort(&self, operand: &Operand) -> Sort {
        match operand {
            Operand::Property(place) => match self.columns[*place].kind {
                Kind::Number | Kind::Whole => Sort::Number,
                Kind::Day => Sort::Day,
                Kind::Text | Kind::Json => Sort::Text,
            },
            Operand::Text(_) | Operand::Folded(_) => Sort::Text,
            Operand::Number(_) => Sort::Number,
            Operand::Boolean(_) => Sort::Boolean,
            Operand::Day(_) => Sort::Day,
            Operand::Instant(_) => Sort::Instant,
        }
    }

    fn value(&self, term: Term) -> Result<Operand, String> {
        match term {
            Term::Value(operand) => Ok(operand),
            Term::Place(_) => {
                Err("a value; geometries are compared by functions such as S_INTERSECTS".to_owned())
            }
        }
    }

    /// Two values of the same sort.
    fn same(&self, one: &Operand, other: Term) -> Result<Operand, String> {
        let other = self.value(other)?;
        let sort = self.sort(one);
        if self.sort(&other) == sort {
            Ok(other)
        } else {
            Err(format!("{}, to compare {} with", sort.words(), self.said(one)))
        }
    }

    fn said(&self, operand: &Operand) -> &str {
        match operand {
            Operand::Property(place) => self.columns[*place].name,
            Operand::Folded(inner) => self.said(inner),
            _ => "the value",
        }
    }

    /// A comparison.
    ///
    /// # Errors
    /// What was expected, when the values are of different sorts.
    pub fn compare(&self, how: Comparison, left: Term, right: Term) -> Result<Condition, String> {
        let left = self.value(left)?;
        let right = self.same(&left, right)?;
        Ok(Condition::Compare(how, left, right))
    }

    /// Whether a value lies between two others or is one of them.
    ///
    /// # Errors
    /// As [`Self::compare`].
    pub fn between(&self, value: Term, least: Term, greatest: Term) -> Result<Condition, String> {
        let value = self.value(value)?;
        let least = self.same(&value, least)?;
        let greatest = self.same(&value, greatest)?;
        Ok(Condition::And(vec![
            Condition::Compare(Comparison::AtLeast, value.clone(), least),
            Condition::Compare(Comparison::AtMost, value, greatest),
        ]))
    }

    /// Whether a value is one of a list.
    ///
    /// # Errors
    /// As [`Self::compare`], or when the list is empty.
    pub fn one_of(&self, value: Term, list: Vec<Term>) -> Result<Condition, String> {
        let value = self.value(value)?;
        if list.is_empty() {
            return Err("a list of one value or more".to_owned());
        }
        let list = list.into_iter().map(|term| self.same(&value, term));
        let list = list.collect::<Result<Vec<Operand>, String>>()?;
        Ok(Condition::In(value, list))
    }

    /// Whether a text fits a pattern.
    ///
    /// # Errors
    /// What was expected, when either is no text or the pattern is not written down.
    pub fn like(&self, value: Term, pattern: Term) -> Result<Condition, String> {
        let value = self.value(value)?;
        if self.sort(&value) != Sort::Text {
            return Err(format!("a text before LIKE, which {} is not", self.said(&value)));
        }
        match self.value(pattern)? {
            Operand::Text(pattern) => Ok(Condition::Like(value, pattern)),
            _ => Err("a pattern such as 'long%' after LIKE".to_owned()),
        }
    }

    /// Whether something is not known.
    #[must_use]
    pub fn is_null(&self, term: Term) -> Condition {
        match term {
            Term::Value(operand) => Condition::IsNull(operand),
            Term::Place(Place::Own) => Condition::Placeless,
            Term::Place(Place::Given(_)) => Condition::Always(false),
        }
    }

    /// How two geometries lie.
    ///
    /// # Errors
    /// What was expected, when either is no geometry or the relation is not defined for it.
    pub fn spatial(&self, relation: Relation, one: Term, other: Term) -> Result<Condition, String> {
        let place = |term: Term| match term {
            Term::Place(Place::Given(Geometry::GeometryCollection(_)))
                if !matches!(relation, Relation::Intersects | Relation::Disjoint) =>
            {
                Err("a geometry of one kind: collections go with S_INTERSECTS and S_DISJOINT only".to_owned())
            }
            Term::Place(place) => Ok(place),
            Term::Value(_) => Err(format!("{GEOMETRY}, or a geometry such as POINT(-3.68 43.46)")),
        };
        Ok(Condition::Spatial(relation, place(one)?, place(other)?))
    }

    /// A text without regard to upper and lower case.
    ///
    /// # Errors
    /// What was expected, when it is no text.
    pub fn folded(&self, term: Term) -> Result<Term, String> {
        let operand = self.value(term)?;
        match operand {
            Operand::Text(text) => Ok(Term::Value(Operand::Text(folded(&text)))),
            Operand::Folded(_) => Ok(Term::Value(operand)),
            other if self.sort(&other) == Sort::Text => Ok(Term::Value(Operand::Folded(other.into()))),
            other => Err(format!("a text, which {} is not", self.said(&other))),
        }
    }
}

/// A number that was written down.
#[must_use]
pub fn number(number: f64) -> Term {
    Term::Value(Operand::Number(number))
}

/// A day that was written down.
///
/// # Errors
/// What was expected.
pub fn day(text: &str) -> Result<Term, String> {
    let day: Option<Date> = text.parse().ok().filter(|day: &Date| day.to_string() == text);
    let day = day.ok_or("a day such as '2026-03-21'")?;
    Ok(Term::Value(Operand::Day(day)))
}

/// An instant that was written down.
///
/// # Errors
/// What was expected.
pub fn instant(text: &str) -> Result<Term, String> {
    let instant: Option<Timestamp> = text.parse().ok();
    let instant = instant.ok_or("an instant such as '2026-03-21T09:00:00Z'")?;
    Ok(Term::Value(Operand::Instant(instant)))
}
