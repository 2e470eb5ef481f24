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

use serde_json::{Map, Value};

/// A feature of an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// Its id, where it is a record or lasts.
    pub id: Option<String>,
    /// Where it is, in the projected CRS of its surface; `None` for what has no place.
    pub geometry: Option<geo::Geometry<f64>>,
    /// What is said of it.
    pub properties: Map<String, Value>,
}

impl Feature {
    /// A feature that is `part` of an answer.
    #[must_use]
    pub fn part(part: &str, geometry: Option<geo::Geometry<f64>>) -> Self {
        let properties = Map::from_iter([("part".to_owned(), Value::from(part))]);
        Self {
            id: None,
            geometry,
            properties,
        }
    }

    /// The same with one more property.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Into<Value>) -> Self {
        self.properties.insert(name.to_owned(), value.into());
        self
    }

    /// The same with an id.
    #[must_use]
    pub fn with_id(mut self, id: impl ToString) -> Self {
        self.id = Some(id.to_string());
        self
    }
}
