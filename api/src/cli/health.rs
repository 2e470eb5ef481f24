//! `stridebed health`.

use super::{Done, say};
use crate::problem::Problem;
use clap::Args;
use std::time::Duration;

/// How long a service may take.
const PATIENCE: Duration = Duration::from_secs(5);

#[derive(Args)]
pub(super) struct Health {
    /// The service's address
    #[arg(default_value = "http://127.0.0.1:8080")]
    url: String,
}

impl Health {
    pub(super) fn run(self) -> Done {
        let at = format!("{}/health/ready", self.url.trim_end_matches('/'));
        let agent: ureq::Agent = ureq::Agent::config_builder()
            .timeout_global(Some(PATIENCE))
            .max_redirects(0)
            .build()
            .into();
        match agent.get(&at).call() {
            Ok(_) => {
                say("ready");
                Ok(())
            }
            Err(error) => Err(Problem::bad_request(format!("{at}: {error}.")).into()),
        }
    }
}
