//! `/surfaces/{surface}/plan.svg`: a picture of a surface.

use super::asked::Asked;
use super::media::SVG;
use super::{Problem, Service, Shared, off_thread};
use actix_web::http::header::CONTENT_TYPE;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};

/// The plan of a surface.
pub async fn plan(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    Asked::of(&request, &service)?.nothing_else(&[])?;
    let id = path.into_inner();
    let picture = off_thread(&service, move |service| draw(service, &id)).await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, SVG))
        .body(picture))
}

/// Draws a surface by the text of its id.
pub(super) fn draw(service: &Service, id: &str) -> Result<String, Problem> {
    Ok(crate::plan::of_surface(&service.catalogue, id)?)
}
