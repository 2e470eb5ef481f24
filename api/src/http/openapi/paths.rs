//! The paths of the interface.

use super::super::media::{GEOJSON, HTML, OPENAPI, SCHEMA, SVG};
use super::super::{map, moment};
use super::parameters::{filters, path, query, reference};
use super::{changes, document, editing, processes, readable};
use crate::collection::Collection;
use crate::export::ExportFormat;
use crate::plan::{NARROWEST, USUAL_WIDTH, WIDEST};
use crate::query::{self, Registered};
use serde_json::{Map, Value, json};

/// The extension that says which role an operation needs at the site that it is about.
pub(super) const ROLE: &str = "x-role";
/// Anybody may ask, and is answered of what he is shown.
pub(super) const ANYONE: &str = "anyone";
/// What any request may meet before its resource: no token or none that opens, a lack of rights, too many requests.
const AT_THE_GATE: &[&str] = &["401", "403", "429"];

/// Every path with what can be asked of it.
pub(super) fn all() -> Value {
    let mut paths = Map::new();
    let mut add = |path: String, operations: Value| paths.insert(path, operations);
    let f = || vec![reference("f")];
    add(
        "/".into(),
        get(
            "landing",
            "service",
            "The landing page",
            f(),
            document("What there is"),
        ),
    );
    add(
        "/conformance".into(),
        get(
            "conformance",
            "service",
            "The standards that the service meets",
            f(),
            document("Conformance classes"),
        ),
    );
    add(
        "/api".into(),
        get(
            "definition",
            "service",
            "This document",
            f(),
            readable("OpenAPI 3.0", OPENAPI, json!({ "type": "object" })),
        ),
    );
    maps(&mut add);
    for check in ["live", "ready"] {
        let about = if check == "live" {
            "Whether the program runs"
        } else {
            "Whether the store can be read"
        };
        add(
            format!("/health/{check}"),
            get(check, "service", about, vec![], document("It does")),
        );
    }
    let figures = json!({ "description": "The figures", "content": { "text/plain; version=0.0.4; charset=utf-8": { "schema": { "type": "string" } } } });
    let about = "Figures for Prometheus; for this machine, and for the addresses that are named for it";
    add(
        "/metrics".into(),
        get("metrics", "service", about, vec![], figures),
    );
    add(
        "/collections".into(),
        get(
            "collections",
            "features",
            "The collections",
            f(),
            document("The collections"),
        ),
    );
    for collection in Collection::ALL {
        let at = format!("/collections/{}", collection.id());
        let id = |what: &str| format!("{}-{what}", collection.id());
        add(
            at.clone(),
            get(
                &id("collection"),
                "features",
                collection.title(),
                f(),
                document(collection.about()),
            ),
        );
        add(
            format!("{at}/queryables"),
            get(
                &id("queryables"),
                "features",
                &format!("What a filter of {} can speak of", collection.title()),
                f(),
                readable("A JSON Schema", SCHEMA, json!({ "type": "object" })),
            ),
        );
        let mut items = get(
            &id("items"),
            "features",
            &format!("Features of {}", collection.title()),
            list_parameters(collection),
            features(collection),
        );
        let mut item = get(
            &id("item"),
            "features",
            &format!("One {}", collection.singular()),
            item_parameters(),
            feature(collection),
        );
        editing::add(collection, &mut items, &mut item);
        add(format!("{at}/items"), items);
        add(format!("{at}/items/{{id}}"), item);
        let limit = query(
            "limit",
            "How many revisions the page has at most",
            json!({ "type": "integer", "minimum": 1, "maximum": 1000, "default": 100 }),
        );
        let after = query(
            "after",
            "The revision after which the page starts",
            json!({ "type": "integer", "minimum": 0 }),
        );
        add(
            format!("{at}/items/{{id}}/history"),
            get(
                &id("history"),
                "features",
                &format!(
                    "Every revision of one {}, of a removed one too",
                    collection.singular()
                ),
                vec![path("id", "The record's id"), limit, after, reference("f")],
                document("The revisions, oldest first; the record of a removal is null"),
            ),
        );
    }
    add(
        "/queries".into(),
        get(
            "queries",
            "queries",
            "The queries",
            f(),
            document("Each query with its inputs"),
        ),
    );
    for query in query::ALL {
        add(format!("/queries/{}", query.id()), ask(*query));
    }
    let picture =
        json!({ "description": "The plan", "content": { SVG: { "schema": { "type": "string" } } } });
    let width = json!({ "type": "number", "minimum": NARROWEST, "maximum": WIDEST, "default": USUAL_WIDTH });
    let parameters = vec![
        path("surface", "The surface's id, as in gannet-ledge:S2"),
        reference("bbox"),
        reference("bbox-crs"),
        query(
            "width",
            "How wide the page is, pixels; letters keep their size",
            width,
        ),
    ];
    let title = "A picture of a surface, or of its part in a box";
    add(
        "/surfaces/{surface}/plan.svg".into(),
        get("plan", "features", title, parameters, picture),
    );
    let format = query(
        "format",
        "csv: the prints as a sheet; geojson: the prints and the extents; gpkg: a GeoPackage with all layers; dwca: a Darwin Core archive",
        json!({ "type": "string", "enum": ExportFormat::ALL.map(ExportFormat::name), "default": ExportFormat::GeoPackage.name() }),
    );
    let mut file = json!({ "description": "The file" });
    for format in ExportFormat::ALL {
        let schema = match format {
            ExportFormat::GeoJson => json!({ "type": "object" }),
            _ => json!({ "type": "string", "format": "binary" }),
        };
        file["content"][format.media_type()] = json!({ "schema": schema });
    }
    let mut export = get(
        "export",
        "features",
        "A site as one file",
        vec![path("site", "The site's slug"), format],
        file,
    );
    export["get"]["responses"]["409"] = json!({ "$ref": "#/components/responses/Problem" });
    paths.insert("/sites/{site}/export".to_owned(), export);
    paths.append(&mut processes::all());
    paths.append(&mut changes::all());
    paths.iter_mut().for_each(as_of);
    paths.into()
}

