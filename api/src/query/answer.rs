//! An answer, and its bytes.

use super::Refusal;
use crate::crs::Crs;
use crate::feature::{Feature, OutputCrs};
use geojson::GeometryValue;
use jiff::Timestamp;
use serde::ser::{Serialize, SerializeMap, SerializeSeq, Serializer};
use serde_json::{Map, Value, json};
use std::sync::Arc;

/// How an answer was found, so that others can judge and cite it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Method {
    /// The method's name.
    pub name: &'static str,
    /// The version of the program.
    pub version: &'static str,
    /// Where it is published.
    pub source: &'static str,
}

impl Method {
    /// A method of this version of the program.
    #[must_use]
    pub const fn new(name: &'static str, source: &'static str) -> Self {
        Self {
            name,
            version: env!("CARGO_PKG_VERSION"),
            source,
        }
    }
}

/// Draws what an answer says, as SVG. Drawn only where a door wants it.
pub type Picture = Box<dyn FnOnce() -> String + Send>;

/// What a query found.
pub struct Answer {
    /// The CRS of the features' geometries; `None` where no feature has a place.
    pub crs: Option<Arc<Crs>>,
    /// The features.
    pub features: Vec<Feature>,
    /// How they were found.
    pub method: Method,
    /// On which assumptions that can fail the answer rests; empty where it rests on none.
    pub caution: String,
    /// Its picture, if the query has one.
    pub picture: Option<Picture>,
}

impl Answer {
    /// The bytes of the answer. The same answer gives the same bytes: nothing in it depends on the time.
    pub(super) fn write(
        &self,
        id: &str,
        understood: &Value,
        crs: &OutputCrs,
        as_of: Option<Timestamp>,
    ) -> Result<Vec<u8>, Refusal> {
        let places = self.features.iter().map(|feature| feature.geometry.clone());
        let geometries = match &self.crs {
            Some(own) => crs.geometries(own, &places.collect::<Vec<_>>())?,
            None => vec![None; self.features.len()],
        };
        let mut query = Map::from_iter([("id".to_owned(), json!(id))]);
        query.extend(understood.as_object().cloned().unwrap_or_default());
        query.insert("crs".to_owned(), json!(crs.uri()));
        query.extend(as_of.map(|moment| ("as_of".to_owned(), json!(moment))));
        let mut body = serde_json::to_vec(&Collection {
            answer: self,
            query,
            geometries,
        })?;
        body.push(b'\n');
        Ok(body)
    }
}

struct Collection<'a> {
    answer: &'a Answer,
    query: Map<String, Value>,
    geometries: Vec<Option<GeometryValue>>,
}

impl Serialize for Collection<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("type", "FeatureCollection")?;
        map.serialize_entry("query", &self.query)?;
        map.serialize_entry("method", &self.answer.method)?;
        if !self.answer.caution.is_empty() {
            map.serialize_entry("caution", &self.answer.caution)?;
        }
        map.serialize_entry("features", &Features(self))?;
        map.end()
    }
}

struct Features<'a>(&'a Collection<'a>);

impl Serialize for Features<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let features = &self.0.answer.features;
        let mut list = serializer.serialize_seq(Some(features.len()))?;
        for (feature, geometry) in features.iter().zip(&self.0.geometries) {
            list.serialize_element(&OneFeature { feature, geometry })?;
        }
        list.end()
    }
}

struct OneFeature<'a> {
    feature: &'a Feature,
    geometry: &'a Option<GeometryValue>,
}

impl Serialize for OneFeature<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("type", "Feature")?;
        if let Some(id) = &self.feature.id {
            map.serialize_entry("id", id)?;
        }
        map.serialize_entry("geometry", self.geometry)?;
        map.serialize_entry("properties", &Properties(self.feature))?;
        map.end()
    }
}

struct Properties<'a>(&'a Feature);

impl Serialize for Properties<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let properties = self.0.properties.iter();
        serializer.collect_map(properties.map(|(name, value)| (name, value)))
    }
}
