//! One value of one property.

use jiff::civil::Date;
use serde::{Serialize, Serializer};
use serde_json::Value;
use std::borrow::Cow;

/// One value of one property, borrowed from its record where that is possible.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell<'a> {
    /// Nobody knows; `null`.
    Unknown,
    /// A text.
    Text(Cow<'a, str>),
    /// A number.
    Number(f64),
    /// A whole number.
    Whole(i64),
    /// A day.
    Day(Date),
    /// Anything with parts.
    Json(Value),
}

impl<'a> Cell<'a> {
    /// A text that may be unknown.
    pub fn text(text: Option<&'a str>) -> Self {
        text.map_or(Self::Unknown, |text| Self::Text(text.into()))
    }

    /// A number that may be unknown.
    #[must_use]
    pub fn number(number: Option<f64>) -> Self {
        number.map_or(Self::Unknown, Self::Number)
    }

    /// A whole number that may be unknown.
    pub fn whole(number: Option<impl Into<i64>>) -> Self {
        number.map_or(Self::Unknown, |number| Self::Whole(number.into()))
    }

    /// A day that may be unknown.
    #[must_use]
    pub fn day(day: Option<Date>) -> Self {
        day.map_or(Self::Unknown, Self::Day)
    }

    /// Whether this is the value that somebody wrote as `text`; what is unknown equals nothing.
    #[must_use]
    pub fn is(&self, text: &str) -> bool {
        match self {
            Self::Unknown | Self::Json(_) => false,
            Self::Text(own) => own == text,
            Self::Number(own) => text.parse::<f64>().is_ok_and(|number| number == *own),
            Self::Whole(own) => text.parse::<i64>().is_ok_and(|number| number == *own),
            Self::Day(own) => text.parse::<Date>().is_ok_and(|day| day == *own),
        }
    }
}

impl Serialize for Cell<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Unknown => serializer.serialize_unit(),
            Self::Text(text) => serializer.serialize_str(text),
            Self::Number(number) => serializer.serialize_f64(*number),
            Self::Whole(number) => serializer.serialize_i64(*number),
            Self::Day(day) => serializer.collect_str(day),
            Self::Json(value) => value.serialize(serializer),
        }
    }
}
