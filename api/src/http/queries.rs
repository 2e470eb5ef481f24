//! `/queries` and `/queries/{query}`: the registry's first door.

use super::asked::Asked;
use super::link::link;
use super::media::{CONTENT_CRS, GEOJSON, HTML, JSON, Media, SVG};
use super::page::Document;
use super::{Problem, Shared, off_thread};
use crate::catalogue::Catalogue;
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
            let path = format!("/queries/{}", query.id());
            let mut links = vec![link(&asked.base, &path, "related", GEOJSON, query.title())];
            if query.has_picture() {
                links.push(link(
                    &asked.base,
                    &format!("{path}?f=svg"),
                    "related",
                    SVG,
                    "Its picture",
                ));
            }
            json!({
                "id": query.id(),
                "title": query.title(),
                "description": query.about(),
                "inputs": query.schema()["properties"],
                "required": query.schema()["required"],
                "links": links,
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
    let query = query::find(&path).ok_or_else(|| {
        Problem::not_found(format!(
            "There is no query {:?}; /queries lists those that there are.",
            *path
        ))
    })?;
    let forms = if query.has_picture() {
        Media::DRAWN
    } else {
        Media::READABLE
    };
    let mut asked = Asked::in_forms(&request, &service, forms)?;
    let inputs: Inputs = asked
        .rest()
        .into_iter()
        .map(|(name, text)| (name, Value::from(text)))
        .collect();
    let media = asked.media;
    let find = move |inputs, catalogue: &Catalogue| {
        let reply = query.ask(inputs, catalogue)?;
        let picture = reply.picture.filter(|_| media != Media::Json).map(|draw| draw());
        Ok((reply.body, reply.crs, picture))
    };
    let at_hand = service.catalogue.at_hand();
    let at_hand = at_hand.filter(|at_hand| query.is_quick(&inputs, at_hand));
    let (body, crs, picture) = match at_hand {
        Some(at_hand) => find(inputs, &at_hand)?,
        None => off_thread(&service, move |service| find(inputs, &service.catalogue)).await?,
    };
    match (media, picture) {
        (Media::Svg, Some(picture)) => Ok(HttpResponse::Ok()
            .insert_header((CONTENT_TYPE, SVG))
            .body(picture)),
        (Media::Html, picture) => {
            let body = serde_json::from_slice(&body).map_err(Problem::internal)?;
            Ok(Document::features(query.title(), body)
                .with_picture(picture)
                .respond(&asked))
        }
        _ => Ok(HttpResponse::Ok()
            .insert_header((CONTENT_TYPE, GEOJSON))
            .insert_header((CONTENT_CRS, format!("<{}>", crs.uri())))
            .body(body)),
    }
}
