//! What every request passes on its way in and out: the log, and headers that all answers have.

use super::metrics::Metrics;
use super::{Service, moment};
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue, VARY, X_CONTENT_TYPE_OPTIONS};
use actix_web::middleware::Next;
use actix_web::{Error, HttpRequest, web};
use jiff::Timestamp;
use jiff::fmt::rfc2822::DateTimePrinter;
use std::time::Instant;
use tracing::Instrument;

/// When what is answered was last known to be so, while the database cannot be reached.
const STALE_SINCE: HeaderName = HeaderName::from_static("stale-since");

/// The id of a request, in its log lines and in its answer.
const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Writes a line into the log for each request: its id, method, path, status and time. Query strings stay
/// out: a place that is secret may stand in one.
pub async fn logged(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let (method, path) = (request.method().clone(), request.path().to_owned());
    let id = request_id(request.request());
    let span = tracing::info_span!("request", id);
    let service = request.app_data::<web::Data<Service>>().cloned();
    let metrics = service.as_ref().map(|service| service.metrics.clone());
    let under_way = metrics.as_deref().map(Metrics::begin);
    let started = Instant::now();
    let mut response = next.call(request).instrument(span.clone()).await?;
    drop(under_way);
    let took = started.elapsed();
    span.in_scope(|| {
        let (status, millis) = (response.status().as_u16(), took.as_secs_f64() * 1e3);
        tracing::info!(%method, path, status, millis, "answered");
    });
    if let Some(metrics) = &metrics {
        // The pattern, not the path: a secret place may stand in an id.
        let route = response.request().match_pattern();
        metrics.answered(&method, route.as_deref(), response.status(), took);
    }
    let told = moment::asked_for(response.request()).ok().flatten();
    let told = told.filter(|_| response.status().is_success());
    let stale = service.and_then(|service| service.catalogue.away_since());
    let headers = response.headers_mut();
    if let Some(since) = stale.and_then(|since| HeaderValue::try_from(since.to_string()).ok()) {
        // The database is away, and what is answered is of before.
        headers.insert(STALE_SINCE, since);
    }
    if let Some(then) = told.and_then(|moment| HeaderValue::try_from(http_date(moment)?).ok()) {
        headers.insert(moment::MEMENTO, then);
    }
    if let Ok(id) = HeaderValue::try_from(id) {
        headers.insert(REQUEST_ID, id);
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

/// The id that a request brings, where it has the form of one; else a new one.
fn request_id(request: &HttpRequest) -> String {
    let given = request
        .headers()
        .get(REQUEST_ID)
        .and_then(|value| value.to_str().ok());
    let fits = |id: &&str| {
        (1..=64).contains(&id.len())
            && id
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.'))
    };
    given.filter(fits).map_or_else(drawn, str::to_owned)
}

fn drawn() -> String {
    let mut bits = [0; 8];
    // Without randomness requests are merely not told apart.
    let _ = getrandom::fill(&mut bits);
    format!("{:016x}", u64::from_ne_bytes(bits))
}
