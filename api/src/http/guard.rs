//! What every request passes on its way in and out: the log, and headers that all answers have.

use actix_web::Error;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderValue, VARY, X_CONTENT_TYPE_OPTIONS};
use actix_web::middleware::Next;
use std::time::Instant;

/// Writes a line into the log for each request: method, path, status and time. Query strings stay
/// out: a place that is secret may stand in one.
pub async fn logged(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let (method, path) = (request.method().clone(), request.path().to_owned());
    let started = Instant::now();
    let mut response = next.call(request).await?;
    let millis = started.elapsed().as_secs_f64() * 1e3;
    tracing::info!(%method, path, status = response.status().as_u16(), millis, "answered");
    let headers = response.headers_mut();
    // The form of an answer depends on what was accepted; without this a cache mixes them up.
    headers.insert(
        VARY,
        HeaderValue::from_static("Accept, Accept-Encoding, Authorization, Origin"),
    );
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    Ok(response)
}
