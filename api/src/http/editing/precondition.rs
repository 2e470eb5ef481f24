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
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum IfMatch {
    /// It is not there.
    Nothing,
    /// Whatever revision stands.
    Any,
    /// One of these revisions.
    Revisions(Vec<u32>),
}

impl IfMatch {
    /// Reads the header: ETags as the service gives them, weak or with the mark of an encoding too, or `*` (RFC 9110, section 13.1.1).
    ///
    /// # Errors
    /// When it is something else.
    pub fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let lines = request.headers().get_all(IF_MATCH);
        let lines: Vec<&str> = lines.map(|line| line.to_str().unwrap_or_default()).collect();
        if lines.is_empty() {
            return Ok(Self::Nothing);
        }
        let text = lines.join(",");
        if text.trim() == "*" {
            return Ok(Self::Any);
        }
        let tags = text.split(',').map(str::trim).filter(|tag| !tag.is_empty());
        let revisions: Option<Vec<u32>> = tags.map(revision).collect();
        let revisions = revisions.filter(|revisions| !revisions.is_empty());
        revisions.map(Self::Revisions).ok_or_else(|| {
            let short: String = text.chars().take(80).collect();
            Problem::bad_request(format!(
                "If-Match is {short:?}: expected ETags as the record's answers have them, in quotes, or *."
            ))
        })
    }

    /// The revision that a change is for, where a record has the revision `stands`.
    ///
    /// # Errors
    /// 428 without a header, 412 where the record has another revision.
    pub fn check(&self, stands: u32, path: &str) -> Result<u32, Problem> {
        match self {
            Self::Any => Ok(stands),
            Self::Revisions(seen) if seen.contains(&stands) => Ok(stands),
            Self::Revisions(seen) => {
                let seen: Vec<String> = seen.iter().map(u32::to_string).collect();
                Err(Problem::new(
                    StatusCode::PRECONDITION_FAILED,
                    format!(
                        "{path} has revision {stands} by now, not {}; look at it again, then repeat the change.",
                        seen.join(" or ")
                    ),
                ))
            }
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

/// The revision in an ETag of the service.
fn revision(tag: &str) -> Option<u32> {
    let tag = tag.strip_prefix("W/").unwrap_or(tag);
    let tag = tag.strip_prefix('"')?.strip_suffix('"')?;
    tag.split('-').next()?.parse().ok()
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
        for text in ["\"7\"", "W/\"7\"", " \"7-gzip\" ", "\"7\","] {
            assert_eq!(of(text), Some(IfMatch::Revisions(vec![7])), "{text}");
        }
        let several = of("\"7\", W/\"8-br\"").unwrap();
        assert_eq!(several, IfMatch::Revisions(vec![7, 8]));
        assert_eq!(several.check(8, "/it").ok(), Some(8));
        let refused = several.check(9, "/it").unwrap_err();
        assert!(refused.to_string().contains("not 7 or 8"), "{refused}");
        assert_eq!(of("*"), Some(IfMatch::Any));
        for text in ["", ",", "7", "\"\"", "\"x\"", "\"7\", *", "\"7\", 8", "\"-1\""] {
            assert_eq!(of(text), None, "{text}");
        }
        assert_eq!(
            IfMatch::of(&TestRequest::get().to_http_request()).ok(),
            Some(IfMatch::Nothing)
        );
        let twice = TestRequest::get()
            .append_header(("if-match", "\"7\""))
            .append_header(("if-match", "\"8\""))
            .to_http_request();
        assert_eq!(IfMatch::of(&twice).ok(), Some(several));
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
