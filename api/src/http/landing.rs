//! The landing page and the conformance declaration.

use super::asked::Asked;
use super::link::link;
use super::media::{CONFORMANCE, GEOJSON, HTML, JSON, OPENAPI, rel};
use super::page::Document;
use super::{Problem, Shared};
use actix_web::{HttpRequest, HttpResponse};
use serde_json::json;

/// `/`: where everything else is found.
pub async fn landing(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let base = &asked.base;
    let body = json!({
        "title": "Stridebed",
        "description": "Fossil footprints in projected coordinates: sites, surfaces, prints and trackways, and \
                        answers to what a track worker asks of a surface.",
        "links": [
            link(base, "/?f=json", "self", JSON, "This page as JSON"),
            link(base, "/?f=html", "alternate", HTML, "This page for a browser"),
            link(base, "/map", "related", HTML, "The map: look at a surface, ask of it, accept and reject trackways"),
            link(base, "/collections/surfaces/items", "related", GEOJSON, "All surfaces, each with its plan"),
            link(base, "/api", "service-desc", OPENAPI, "The definition of this interface (OpenAPI 3.0)"),
            link(base, "/api?f=html", "service-doc", HTML, "The interface for a reader"),
            link(base, "/conformance", "conformance", JSON, "The standards that this service meets"),
            link(base, "/conformance", rel::CONFORMANCE, JSON, "The same, as OGC API Processes calls it"),
            link(base, "/collections", "data", JSON, "The collections: sites, surfaces, extents, prints, trackways"),
            link(base, "/queries", "related", JSON, "The queries: questions to a surface"),
            link(base, "/processes", rel::PROCESSES, JSON, "The same queries as processes, answered at once or as jobs"),
            link(base, "/jobs", rel::JOBS, JSON, "The jobs"),
        ],
    });
    Ok(Document::json("Stridebed", body).respond(&asked))
}

/// `/conformance`: the conformance classes that the service meets.
pub async fn conformance(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let body = json!({
        "conformsTo": CONFORMANCE,
        "links": [
            link(&asked.base, "/conformance?f=json", "self", JSON, "This list as JSON"),
            link(&asked.base, "/conformance?f=html", "alternate", HTML, "This list for a browser"),
        ],
    });
    Ok(Document::json("Conformance", body).respond(&asked))
}
