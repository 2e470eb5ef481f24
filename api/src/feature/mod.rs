//! The one writer of features: GeoJSON from records and from answers.
//!
//! Inside the program a feature's geometry is in its site's projected CRS. It is written in
//! longitude and latitude with 9 decimals, or in a CRS that the asker names with 4, its axes in the
//! order of that CRS's authority.

mod cell;
mod fields;
mod output;

pub use cell::Cell;
pub use fields::{EXTENT, Field, Kind, PRINT, SITE, SURFACE, Scope, SiteRow, TRACKWAY, midline, path};
pub use output::{OutputCrs, Written};

use serde::Serialize;
use serde_json::{Map, Value};
use std::borrow::Cow;

/// A feature of an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// Its id, where it is a record or lasts.
    pub id: Option<String>,
    /// Where it is, in the projected CRS of its surface; `None` for what has no place.
    pub geometry: Option<geo::Geometry<f64>>,
    /// What is said of it, each by its name and in this order. Answers are made of many small features: a table to find a name
    /// again would cost more than all else of them.
    pub properties: Vec<(Cow<'static, str>, Value)>,
}

impl Feature {
    /// A feature that is `part` of an answer.
    #[must_use]
    pub fn part(part: &str, geometry: Option<geo::Geometry<f64>>) -> Self {
        Self {
            id: None,
            geometry,
            properties: vec![("part".into(), part.into())],
        }
    }

    /// The same with one more property, or with another value of one that it has.
    #[must_use]
    pub fn with(mut self, name: impl Into<Cow<'static, str>>, value: impl Into<Value>) -> Self {
        let (name, value) = (name.into(), value.into());
        match self.properties.iter_mut().find(|(own, _)| *own == name) {
            Some((_, own)) => *own = value,
            None => self.properties.push((name, value)),
        }
        self
    }

    /// The same with all that something tells as further properties; nothing tells none.
    #[must_use]
    pub fn telling(self, told: &impl Serialize) -> Self {
        match serde_json::to_value(told) {
            Ok(Value::Object(told)) => self.with_all(told),
            _ => self,
        }
    }

    /// The same with these properties, too.
    #[must_use]
    pub fn with_all(self, told: Map<String, Value>) -> Self {
        told.into_iter()
            .fold(self, |feature, (name, value)| feature.with(name, value))
    }

    /// The same with an id.
    #[must_use]
    pub fn with_id(mut self, id: impl ToString) -> Self {
        self.id = Some(id.to_string());
        self
    }
}

/// Whether two features, as they are written, are the same part of an answer and tell the same things: then a
/// reader wants them in one table.
#[must_use]
pub fn same_kind(one: &Value, other: &Value) -> bool {
    let [one, other] = [one, other].map(|feature| &feature["properties"]);
    let names = |properties: &Value| -> Vec<String> {
        properties
            .as_object()
            .into_iter()
            .flat_map(Map::keys)
            .cloned()
            .collect()
    };
    one["part"] == other["part"] && names(one) == names(other)
}
