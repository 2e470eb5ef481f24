//! Somebody with a token.

use super::{Answer, Client, Ledger, Server};

/// A client that sends a token with each request.
pub struct Holder {
    client: Client,
    authorization: Option<String>,
}

impl Holder {
    /// Somebody without a token.
    #[must_use]
    pub fn nobody(server: &Server) -> Self {
        Self {
            client: server.client.clone(),
            authorization: None,
        }
    }

    /// The holder of this token.
    #[must_use]
    pub fn of(server: &Server, token: &str) -> Self {
        Self {
            client: server.client.clone(),
            authorization: Some(format!("Bearer {}", token.trim())),
        }
    }

    /// Asks for a path.
    pub fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, &[], b"")
    }

    /// Sends something.
    pub fn post(&self, path: &str, media: &str, body: impl AsRef<[u8]>) -> Answer {
        self.ask("POST", path, &[("content-type", media)], body.as_ref())
    }

    /// Asks with any method.
    pub fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut headers = headers.to_vec();
        headers.extend(
            self.authorization
                .as_deref()
                .map(|value| ("authorization", value)),
        );
        self.client.ask(method, path, &headers, body)
    }
}

impl Ledger {
    /// Issues a token.
    #[must_use]
    pub fn token(&self, holder: &str, role: &str, sites: &[&str]) -> String {
        let mut arguments = vec!["token", "issue", "--holder", holder, "--role", role];
        for site in sites {
            arguments.extend(["--site", site]);
        }
        self.run(&arguments).done().out.trim().to_owned()
    }
}
