//! The paths that change the record.

use super::super::media::{CSV, GEOJSON, JSON};
use super::editing::if_match;
use super::parameters::{path, query};
use super::paths::{ROLE, responses};
use crate::access::Role;
use crate::intake::North;
use serde_json::{Map, Value, json};

/// Every path that takes a change.
pub(super) fn all() -> Map<String, Value> {
    let judge = |id: &str, summary: &str| json!({ "post": judge(id, summary) });
    let paths = [
        ("/sites/{site}/imports", json!({ "post": imports() })),
        ("/surfaces/{surface}/proposals", json!({ "post": proposals() })),
        (
            "/trackways/{trackway}/accept",
            judge(
                "accept",
                "Accepts a trackway: it stands, and no later proposal takes its prints",
            ),
        ),
        (
            "/trackways/{trackway}/reject",
            judge(
                "reject",
                "Rejects a trackway: it is kept with its history, and not proposed again",
            ),
        ),
    ];
    paths
        .into_iter()
        .map(|(path, operations)| (path.to_owned(), operations))
        .collect()
}

/// What a sheet must have.
const SHEET: &str = "A row or Point a print: surface, print, length_m, and either easting_m and northing_m in the site's CRS or local_x_m and local_y_m in its local grid. In GeoJSON the geometry serves as well, and Polygons are extents.";

fn imports() -> Value {
    let north = query(
        "north",
        "The north that the sheet's azimuths are counted from; they are turned to grid north, each at its own print",
        json!({ "type": "string", "enum": North::NAMES, "default": North::default().name() }),
    );
    let surveyed_on = query(
        "surveyed_on",
        "With magnetic north, the day of the survey for prints without `observed_on`; the model covers 2020 to 2029",
        json!({ "type": "string", "format": "date" }),
    );
    let sheet = json!({ "schema": { "type": "string" } });
    let answer = json!({
        "description": "What the sheet added, changed and left alone",
        "content": { JSON: { "schema": { "$ref": "#/components/schemas/Taken" } } },
    });
    json!({
        "operationId": "import",
        ROLE: Role::Contributor.name(),
        "tags": ["sheets"],
        "summary": "Takes a field sheet, whole or not at all",
        "parameters": [path("site", "The site's slug"), north, surveyed_on],
        "requestBody": { "required": true, "description": SHEET, "content": { CSV: sheet, GEOJSON: { "schema": { "type": "object" } } } },
        "responses": responses(answer, &["400", "404", "405", "413", "415", "500", "503", "507"]),
    })
}

fn proposals() -> Value {
    let seed = query(
        "seed",
        "The seed of the random draws behind the probabilities",
        json!({ "type": "integer", "minimum": 0, "default": 1 }),
    );
    let answer = json!({
        "description": "How many proposals were added, changed and left alone",
        "content": { JSON: { "schema": { "type": "object" } } },
    });
    json!({
        "operationId": "propose",
        ROLE: Role::Contributor.name(),
        "tags": ["trackways"],
        "summary": "Groups the prints of a surface, and keeps what is new as proposed trackways",
        "parameters": [path("surface", "The surface's id, as in gannet-ledge:S2"), seed],
        "responses": responses(answer, &["400", "404", "405", "500", "503", "507"]),
    })
}

fn judge(id: &str, summary: &str) -> Value {
    let answer = json!({
        "description": "The trackway as it stands now; where it comes from and how probable it was held to be stay with it",
        "headers": { "ETag": { "description": "Its new revision", "schema": { "type": "string" } } },
        "content": { JSON: { "schema": { "type": "object" } } },
    });
    json!({
        "operationId": id,
        ROLE: Role::Contributor.name(),
        "tags": ["trackways"],
        "summary": summary,
        "parameters": [path("trackway", "The trackway's id, as in gannet-ledge:S2:G4"), if_match()],
        "responses": responses(answer, &["400", "404", "405", "409", "412", "428", "500", "503", "507"]),
    })
}