/// The map page and its files.
fn maps(add: &mut impl FnMut(String, Value) -> Option<Value>) {
    let written = |media: &str| json!({ "description": "The file", "content": { media: { "schema": { "type": "string" } } } });
    let title = "The map page, which asks this service for all that it shows";
    add("/map".into(), get("map", "service", title, vec![], written(HTML)));
    let mut name = path("file", "The file's name");
    name["schema"]["enum"] = json!(map::FILES.map(|(name, ..)| name));
    let mut file = written(map::SCRIPT);
    for media in [map::CSS, SVG] {
        file["content"][media] = file["content"][map::SCRIPT].clone();
    }
    add(
        "/map/{file}".into(),
        get(
            "mapFile",
            "service",
            "A file that the map page is made of",
            vec![name],
            file,
        ),
    );
}

/// Adds the moment to whatever reads the record.
fn as_of((path, operations): (&String, &mut Value)) {
    let method = if path.ends_with("/execution") {
        "post"
    } else {
        "get"
    };
    let reads = moment::is_read(path) || (path.starts_with("/processes/") && method == "post");
    let parameters = operations
        .get_mut(method)
        .and_then(|operation| operation.get_mut("parameters"));
    if let Some(parameters) = parameters.and_then(Value::as_array_mut).filter(|_| reads) {
        parameters.push(reference("as_of"));
    }
}

pub(super) fn get(id: &str, tag: &str, summary: &str, parameters: Vec<Value>, answer: Value) -> Value {
    json!({ "get": {
        "operationId": id,
        "tags": [tag],
        "summary": summary,
        ROLE: ANYONE,
        "parameters": parameters,
        "responses": responses(answer, &["400", "404", "405", "500", "503"]),
    } })
}

pub(super) fn responses(answer: Value, problems: &[&str]) -> Value {
    let mut responses = Map::from_iter([("200".to_owned(), answer)]);
    for status in problems.iter().chain(AT_THE_GATE) {
        responses.insert(
            (*status).to_owned(),
            json!({ "$ref": "#/components/responses/Problem" }),
        );
    }
    responses.into()
}

fn list_parameters(collection: Collection) -> Vec<Value> {
    let shared = [
        "limit",
        "bbox",
        "datetime",
        "filter",
        "filter-lang",
        "filter-crs",
        "crs",
        "bbox-crs",
        "after",
        "f",
    ]
    .map(reference);
    shared.into_iter().chain(filters(collection)).collect()
}

fn item_parameters() -> Vec<Value> {
    vec![path("id", "The record's id"), reference("crs"), reference("f")]
}

pub(super) fn feature(collection: Collection) -> Value {
    let schema = json!({ "$ref": format!("#/components/schemas/{}Feature", collection.singular()) });
    let mut answer = readable("The feature", GEOJSON, schema);
    answer["headers"] = json!({
        "Content-Crs": header("The CRS of the coordinates"),
        "ETag": header("The revision of the record"),
    });
    answer
}

fn features(collection: Collection) -> Value {
    let schema = json!({
        "type": "object",
        "required": ["type", "features"],
        "properties": {
            "type": { "type": "string", "enum": ["FeatureCollection"] },
            "features": { "type": "array", "items": { "$ref": format!("#/components/schemas/{}Feature", collection.singular()) } },
            "links": { "type": "array", "items": { "$ref": "#/components/schemas/Link" } },
            "timeStamp": { "type": "string", "format": "date-time" },
            "numberMatched": { "type": "integer", "minimum": 0 },
            "numberReturned": { "type": "integer", "minimum": 0 },
        },
    });
    let mut answer = readable("A page of features", GEOJSON, schema);
    answer["headers"] = json!({ "Content-Crs": header("The CRS of the coordinates") });
    answer
}

fn header(about: &str) -> Value {
    json!({ "description": about, "schema": { "type": "string" } })
}

fn ask(asked: &dyn Registered) -> Value {
    let schema = asked.schema();
    let required: Vec<&str> = schema["required"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .collect();
    let inputs = schema["properties"]
        .as_object()
        .into_iter()
        .flatten()
        .map(|(name, input)| {
            let about = input["description"].as_str().unwrap_or_default();
            let mut parameter = query(name, about, input.clone());
            parameter["required"] = json!(required.contains(&name.as_str()));
            parameter
        });
    let form = if asked.has_picture() { "f-drawn" } else { "f" };
    let parameters = inputs.chain([reference(form)]).collect();
    let mut answer = readable(asked.about(), GEOJSON, json!({ "type": "object" }));
    if asked.has_picture() {
        answer["content"][SVG] = json!({ "schema": { "type": "string" } });
    }
    get(
        &format!("query-{}", asked.id()),
        "queries",
        asked.title(),
        parameters,
        answer,
    )
}
