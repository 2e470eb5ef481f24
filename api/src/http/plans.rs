//! `/surfaces/{surface}/plan.svg`: a picture of a surface.

use super::asked::Asked;
use super::items::read_box;
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
    let mut asked = Asked::of(&request, &service)?;
    let [bbox, bbox_crs, width] = ["bbox", "bbox-crs", "width"].map(|name| asked.take(name));
    let (bbox, bbox_crs, width) = (bbox?, bbox_crs?, width?.as_deref().map(pixels).transpose()?);
    asked.nothing_else(&["bbox", "bbox-crs", "width"])?;
    let id = path.into_inner();
    let picture = off_thread(&service, move |service| {
        let catalogue = &service.catalogue;
        let bbox = read_box(catalogue, bbox, bbox_crs)?;
        crate::plan::of_surface(catalogue, &id, bbox.as_ref(), width)
    })
    .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, SVG))
        .body(picture))
}

fn pixels(text: &str) -> Result<f64, Problem> {
    let width = text.parse();
    width
        .map_err(|_| Problem::bad_request(format!("width={text} does not fit: expected a number of pixels.")))
}

/// All of a surface by the text of its id.
pub(super) fn whole(service: &Service, id: &str) -> Result<String, Problem> {
    crate::plan::of_surface(&service.catalogue, id, None, None)
}
