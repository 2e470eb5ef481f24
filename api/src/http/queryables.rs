//! `/collections/{collection}/queryables`: what a filter of a collection can speak of, as a JSON Schema.

use super::asked::Asked;
use super::collections::find;
use super::link::{Link, link};
use super::media::{HTML, SCHEMA};
use super::openapi::kind;
use super::page::Document;
use super::{Problem, Shared};
use crate::collection::{Collection, GEOMETRY};
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use serde_json::{Map, Value, json};

/// The relation of the link from a collection.
const REL: &str = "http://www.opengis.net/def/rel/ogc/1.0/queryables";

/// The properties that a collection can be filtered by.
pub async fn queryables(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let collection = find(&path)?;
    let place = json!({
        "description": "Where the feature is",
        "format": format!("geometry-{}", collection.geometry()),
    });
    let mut properties = Map::from_iter([(GEOMETRY.to_owned(), place)]);
    properties.extend(collection.queryables().map(|column| {
        let mut schema = kind(column.kind);
        schema["description"] = json!(column.about);
        (column.name.to_owned(), schema)
    }));
    let body = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": format!("{}{}", asked.base, at(collection)),
        "type": "object",
        "title": collection.title(),
        "description": format!("What a filter of {} can speak of.", collection.title()),
        "properties": Value::from(properties),
        "additionalProperties": false,
    });
    Ok(Document::schema(collection.title(), body).respond(&asked))
}

/// The links from a collection to what it can be filtered by.
pub(super) fn links(collection: Collection, base: &str) -> [Link; 2] {
    let to = |form: &str, media: &'static str, title: &'static str| {
        link(base, &format!("{}?f={form}", at(collection)), REL, media, title)
    };
    [
        to("json", SCHEMA, "What it can be filtered by, as a JSON Schema"),
        to("html", HTML, "What it can be filtered by, for a browser"),
    ]
}

fn at(collection: Collection) -> String {
    format!("/collections/{}/queryables", collection.id())
}
