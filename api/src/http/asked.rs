//! What a request asks for: its parameters, each known and each once, its form and its address.

use super::{Media, Problem, Service, moment};
use actix_web::HttpRequest;
use actix_web::http::header::{ACCEPT, HOST};
use actix_web::web::Query;

/// The parameters of a request.
pub struct Asked {
    parameters: Vec<(String, String)>,
    /// Where links start, without a slash at the end.
    pub base: String,
    /// The path of the request.
    pub path: String,
    /// The form in which the asker wants the answer.
    pub media: Media,
    /// The moment as of which he asks, as he has written it; which moment that is, the service's catalogue knows.
    pub as_of: Option<String>,
}

impl Asked {
    /// Reads a request; `f` is taken out of its parameters.
    ///
    /// # Errors
    /// When the query string cannot be read or `f` names no form.
    pub fn of(request: &HttpRequest, service: &Service) -> Result<Self, Problem> {
        Self::in_forms(request, service, Media::READABLE)
    }

    /// Reads a request for a resource that has these forms.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn in_forms(request: &HttpRequest, service: &Service, forms: &[Media]) -> Result<Self, Problem> {
        let Query(parameters) = Query::<Vec<(String, String)>>::from_query(request.query_string())
            .map_err(|error| Problem::bad_request(format!("The query string cannot be read: {error}.")))?;
        let mut asked = Self {
            parameters,
            base: base(request, service),
            path: request.path().to_owned(),
            media: Media::Json,
            as_of: None,
        };
        if moment::applies(request) {
            asked.as_of = asked.take(moment::AS_OF)?;
        }
        asked.media = match asked.take("f")? {
            Some(name) => named(&name, forms)?,
            None => {
                let header = request.headers().get(ACCEPT);
                Media::accepted(header.and_then(|value| value.to_str().ok()).unwrap_or(""), forms)
            }
        };
        Ok(asked)
    }

    /// Takes a parameter out; `None` where it is not given.
    ///
    /// # Errors
    /// When it is given twice.
    pub fn take(&mut self, name: &str) -> Result<Option<String>, Problem> {
        let mut values = self
            .parameters
            .extract_if(.., |(given, _)| given == name)
            .map(|(_, value)| value);
        let value = values.next();
        if values.next().is_some() {
            return Err(Problem::bad_request(format!(
                "The parameter {name} comes twice; give it once."
            )));
        }
        Ok(value)
    }

    /// What has not been taken out yet.
    pub fn parameters(&self) -> &[(String, String)] {
        &self.parameters
    }

    /// Takes out all that is left.
    pub fn rest(&mut self) -> Vec<(String, String)> {
        std::mem::take(&mut self.parameters)
    }

    /// Refuses what is left: a parameter that is not understood must not be silently ignored.
    ///
    /// # Errors
    /// When anything is left.
    pub fn nothing_else(&self, known: &[&str]) -> Result<(), Problem> {
        match self.parameters.first() {
            None => Ok(()),
            Some((name, _)) => {
                let known = if known.is_empty() {
                    "f".to_owned()
                } else {
                    format!("f, {}", known.join(", "))
                };
                Err(Problem::bad_request(format!(
                    "There is no parameter {name} here; there are {known}."
                )))
            }
        }
    }
}

fn named(name: &str, forms: &[Media]) -> Result<Media, Problem> {
    let found = forms.iter().copied().find(|form| form.name() == name);
    found.ok_or_else(|| {
        let names: Vec<&str> = forms.iter().map(|form| form.name()).collect();
        Problem::bad_request(format!(
            "f={name} is no form of this: expected {}.",
            names.join(" or ")
        ))
    })
}

/// Where links start: the configured address, or that of the request. The headers that a proxy
/// would set are not read: anybody can send them.
fn base(request: &HttpRequest, service: &Service) -> String {
    if let Some(url) = &service.public_url {
        return url.trim_end_matches('/').to_owned();
    }
    let plain = |host: &&str| {
        !host.is_empty()
            && host
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'-' | b':' | b'[' | b']'))
    };
    let host = request
        .headers()
        .get(HOST)
        .and_then(|host| host.to_str().ok())
        .filter(plain);
    let scheme = if request.app_config().secure() {
        "https"
    } else {
        "http"
    };
    format!("{scheme}://{}", host.unwrap_or("127.0.0.1"))
}
