//! What a request says must hold before it changes anything, and the key under which something is made once.

use super::super::Problem;
use super::super::media::CONTENT_CRS;
use crate::store::{Once, StoreError};
use actix_web::HttpRequest;
use actix_web::http::StatusCode;
use actix_web::http::header::{HeaderName, IF_MATCH};
use sha2::{Digest, Sha256};

const IDEMPOTENCY_KEY: HeaderName = HeaderName::from_static("idempotency-key");
/// The longest key that is kept.
const LONGEST_KEY: usize = 200;

/// What `If-Match` asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IfMatch {
    /// It is not there.
    Nothing,
    /// Whatever revision stands.
    Any,
    /// This revision.
    Revision(u32),
}

impl IfMatch {
    /// Reads the header: one ETag as the service gives it, weak or with the mark of an encoding too, or `*`.
    ///
    /// # Errors
    /// When it is something else.
    pub fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let Some(header) = request.headers().get(IF_MATCH) else {
            return Ok(Self::Nothing);
        };
        let text = header.to_str().unwrap_or_default().trim();
        if text == "*" {
            return Ok(Self::Any);
        }
        let tag = text.strip_prefix("W/").unwrap_or(text);
        let tag = tag.strip_prefix('"').and_then(|tag| tag.strip_suffix('"'));
        let number = tag.map(|tag| tag.split('-').next().unwrap_or(tag));
        let revision = number.and_then(|number| number.parse().ok());
        revision.map(Self::Revision).ok_or_else(|| {
            let short: String = text.chars().take(80).collect();
            Problem::bad_request(format!(
                "If-Match is {short:?}: expected one ETag as the record's answer has it, in quotes, or *."
            ))
        })
    }

    /// The revision that a change is for, where a record has the revision `stands`.
    ///
    /// # Errors
    /// 428 without a header, 412 where the record has another revision.
    pub fn check(self, stands: u32, path: &str) -> Result<u32, Problem> {
        match self {
            Self::Any => Ok(stands),
            Self::Revision(seen) if seen == stands => Ok(stands),
            Self::Revision(seen) => Err(Problem::new(
                StatusCode::PRECONDITION_FAILED,
                format!(
                    "{path} has revision {stands} by now, not {seen}; look at it again, then repeat the change."
                ),
            )),
            Self::Nothing => Err(Self::needed(path)),
        }
    }

    /// A change needs the header.
    pub fn needed(path: &str) -> Problem {
        Problem::new(
            StatusCode::PRECONDITION_REQUIRED,
            format!(
                "Send If-Match with the ETag that {path} has, so that no change of somebody else is overrun."
            ),
        )
    }
}

/// A record that has moved on since it was looked at is a precondition that failed.
pub fn moved(error: StoreError) -> Problem {
    match error {
        StoreError::Moved(_) => Problem::new(StatusCode::PRECONDITION_FAILED, format!("{error}.")),
        other => other.into(),
    }
}

/// The `Idempotency-Key` of a request, with what it asks for.
///
/// # Errors
/// When the key is empty or too long.
pub fn once(request: &HttpRequest, body: &[u8]) -> Result<Option<Once>, Problem> {
    let Some(header) = request.headers().get(IDEMPOTENCY_KEY) else {
        return Ok(None);
    };
    let key = header.to_str().unwrap_or_default().trim();
    if key.is_empty() || key.len() > LONGEST_KEY {
        return Err(Problem::bad_request(format!(
            "Idempotency-Key: expected 1 to {LONGEST_KEY} plain characters, drawn anew for each record."
        )));
    }
    let mut digest = Sha256::new();
    digest.update(request.path());
    digest.update([0]);
    // The same numbers in another CRS are another place.
    let crs = request.headers().get(CONTENT_CRS);
    digest.update(crs.map_or(&[][..], |crs| crs.as_bytes()));
    digest.update([0]);
    digest.update(body);
    Ok(Some(Once {
        key: key.to_owned(),
        digest: digest.finalize().into(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use actix_web::test::TestRequest;

    #[test]
    fn tags_are_read_as_clients_send_them() {
        let of = |value: &'static str| {
            let request = TestRequest::get()
                .insert_header(("if-match", value))
                .to_http_request();
            IfMatch::of(&request).ok()
        };
        for text in ["\"7\"", "W/\"7\"", " \"7-gzip\" "] {
            assert_eq!(of(text), Some(IfMatch::Revision(7)), "{text}");
        }
        assert_eq!(of("*"), Some(IfMatch::Any));
        for text in ["", "7", "\"\"", "\"x\"", "\"7\", \"8\"", "\"-1\""] {
            assert_eq!(of(text), None, "{text}");
        }
        assert_eq!(
            IfMatch::of(&TestRequest::get().to_http_request()).ok(),
            Some(IfMatch::Nothing)
        );
    }

    #[test]
    fn a_key_is_for_one_path_one_crs_and_one_body() {
        let of = |path: &str, body: &[u8]| {
            let request = TestRequest::with_uri(path)
                .insert_header(("idempotency-key", "k"))
                .to_http_request();
            once(&request, body).unwrap().unwrap().digest
        };
        assert_eq!(of("/a", b"x"), of("/a", b"x"));
        assert_ne!(of("/a", b"x"), of("/b", b"x"));
        assert_ne!(of("/a", b"x"), of("/a", b"y"));
        let elsewhere = TestRequest::with_uri("/a")
            .insert_header(("idempotency-key", "k"))
            .insert_header((CONTENT_CRS, "<http://www.opengis.net/def/crs/EPSG/0/25830>"))
            .to_http_request();
        assert_ne!(of("/a", b"x"), once(&elsewhere, b"x").unwrap().unwrap().digest);
    }
}
