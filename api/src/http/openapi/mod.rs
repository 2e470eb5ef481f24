//! `/api`: the definition of the interface, OpenAPI 3.0, made from the lists that the code works by.

mod changes;
mod editing;
mod parameters;
mod paths;
mod processes;

use super::asked::Asked;
use super::media::{HTML, JSON, Media, OPENAPI};
use super::page::Document;
use super::{Problem, Service, Shared, off_thread};
use crate::collection::{Collection, Column};
use crate::feature::Kind;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::{HttpRequest, HttpResponse};
use serde_json::{Map, Value, json};

/// The definition as JSON, or for a reader.
pub async fn api(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let base = asked.base.clone();
    let body = off_thread(&service, move |service| {
        Ok(definition(&base, &crs_uris(service)?))
    })
    .await?;
    if asked.media == Media::Html {
        return Ok(Document::json("The interface", body).respond(&asked));
    }
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, OPENAPI))
        .body(format!("{body}\n")))
}

fn crs_uris(service: &Service) -> Result<Vec<String>, Problem> {
    Ok(super::collections::uris(&*service.catalogue.listing()?))
}

/// The whole document.
pub(super) fn definition(base: &str, crs_uris: &[String]) -> Value {
    json!({
        "openapi": "3.0.3",
        "info": {
            "title": "Stridebed",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "Fossil footprints in projected coordinates: sites, surfaces, extents, prints and trackways \
                            as OGC API Features, and queries that answer in GeoJSON.",
            "license": { "name": "MIT OR Apache-2.0" },
        },
        "servers": [{ "url": base }],
        "tags": [
            { "name": "service", "description": "What the service is and whether it runs" },
            { "name": "features", "description": "The record, by OGC API Features" },
            { "name": "queries", "description": "Questions to a surface" },
            { "name": "processes", "description": "The same questions as processes (OGC API Processes), answered at once or as jobs" },
            { "name": "sheets", "description": "Field sheets in" },
            { "name": "trackways", "description": "Trackways proposed, accepted and rejected" },
        ],
        "paths": paths::all(),
        // Reading needs none; `x-role` says which role a change needs.
        "security": [{}, { "token": [] }],
        "components": {
            "securitySchemes": { "token": {
                "type": "http",
                "scheme": "bearer",
                "description": "A token of this service, or one of its identity provider",
            } },
            "parameters": parameters::shared(crs_uris),
            "schemas": schemas(),
            "responses": { "Problem": {
                "description": "What went wrong, in words that say what to do (RFC 9457)",
                "content": { crate::problem::PROBLEM: { "schema": { "$ref": "#/components/schemas/Problem" } } },
            } },
        },
    })
}

fn schemas() -> Value {
    let mut schemas = Map::new();
    for collection in Collection::ALL {
        schemas.insert(format!("{}Feature", collection.singular()), feature(collection));
    }
    let more = json!({
        "Problem": {
            "type": "object",
            "required": ["type", "title", "status", "detail"],
            "properties": {
                "type": { "type": "string" },
                "title": { "type": "string" },
                "status": { "type": "integer" },
                "detail": { "type": "string" },
                "faults": { "type": "array", "items": { "type": "object" } },
            },
        },
        "Link": {
            "type": "object",
            "required": ["href", "rel"],
            "properties": {
                "href": { "type": "string" },
                "rel": { "type": "string" },
                "type": { "type": "string" },
                "title": { "type": "string" },
            },
        },
        "Geometry": {
            "type": "object",
            "nullable": true,
            "required": ["type", "coordinates"],
            "properties": {
                "type": { "type": "string", "enum": ["Point", "LineString", "Polygon", "MultiPolygon"] },
                "coordinates": { "type": "array", "items": {} },
            },
        },
        "StatusInfo": processes::status_info(),
        "Taken": {
            "type": "object",
            "required": ["added", "changed", "unchanged"],
            "properties": {
                "added": { "type": "integer" },
                "changed": { "type": "integer" },
                "unchanged": { "type": "integer" },
                "surfaces_added": { "type": "integer" },
                "extents": { "type": "object" },
                "trackways": { "type": "object" },
                "surfaces": { "type": "array", "items": { "type": "string" } },
                "azimuths": {
                    "type": "object",
                    "description": "By how much azimuths of another north than the grid's were turned, clockwise positive; the error of the declinations is the model's own",
                    "properties": {
                        "north": { "type": "string" },
                        "turned": { "type": "integer" },
                        "least_turn_deg": { "type": "number", "nullable": true },
                        "greatest_turn_deg": { "type": "number", "nullable": true },
                        "declination_sd_deg": { "type": "number" },
                        "weak_compass": { "type": "integer" },
                    },
                },
            },
        },
    });
    schemas.extend(more.as_object().cloned().unwrap_or_default());
    schemas.into()
}

fn feature(collection: Collection) -> Value {
    let properties: Map<String, Value> = collection
        .columns()
        .iter()
        .map(|column| (column.name.to_owned(), property(column)))
        .collect();
    json!({
        "type": "object",
        "required": ["type", "id", "geometry", "properties"],
        "properties": {
            "type": { "type": "string", "enum": ["Feature"] },
            "id": { "type": "string" },
            "geometry": { "$ref": "#/components/schemas/Geometry" },
            "properties": { "type": "object", "properties": properties },
            "links": { "type": "array", "items": { "$ref": "#/components/schemas/Link" } },
        },
    })
}

fn property(column: &Column) -> Value {
    let mut schema = kind(column.kind);
    schema["nullable"] = json!(true);
    schema["description"] = json!(column.about);
    schema
}

/// The schema of a kind of value.
pub(super) fn kind(kind: Kind) -> Value {
    match kind {
        Kind::Text => json!({ "type": "string" }),
        Kind::Number => json!({ "type": "number" }),
        Kind::Whole => json!({ "type": "integer" }),
        Kind::Day => json!({ "type": "string", "format": "date" }),
        Kind::Json => json!({}),
    }
}

/// An answer of 200 in JSON of some schema, and as a page.
fn readable(description: &str, media: &str, schema: Value) -> Value {
    json!({
        "description": description,
        "content": { media: { "schema": schema }, HTML: { "schema": { "type": "string" } } },
    })
}

/// A JSON document whose parts the standard lays down.
fn document(description: &str) -> Value {
    readable(description, JSON, json!({ "type": "object" }))
}
