//! Whether the service lives, and whether it can answer.

use super::media::JSON;
use super::{Problem, Shared, off_thread};
use actix_web::HttpResponse;
use actix_web::http::header::CONTENT_TYPE;

/// `/health/live`: the program runs.
pub async fn live() -> HttpResponse {
    status("live")
}

/// `/health/ready`: the store can be read.
pub async fn ready(service: Shared) -> Result<HttpResponse, Problem> {
    off_thread(&service, |service| Ok(service.catalogue.listing().map(drop)?)).await?;
    Ok(status("ready"))
}

fn status(word: &str) -> HttpResponse {
    let body = serde_json::json!({ "status": word }).to_string();
    HttpResponse::Ok().insert_header((CONTENT_TYPE, JSON)).body(body)
}
