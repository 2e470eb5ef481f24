//! The parameters of the interface.

use super::super::items::{MOST, USUAL};
use super::super::media::Media;
use super::kind;
use crate::collection::{Collection, Column, Language};
use serde_json::{Value, json};

/// The parameters that several paths share.
pub(super) fn shared(crs_uris: &[String]) -> Value {
    json!({
        "f": form(Media::READABLE),
        "f-drawn": form(Media::DRAWN),
        "limit": query(
            "limit",
            "How many features a page has at most; a larger number is taken as the greatest",
            json!({ "type": "integer", "minimum": 1, "maximum": MOST, "default": USUAL }),
        ),
        "after": query("after", "The id after which the page starts; links to the next page carry it", json!({ "type": "string" })),
        "bbox": query(
            "bbox",
            "Only features that meet this box: lower corner, upper corner, in the order of the axes of `bbox-crs`. \
             In longitude and latitude a west edge greater than the east edge crosses the antimeridian. Heights are ignored",
            json!({ "type": "array", "minItems": 4, "maxItems": 6, "items": { "type": "number" } }),
        ),
        "bbox-crs": query("bbox-crs", "The CRS of the box; longitude and latitude where there is none", crs(crs_uris)),
        "datetime": query(
            "datetime",
            "Only features of this day, instant or interval (`2026-03-01/..`); features without a time always match",
            json!({ "type": "string" }),
        ),
        "filter": query(
            "filter",
            "Only features for which this condition holds (CQL2, OGC 21-065r2), such as `side = 'left' AND length_m > 0.3`; \
             the collection's queryables say what it can speak of. What is not known does not hold",
            json!({ "type": "string" }),
        ),
        "filter-lang": query(
            "filter-lang",
            "The language of the filter",
            json!({ "type": "string", "enum": Language::ALL.map(Language::name), "default": Language::Text.name() }),
        ),
        "filter-crs": query(
            "filter-crs",
            "The CRS of the filter's coordinates, which stand in the order of its axes; longitude and latitude where there is none",
            crs(crs_uris),
        ),
        "as_of": query(
            "as_of",
            "The record as it was at a time (RFC 3339) or at the end of a day in UTC; who may see what is up to the policies of now",
            json!({ "type": "string" }),
        ),
        "crs": query("crs", "The CRS of the coordinates; longitude and latitude where there is none", crs(crs_uris)),
    })
}

fn form(forms: &[Media]) -> Value {
    let names: Vec<&str> = forms.iter().map(|form| form.name()).collect();
    let about = "The form of the answer; what `Accept` says where there is none";
    query("f", about, json!({ "type": "string", "enum": names }))
}

/// A reference to a shared parameter.
pub(super) fn reference(name: &str) -> Value {
    json!({ "$ref": format!("#/components/parameters/{name}") })
}

/// A filter by each plain property of a collection.
pub(super) fn filters(collection: Collection) -> impl Iterator<Item = Value> {
    let filter = |column: Column| {
        query(
            column.name,
            &format!("Only features with this value. {}", column.about),
            kind(column.kind),
        )
    };
    collection.queryables().map(filter)
}

/// A part of a path.
pub(super) fn path(name: &str, about: &str) -> Value {
    json!({ "name": name, "in": "path", "required": true, "description": about, "schema": { "type": "string" } })
}

/// A parameter of a query string.
pub(super) fn query(name: &str, about: &str, schema: Value) -> Value {
    json!({
        "name": name,
        "in": "query",
        "required": false,
        "description": about,
        "schema": schema,
        "style": "form",
        "explode": false,
    })
}

fn crs(uris: &[String]) -> Value {
    json!({ "type": "string", "format": "uri", "enum": uris })
}
