//! A client, and what it is answered.

use flate2::read::GzDecoder;
use serde_json::Value;
use std::io::Read;
use std::time::Duration;
use ureq::Agent;
use ureq::http::{Request, Response};

/// Asks one server. Never follows a link by itself.
#[derive(Clone)]
pub struct Client {
    agent: Agent,
    base: String,
}

/// An answer, whatever its status.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The status.
    pub status: u16,
    /// The headers, names in lower case.
    headers: Vec<(String, String)>,
    /// The body, unpacked.
    pub body: Vec<u8>,
    /// How many bytes came over the line.
    pub carried: usize,
}

impl Client {
    pub(super) fn new(base: String) -> Self {
        let config = Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .allow_non_standard_methods(true)
            .timeout_global(Some(Duration::from_secs(120)))
            .build();
        Self {
            agent: config.into(),
            base,
        }
    }

    /// The same for another address of the server.
    #[must_use]
    pub fn at(&self, base: &str) -> Self {
        Self {
            agent: self.agent.clone(),
            base: base.to_owned(),
        }
    }

    /// Where its server's links start.
    #[must_use]
    pub fn base(&self) -> &str {
        &self.base
    }

    /// Asks for a path, or for a link as it stands in an answer.
    ///
    /// # Panics
    /// When there is no answer, or the link leads to another host.
    pub fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, &[], b"")
    }

    /// Asks with headers.
    pub fn get_with(&self, path: &str, headers: &[(&str, &str)]) -> Answer {
        self.ask("GET", path, headers, b"")
    }

    /// Sends a sheet.
    pub fn post(&self, path: &str, media: &str, body: impl AsRef<[u8]>) -> Answer {
        self.ask("POST", path, &[("content-type", media)], body.as_ref())
    }

    /// Asks with any method.
    ///
    /// # Panics
    /// When there is no answer.
    pub fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        self.try_ask(method, path, headers, body)
            .unwrap_or_else(|error| panic!("{method} {path}: {error}"))
    }

    /// Asks; `None` where the server is gone.
    #[must_use]
    pub fn try_get(&self, path: &str) -> Option<Answer> {
        self.try_ask("GET", path, &[], b"").ok()
    }

    /// Sends a sheet; `None` where the server is gone before it has answered.
    #[must_use]
    pub fn try_post(&self, path: &str, media: &str, body: impl AsRef<[u8]>) -> Option<Answer> {
        self.try_ask("POST", path, &[("content-type", media)], body.as_ref())
            .ok()
    }

    /// Asks with any method.
    ///
    /// # Errors
    /// When there is no answer.
    pub fn try_ask(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> Result<Answer, ureq::Error> {
        let path = path.strip_prefix(&self.base).unwrap_or(path);
        assert!(path.starts_with('/'), "{path} leads to another host");
        let mut request = Request::builder()
            .method(method)
            .uri(format!("{}{path}", self.base));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let sent = if body.is_empty() && method != "POST" {
            self.agent.run(request.body(()).map_err(ureq::Error::from)?)
        } else {
            self.agent.run(request.body(body).map_err(ureq::Error::from)?)
        };
        Answer::read(sent?)
    }
}

impl Answer {
    fn read(response: Response<ureq::Body>) -> Result<Self, ureq::Error> {
        let (head, body) = response.into_parts();
        let headers = head.headers.iter();
        let headers: Vec<(String, String)> = headers
            .map(|(name, value)| {
                let value = String::from_utf8_lossy(value.as_bytes());
                (name.as_str().to_owned(), value.into_owned())
            })
            .collect();
        let mut carried = Vec::new();
        body.into_with_config()
            .limit(1 << 30)
            .reader()
            .read_to_end(&mut carried)?;
        let mut answer = Self {
            status: head.status.as_u16(),
            headers,
            carried: carried.len(),
            body: carried,
        };
        if answer.header("content-encoding") == Some("gzip") && !answer.body.is_empty() {
            let mut unpacked = Vec::new();
            GzDecoder::new(&answer.body[..]).read_to_end(&mut unpacked)?;
            answer.body = unpacked;
        }
        Ok(answer)
    }

    /// A header; `None` where it is not there.
    #[must_use]
    pub fn header(&self, name: &str) -> Option<&str> {
        let mut found = self.headers.iter().filter(|(given, _)| given == name);
        found.next().map(|(_, value)| value.as_str())
    }

    /// The media type without its parameters.
    #[must_use]
    pub fn media(&self) -> &str {
        let full = self.header("content-type").unwrap_or_default();
        full.split(';').next().unwrap_or_default()
    }

    /// The body as text.
    ///
    /// # Panics
    /// When it is not UTF-8.
    #[must_use]
    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.body).expect("bodies are UTF-8")
    }

    /// The body as JSON.
    ///
    /// # Panics
    /// When it is none.
    #[must_use]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    /// The same, once it is known to have this status.
    ///
    /// # Panics
    /// When it has another.
    pub fn with_status(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}", self.text());
        self
    }
}
