//! `stridebed work`.

use super::log::Log;
use super::span::{some_span, span};
use super::{Desk, Done, signals};
use crate::jobs::{ATTEMPTS, Bell, Workers, work_until_idle, worker_name};
use crate::store::jobs::Terms;
use clap::Args;
use std::sync::Arc;
use std::time::Duration;

#[derive(Args)]
pub(super) struct Work {
    /// Do what waits now, then end
    #[arg(long)]
    once: bool,
    /// How many jobs to do at a time
    #[arg(long, env = "STRIDEBED_THREADS", default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: u16,
    #[command(flatten)]
    keeping: Keeping,
    #[command(flatten)]
    log: Log,
}

/// On which terms jobs are taken.
#[derive(Args)]
pub(super) struct Keeping {
    /// How long results can be read, as in 7d or 12h; they are removed then
    #[arg(long, env = "STRIDEBED_KEEP_JOBS", default_value = "7d", value_name = "SPAN", value_parser = span)]
    pub(super) keep_jobs: Duration,
    /// How long a worker may give no sign of life before another takes its job
    #[arg(long, env = "STRIDEBED_LEASE", default_value = "60s", value_name = "SPAN", value_parser = some_span, hide_short_help = true)]
    lease: Duration,
    /// How often a job is begun before it is set aside as failed
    #[arg(long, env = "STRIDEBED_ATTEMPTS", default_value_t = ATTEMPTS, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    attempts: u32,
}

impl Keeping {
    pub(super) fn terms(&self) -> Terms {
        Terms {
            worker: worker_name(),
            lease: self.lease,
            attempts: self.attempts,
            keep: self.keep_jobs,
        }
    }
}

impl Work {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let catalogue = desk.catalogue()?;
        let terms = self.keeping.terms();
        self.log.begin();
        let bell = Arc::new(Bell::default());
        let count = usize::from(self.threads);
        if self.once {
            signals::on_stop({
                let bell = bell.clone();
                move || bell.stop()
            });
            work_until_idle(&catalogue, &terms, count, &bell);
            return Ok(());
        }
        let workers = Workers::start(&catalogue, &terms, count, &bell);
        eprintln!("Working as {} (stop with Ctrl-C)", terms.worker);
        signals::wait_for_stop();
        workers.stop();
        Ok(())
    }
}
