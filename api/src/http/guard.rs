//! What every request passes on its way in and out: the log, and headers that all answers have.

use super::{Service, moment};
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue, VARY, X_CONTENT_TYPE_OPTIONS};
use actix_web::middleware::Next;
use actix_web::{Error, web};
use jiff::Timestamp;
use jiff::fmt::rfc2822::DateTimePrinter;
use std::time::Instant;

/// When what is answered was last known to be so, while the database cannot be reached.
const STALE_SINCE: HeaderName = HeaderName::from_static("stale-since");

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
    let told = moment::asked_for(response.request()).ok().flatten();
    let told = told.filter(|_| response.status().is_success());
    let service = response.request().app_data::<web::Data<Service>>();
    let stale = service.and_then(|service| service.catalogue.away_since());
    let headers = response.headers_mut();
    if let Some(since) = stale.and_then(|since| HeaderValue::try_from(since.to_string()).ok()) {
        // The database is away, and what is answered is of before.
        headers.insert(STALE_SINCE, since);
    }
    if let Some(then) = told.and_then(|moment| HeaderValue::try_from(http_date(moment)?).ok()) {
        headers.insert(moment::MEMENTO, then);
    }
    // The form of an answer depends on what was accepted; without this a cache mixes them up.
    headers.insert(
        VARY,
        HeaderValue::from_static("Accept, Accept-Encoding, Authorization, Origin"),
    );
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    Ok(response)
}

/// A moment as HTTP writes it (RFC 9110, section 5.6.7).
fn http_date(moment: Timestamp) -> Option<String> {
    DateTimePrinter::new().timestamp_to_rfc9110_string(&moment).ok()
}
