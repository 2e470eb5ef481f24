//! Problem documents (RFC 9457): the one door through which errors leave.

use crate::access::Denied;
use crate::catalogue::ReadFault;
use crate::crs::CrsFault;
use crate::export::ExportError;
use crate::intake::IntakeError;
use crate::query::Refusal;
use crate::store::StoreError;
use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, CONTENT_TYPE, RETRY_AFTER, WWW_AUTHENTICATE};
use actix_web::{HttpResponse, ResponseError};
use serde_json::{Value, json};
use std::fmt;
use std::time::Duration;

/// The media type of a problem document.
pub const PROBLEM: &str = "application/problem+json";

/// The type of the problem of a token that opens nothing.
const INVALID_TOKEN: &str = "invalid-token";
/// When to try again, where nothing better is known, seconds.
const RETRY_AFTER_S: u64 = 5;

/// What went wrong with a request, in words that say what to do.
#[derive(Debug)]
pub struct Problem {
    status: StatusCode,
    /// The last part of the problem's type, or a standard's URI for it; `None` for what the status says already.
    kind: Option<&'static str>,
    detail: String,
    faults: Option<Box<Value>>,
    /// After how many seconds it may go better.
    retry_after_s: Option<u64>,
    /// The methods that the path has, where it was asked with another one (RFC 9110, 15.5.6).
    allowed: Option<&'static str>,
    /// What lies behind it: for the log, and for whoever has the store in his own hands.
    reason: Option<String>,
}

impl Problem {
    /// A problem with this status and these words.
    pub fn new(status: StatusCode, detail: impl Into<String>) -> Self {
        Self {
            status,
            kind: None,
            detail: detail.into(),
            faults: None,
            retry_after_s: (status == StatusCode::SERVICE_UNAVAILABLE).then_some(RETRY_AFTER_S),
            allowed: None,
            reason: None,
        }
    }

    /// A parameter or a body that does not fit.
    pub fn bad_request(detail: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, detail)
    }

    /// Nothing there, or nothing that this asker may see.
    pub fn not_found(detail: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, detail)
    }

    /// The service's own fault; the reason goes into the log and not to the asker.
    pub fn internal(reason: impl fmt::Display) -> Self {
        tracing::error!(%reason, "a request failed");
        Self::new(
            StatusCode::INTERNAL_SERVER_ERROR,
            "The service failed; its log tells why. Your request may be right.",
        )
        .because(reason.to_string())
    }

    /// A method that a path does not have, and those that it has.
    pub(crate) fn method(detail: impl Into<String>, allowed: &'static str) -> Self {
        let mut problem = Self::new(StatusCode::METHOD_NOT_ALLOWED, detail);
        problem.allowed = Some(allowed);
        problem
    }

    /// The status of its answer.
    #[must_use]
    pub fn status(&self) -> StatusCode {
        self.status
    }

    pub(crate) fn too_slow(patience: Duration) -> Self {
        let detail = format!(
            "No answer within {} seconds. Ask for less: a smaller box, one surface, fewer prints; or try again later.",
            patience.as_secs()
        );
        Self::new(StatusCode::SERVICE_UNAVAILABLE, detail)
    }

    pub(crate) fn too_many(wait: Duration) -> Self {
        let mut problem = Self::new(
            StatusCode::TOO_MANY_REQUESTS,
            "Too many requests from you; wait as long as Retry-After says.",
        );
        problem.retry_after_s = Some(wait.as_secs() + 1);
        problem
    }

    /// The same with what lies behind it.
    #[must_use]
    fn because(mut self, reason: String) -> Self {
        self.reason = Some(reason);
        self
    }

    /// What lies behind it, for whoever has the store in his own hands.
    #[must_use]
    pub fn reason(&self) -> Option<&str> {
        self.reason.as_deref()
    }

    /// The same with a list of faults, and a type of its own.
    #[must_use]
    pub fn with_faults(mut self, kind: &'static str, faults: Value) -> Self {
        self.kind = Some(kind);
        self.faults = Some(Box::new(faults));
        self
    }

    /// The same with a type that a standard has.
    #[must_use]
    pub(crate) fn of_type(mut self, uri: &'static str) -> Self {
        self.kind = Some(uri);
        self
    }

    /// The problem document, the same on the command line.
    #[must_use]
    pub fn document(&self) -> Value {
        let kind = match self.kind {
            None => "about:blank".to_owned(),
            Some(uri) if uri.starts_with("http://") => uri.to_owned(),
            Some(kind) => format!("urn:problem-type:stridebed:{kind}"),
        };
        let title = match self.kind {
            Some("faulty-sheet") => "The sheet has faults; nothing was stored",
            Some("faulty-record") => "The record has faults; nothing was stored",
            Some("over-tolerance") => "Control points are over the tolerance; nothing was stored",
            Some("faulty-inputs") => "Inputs do not fit",
            _ => self.status.canonical_reason().unwrap_or("Problem"),
        };
        let mut document =
            json!({ "type": kind, "title": title, "status": self.status.as_u16(), "detail": self.detail });
        if let Some(faults) = &self.faults {
            document["faults"] = Value::clone(faults);
        }
        document
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.status
    }

    fn error_response(&self) -> HttpResponse {
        let mut response = HttpResponse::build(self.status);
        response.insert_header((CONTENT_TYPE, PROBLEM));
        if let Some(seconds) = self.retry_after_s {
            response.insert_header((RETRY_AFTER, seconds.to_string()));
        }
        if let Some(allowed) = self.allowed {
            response.insert_header((ALLOW, allowed));
        }
        if self.status == StatusCode::UNAUTHORIZED {
            // RFC 6750, section 3.
            let challenge = match self.kind {
                Some(INVALID_TOKEN) => "Bearer realm=\"stridebed\", error=\"invalid_token\"",
                _ => "Bearer realm=\"stridebed\"",
            };
            response.insert_header((WWW_AUTHENTICATE, challenge));
        }
        response.body(self.document().to_string())
    }
}

