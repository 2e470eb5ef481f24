//! What changes single records: OGC API Features Part 4.

use super::super::media::{GEOJSON, JSON};
use super::parameters::path;
use super::paths::{ROLE, feature, responses};
use crate::access::Role;
use crate::collection::Collection;
use serde_json::{Value, json};

/// Adds what changes the records of a collection to what reads them.
pub(super) fn add(collection: Collection, items: &mut Value, item: &mut Value) {
    let one = collection.singular();
    let id = |verb: &str| format!("{}-{verb}", collection.id());
    let (makes, changes) = match collection {
        Collection::Sites => (Role::Admin, Role::Steward),
        _ => (Role::Contributor, Role::Contributor),
    };
    items["post"] = json!({
        "operationId": id("create"),
        "tags": ["features"],
        "summary": format!("Makes a {one}"),
        ROLE: makes.name(),
        "parameters": [header("Idempotency-Key", false, "Whoever asks a second time with the same key is answered as the first time; kept for two days"), content_crs()],
        "requestBody": body(collection, "A feature as the service writes it: its properties name it and what it is on"),
        "responses": made(collection),
    });
    let parameters = || vec![path("id", "The record's id"), if_match(), content_crs()];
    item["put"] = json!({
        "operationId": id("replace"),
        "tags": ["features"],
        "summary": format!("Replaces a {one}; what is left out is unknown then{}", if collection == Collection::Sites { ", but for the policy, which stays" } else { "" }),
        ROLE: changes.name(),
        "parameters": parameters(),
        "requestBody": body(collection, "The feature; what follows from others (counts, revision) is left aside"),
        "responses": responses(feature(collection), &["400", "404", "405", "409", "412", "413", "415", "428", "500", "503", "507"]),
    });
    let patch = json!({ "schema": { "type": "object" } });
    item["patch"] = json!({
        "operationId": id("update"),
        "tags": ["features"],
        "summary": format!("Changes some properties of a {one}"),
        ROLE: changes.name(),
        "parameters": parameters(),
        "requestBody": {
            "required": true,
            "description": "What is other (RFC 7396): properties that are named, null for those that are unknown now; a geometry",
            "content": { "application/merge-patch+json": patch, JSON: patch, GEOJSON: patch },
        },
        "responses": responses(feature(collection), &["400", "404", "405", "409", "412", "413", "415", "428", "500", "503", "507"]),
    });
    if matches!(collection, Collection::Sites | Collection::Surfaces) {
        return;
    }
    let mut gone = responses(
        json!({}),
        &["400", "404", "405", "409", "412", "428", "500", "503", "507"],
    );
    let gone_well = gone.as_object_mut().and_then(|gone| gone.remove("200"));
    debug_assert!(gone_well.is_some());
    gone["204"] = json!({ "description": "It is removed; its history stays" });
    item["delete"] = json!({
        "operationId": id("remove"),
        "tags": ["features"],
        "summary": format!("Removes a {one}"),
        ROLE: changes.name(),
        "parameters": [path("id", "The record's id"), if_match()],
        "responses": gone,
    });
}

fn body(collection: Collection, about: &str) -> Value {
    let schema = json!({ "$ref": format!("#/components/schemas/{}Feature", collection.singular()) });
    json!({
        "required": true,
        "description": about,
        "content": { GEOJSON: { "schema": schema }, JSON: { "schema": schema } },
    })
}

fn made(collection: Collection) -> Value {
    let mut answers = responses(
        json!({}),
        &[
            "400", "404", "405", "409", "413", "415", "422", "500", "503", "507",
        ],
    );
    if let Some(answers) = answers.as_object_mut() {
        answers.remove("200");
    }
    let mut made = feature(collection);
    made["description"] = json!("It is made");
    made["headers"]["Location"] = json!({ "description": "Where it is", "schema": { "type": "string" } });
    answers["201"] = made;
    answers
}

pub(super) fn if_match() -> Value {
    header(
        "If-Match",
        true,
        "The ETag of the record as it was seen, or several of them, or *",
    )
}

fn content_crs() -> Value {
    header(
        "Content-Crs",
        false,
        "The CRS of the body's coordinates, as <URI>; longitude and latitude where there is none",
    )
}

fn header(name: &str, required: bool, about: &str) -> Value {
    json!({ "name": name, "in": "header", "required": required, "description": about, "schema": { "type": "string" } })
}
