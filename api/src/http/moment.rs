//! `as_of`: the record as it was at a moment, for whatever reads.

use super::Problem;
use crate::access::end_of;
use actix_web::HttpRequest;
use actix_web::http::Method;
use actix_web::http::header::HeaderName;
use jiff::Timestamp;
use jiff::civil::Date;

/// The parameter.
pub const AS_OF: &str = "as_of";
/// The header of an answer that tells the moment (RFC 7089).
pub const MEMENTO: HeaderName = HeaderName::from_static("memento-datetime");

/// Whether what a path names is read from the record, by GET.
pub fn is_read(path: &str) -> bool {
    ["/collections", "/queries/", "/surfaces/"]
        .iter()
        .any(|start| path.starts_with(start))
        || (path.starts_with("/sites/") && path.ends_with("/export"))
}

/// The moment that a request asks for; `None` for now.
///
/// # Errors
/// When it is no moment.
pub fn asked_for(request: &HttpRequest) -> Result<Option<Timestamp>, Problem> {
    if !applies(request) {
        return Ok(None);
    }
    let mut given =
        form_urlencoded::parse(request.query_string().as_bytes()).filter(|(name, _)| name == AS_OF);
    let Some((_, text)) = given.next() else {
        return Ok(None);
    };
    if given.next().is_some() {
        return Err(Problem::bad_request(
            "The parameter as_of comes twice; give it once.",
        ));
    }
    read(&text).map(Some)
}

/// Whether a request can be as of a moment: where it reads the record.
pub fn applies(request: &HttpRequest) -> bool {
    let path = request.path();
    if *request.method() == Method::POST {
        return path.starts_with("/processes/") && path.ends_with("/execution");
    }
    [Method::GET, Method::HEAD].contains(request.method()) && is_read(path)
}

/// A time (RFC 3339), or a day, which is meant to its end in UTC.
///
/// # Errors
/// When it is neither.
pub fn read(text: &str) -> Result<Timestamp, Problem> {
    // A plus sign of an offset that was not escaped comes as a space.
    let text = text.trim().replace(' ', "+");
    let day = text.parse::<Date>().ok().filter(|_| text.len() == 10);
    let moment = match day {
        // A change at the very next moment is of the next day.
        Some(day) => end_of(day)
            .ok()
            .and_then(|end| end.checked_sub(jiff::SignedDuration::from_nanos(1)).ok()),
        None => text.parse::<Timestamp>().ok(),
    };
    moment.ok_or_else(|| {
        let short: String = text.chars().take(80).collect();
        Problem::bad_request(format!(
            "as_of={short} does not fit: expected a time as in 2026-05-01T16:30:00Z, or a day as in 2026-05-01, which is meant to its end in UTC."
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_and_days() {
        let read = |text: &str| read(text).map(|moment| moment.to_string()).ok();
        assert_eq!(
            read("2026-05-01T16:30:00Z").as_deref(),
            Some("2026-05-01T16:30:00Z")
        );
        assert_eq!(
            read("2026-05-01T16:30:00 02:00").as_deref(),
            Some("2026-05-01T14:30:00Z")
        );
        assert_eq!(
            read("2026-05-01").as_deref(),
            Some("2026-05-01T23:59:59.999999999Z")
        );
        for text in [
            "",
            "yesterday",
            "2026-13-01",
            "2026-05-01T25:00:00Z",
            "2026-05-01T16:30",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