impl From<StoreError> for Problem {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Missing(_) => Self::not_found(format!("{error}.")),
            StoreError::Exists(_)
            | StoreError::Moved(_)
            | StoreError::NotEmpty
            | StoreError::FixedCrs(_)
            | StoreError::InUse(_)
            | StoreError::Gone { .. }
            | StoreError::Shared { .. } => Self::new(StatusCode::CONFLICT, format!("{error}.")),
            StoreError::Busy | StoreError::QueueFull(_) => {
                Self::new(StatusCode::SERVICE_UNAVAILABLE, format!("{error}."))
            }
            StoreError::NoRoom(_) | StoreError::NotWritable(_) => {
                tracing::error!(%error, "a request failed");
                let words = match error {
                    StoreError::NoRoom(_) => {
                        "The disk of the service is full or fails; nothing of this was stored. Tell whoever runs it."
                    }
                    _ => "The store of the service cannot be written at the moment. Tell whoever runs it.",
                };
                let status = match error {
                    StoreError::NoRoom(_) => StatusCode::INSUFFICIENT_STORAGE,
                    _ => StatusCode::SERVICE_UNAVAILABLE,
                };
                Self::new(status, words).because(format!("{error}."))
            }
            StoreError::KeyUsed(_) => Self::new(StatusCode::UNPROCESSABLE_ENTITY, format!("{error}.")),
            StoreError::NulCharacter => Self::bad_request(format!("{error}.")),
            StoreError::Unreachable(_) => {
                tracing::error!(%error, "a request failed");
                Self::new(
                    StatusCode::SERVICE_UNAVAILABLE,
                    "The database that keeps the record cannot be reached at the moment. Try again later.",
                )
            }
            other => Self::internal(format!("{other}: {:?}", std::error::Error::source(&other))),
        }
    }
}

impl From<Denied> for Problem {
    fn from(denied: Denied) -> Self {
        let status = match denied {
            Denied::NoToken | Denied::BadToken(_) => StatusCode::UNAUTHORIZED,
            Denied::Unchecked(_) => StatusCode::SERVICE_UNAVAILABLE,
            Denied::ReadOnly | Denied::Elsewhere | Denied::StrangePage | Denied::Role(..) => {
                StatusCode::FORBIDDEN
            }
        };
        let problem = Self::new(status, denied.to_string());
        match denied {
            Denied::BadToken(_) => problem.of_type(INVALID_TOKEN),
            _ => problem,
        }
    }
}

impl From<CrsFault> for Problem {
    fn from(fault: CrsFault) -> Self {
        match fault {
            CrsFault::NoDatabase(_) => Self::internal(fault),
            other => Self::bad_request(format!("{other}.")),
        }
    }
}

impl From<ReadFault> for Problem {
    fn from(fault: ReadFault) -> Self {
        match fault {
            ReadFault::Missing { .. } => Self::not_found(format!("{fault}.")),
            ReadFault::Store(error) => error.into(),
            other => Self::internal(other),
        }
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::Inputs(faults) => {
                let told: Vec<String> = faults
                    .iter()
                    .map(|fault| format!("{}: expected {}", fault.input, fault.expected))
                    .collect();
                Self::bad_request(told.join("; ") + ".").with_faults("faulty-inputs", json!(faults))
            }
            Refusal::Read(fault) => fault.into(),
            Refusal::Crs(fault) => fault.into(),
            Refusal::Unfit(why) => Self::bad_request(why),
            Refusal::Written(error) => Self::internal(error),
        }
    }
}

impl From<IntakeError> for Problem {
    fn from(error: IntakeError) -> Self {
        match error {
            IntakeError::Faults(faults) => {
                let detail = format!(
                    "{} fault{}; nothing was stored. Mend the sheet and send it again.",
                    faults.total,
                    if faults.total == 1 { "" } else { "s" }
                );
                Self::bad_request(detail).with_faults("faulty-sheet", json!(faults.faults))
            }
            IntakeError::Store(error) => error.into(),
            IntakeError::Crs(fault) => fault.into(),
            IntakeError::Read(error) => Self::bad_request(format!("The sheet cannot be read: {error}.")),
        }
    }
}

impl From<ExportError> for Problem {
    fn from(error: ExportError) -> Self {
        match error {
            ExportError::Store(error) => error.into(),
            ExportError::Crs(fault) => fault.into(),
            ExportError::File(error) => {
                Self::bad_request(format!("The GeoPackage cannot be written: {error}."))
            }
            ExportError::Archive(error) => {
                Self::bad_request(format!("The archive cannot be written: {error}."))
            }
            ExportError::Closed(_) => Self::new(StatusCode::CONFLICT, format!("{error}.")),
            ExportError::Write(error) => Self::bad_request(format!("The export cannot be written: {error}.")),
            ExportError::Changed(_) => Self::new(StatusCode::CONFLICT, format!("{error}.")),
        }
    }
}
