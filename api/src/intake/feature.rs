//! The parts of one GeoJSON feature.

use super::column::Column;
use super::form::Cells;
use super::header;
use super::words::Words;
use super::{Fault, Faults};
use geojson::GeometryValue;
use serde_json::{Map, Value};
use std::borrow::Cow;
use std::sync::Arc;

/// A feature, its number, its geometry and its properties.
pub(super) struct Feature {
    /// Its number in the document, counted from 1.
    pub(super) no: u64,
    /// Its geometry, if it has one.
    pub(super) geometry: Option<GeometryValue>,
    /// Its properties.
    pub(super) properties: Map<String, Value>,
}

impl Feature {
    /// Takes a JSON value apart.
    ///
    /// # Errors
    /// A fault where it is no feature.
    pub(super) fn new(no: u64, value: Value) -> Result<Self, Fault> {
        let Value::Object(mut members) = value else {
            return Err(Fault::of_row(no, "a Feature"));
        };
        let properties = match members.remove("properties") {
            Some(Value::Object(properties)) if members.get("type") == Some(&"Feature".into()) => properties,
            _ => return Err(Fault::of_row(no, "a Feature with properties")),
        };
        let geometry = match members.remove("geometry") {
            None | Some(Value::Null) => None,
            Some(geometry) => Some(serde_json::from_value::<geojson::Geometry>(geometry).map_err(
                |error| Fault::of_cell(no, "geometry", "", format!("a GeoJSON geometry: {error}")),
            )?),
        };
        Ok(Self {
            no,
            geometry: geometry.map(|geometry| geometry.value),
            properties,
        })
    }

    /// Whether it is an extent: it has a label as one, or an area.
    pub(super) fn is_extent(&self) -> bool {
        let labelled = self
            .properties
            .get("extent")
            .is_some_and(|label| !label.is_null());
        let area = matches!(
            self.geometry,
            Some(GeometryValue::Polygon { .. } | GeometryValue::MultiPolygon { .. })
        );
        labelled || area
    }

    /// A property as the text of a cell; empty where it is unknown.
    pub(super) fn text(&self, name: &str) -> Cow<'_, str> {
        self.properties.get(name).map(text).unwrap_or_default()
    }

    /// The texts of the known columns.
    pub(super) fn texts(&self) -> [Cow<'_, str>; Column::COUNT] {
        std::array::from_fn(|no| self.text(Column::ALL[no].name()))
    }

    /// The properties that the record does not know, in the order of names; numbers and nested
    /// values as their JSON text.
    pub(super) fn further(&self, words: &mut Words) -> Vec<(Arc<str>, String)> {
        let mut further: Vec<_> = self
            .properties
            .iter()
            .filter(|(name, _)| Column::named(name).is_none())
            .map(|(name, value)| (words.share(name), text(value).into_owned()))
            .filter(|(_, value)| !value.is_empty())
            .collect();
        further.sort_unstable();
        further
    }

    /// Whether every name and value can be kept; the faults are noted.
    pub(super) fn is_sound(&self, faults: &mut Faults) -> bool {
        let before = faults.total;
        for (name, value) in &self.properties {
            let expected = if name.trim() != name || name.is_empty() {
                Some("a property name without spaces around it")
            } else if text(value).contains('\0') {
                Some("text without NUL characters")
            } else {
                header::unfit(name)
            };
            if let Some(expected) = expected {
                faults.push(Fault::of_cell(self.no, name, &text(value), expected));
            }
        }
        faults.total == before
    }
}

/// Cells that borrow the texts.
pub(super) fn cells<'t>(texts: &'t [Cow<'_, str>; Column::COUNT]) -> Cells<'t> {
    std::array::from_fn(|no| &*texts[no])
}

fn text(value: &Value) -> Cow<'_, str> {
    match value {
        Value::Null => Cow::Borrowed(""),
        Value::String(text) => Cow::Borrowed(text),
        other => Cow::Owned(other.to_string()),
    }
}
