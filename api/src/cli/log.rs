//! The log of a program that runs for long.

use clap::Args;
use std::io::IsTerminal;

#[derive(Args)]
pub(super) struct Log {
    /// How the log on the standard error output is written: lines for people, or a JSON object a line for machines; RUST_LOG chooses
    /// what it tells
    #[arg(long, env = "STRIDEBED_LOG_FORMAT", default_value = "text", value_parser = clap::builder::PossibleValuesParser::new(["text", "json"]))]
    log_format: String,
}

impl Log {
    /// Begins to write the log.
    pub(super) fn begin(&self) {
        let filter = tracing_subscriber::EnvFilter::try_from_default_env()
            .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("warn,api=info"));
        let log = tracing_subscriber::fmt()
            .with_env_filter(filter)
            .with_writer(std::io::stderr)
            .with_target(false);
        let _ = match self.log_format.as_str() {
            "json" => log
                .json()
                .flatten_event(true)
                .with_current_span(true)
                .with_span_list(false)
                .try_init(),
            _ => log.with_ansi(std::io::stderr().is_terminal()).try_init(),
        };
    }
}
