//! `/queries` and `/queries/{query}`: the registry's first door.

use super::asked::Asked;
use super::landing::link;
use super::media::{CONTENT_CRS, GEOJSON, HTML, JSON, Media};
use super::page::Document;
use super::{Problem, Shared, off_thread};
use crate::query::{self, Inputs};
use actix_web::http::header::CONTENT_TYPE;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use serde_json::{Value, json};

/// `/queries`: each query with its inputs.
pub async fn all(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let list: Vec<Value> = query::ALL
        .iter()
        .map(|query| {
            json!({
                "id": query.id(),
                "title": query.title(),
                "description": query.about(),
                "inputs": query.schema()["properties"],
                "required": query.schema()["required"],
                "links": [link(&asked.base, &format!("/queries/{}", query.id()), "related", GEOJSON, query.title())],
            })
        })
        .collect();
    let body = json!({
        "links": [
            link(&asked.base, "/queries?f=json", "self", JSON, "This list as JSON"),
            link(&asked.base, "/queries?f=html", "alternate", HTML, "This list for a browser"),
        ],
        "queries": list,
    });
    Ok(Document::json("Queries", body).respond(&asked))
}

/// `/queries/{query}`: asks one.
pub async fn ask(request: HttpRequest, service: Shared, path: Path<String>) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let query = query::find(&path).ok_or_else(|| {
        Problem::not_found(format!(
            "There is no query {:?}; /queries lists those that there are.",
            *path
        ))
    })?;
    let inputs: Inputs = asked
        .rest()
        .into_iter()
        .map(|(name, text)| (name, Value::from(text)))
        .collect();
    let reply = off_thread(
        &service,
        move |service| Ok(query.ask(inputs, &service.catalogue)?),
    )
    .await?;
    let crs = format!("<{}>", reply.crs.uri());
    if asked.media == Media::Html {
        let body = serde_json::from_slice(&reply.body).map_err(Problem::internal)?;
        return Ok(Document::features(query.title(), body).respond(&asked));
    }
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, GEOJSON))
        .insert_header((CONTENT_CRS, crs))
        .body(reply.body))
}
