//! `stridebed jobs list|show|results|dismiss`.

use super::span::span;
use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::problem::Problem;
use crate::store::Store;
use crate::store::jobs::{Job, JobFilter, JobId, JobStatus};
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::io::Write;
use std::time::Duration;

#[derive(Subcommand)]
pub(super) enum JobsCommand {
    /// List jobs, the newest first
    List(List),
    /// Tell all that is known of a job
    Show(Show),
    /// Write the result of a job
    Results(Results),
    /// Call a job off; its result is removed
    Dismiss(Dismiss),
}

#[derive(Args)]
pub(super) struct List {
    /// Only jobs with this status: accepted, running, successful, failed or dismissed
    #[arg(long)]
    status: Option<JobStatus>,
    /// Only jobs of this process: a query, or review
    #[arg(long)]
    process: Option<String>,
    /// How many at most
    #[arg(long, default_value_t = 50)]
    limit: usize,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

#[derive(Args)]
pub(super) struct Show {
    /// The job
    job: JobId,
}

#[derive(Args)]
pub(super) struct Results {
    /// The job
    job: JobId,
}

#[derive(Args)]
pub(super) struct Dismiss {
    /// The job
    job: JobId,
    /// How long it stays in the list
    #[arg(long, default_value = "7d", value_name = "SPAN", value_parser = span)]
    keep_jobs: Duration,
}

impl JobsCommand {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let store = desk.store()?;
        match self {
            Self::List(list) => for_machines(list.json, list.list(&*store)),
            Self::Show(show) => {
                say(&format!("{:#}", record(&found(&*store, &show.job)?)));
                Ok(())
            }
            Self::Results(results) => Ok(results.write(&*store)?),
            Self::Dismiss(dismiss) => {
                let job = store.queue().dismiss(&dismiss.job, dismiss.keep_jobs)?;
                job.ok_or_else(|| missing(&dismiss.job))?;
                say(&format!("Dismissed {}.", dismiss.job));
                Ok(())
            }
        }
    }
}

impl List {
    fn list(self, store: &dyn Store) -> Result<(), Problem> {
        let filter = JobFilter {
            processes: self.process.map(|process| vec![process]),
            statuses: self.status.map(|status| vec![status]),
            ..JobFilter::default()
        };
        let jobs = store.queue().jobs(&filter, self.limit)?;
        if self.json {
            say(&jobs.iter().map(record).collect::<Value>().to_string());
            return Ok(());
        }
        let mut rows = table([
            "job", "process", "status", "progress", "attempts", "created", "message",
        ]);
        for job in &jobs {
            rows.add_row([
                job.id.to_string(),
                job.order.process.clone(),
                job.status.to_string(),
                format!("{} %", job.progress),
                job.attempts.to_string(),
                job.created.to_string(),
                job.message.clone().unwrap_or_default(),
            ]);
        }
        say(&rows.to_string());
        Ok(())
    }
}

impl Results {
    fn write(&self, store: &dyn Store) -> Result<(), Problem> {
        let job = found(store, &self.job)?;
        let result = store.queue().job_result(&job)?.ok_or_else(|| {
            let why = job.message.as_deref().unwrap_or("It has no result yet.");
            Problem::not_found(format!("Job {} is {}. {why}", job.id, job.status))
        })?;
        // That its reader has gone away is no failure of ours.
        let _ = std::io::stdout().write_all(&result.body);
        Ok(())
    }
}

fn found(store: &dyn Store, id: &JobId) -> Result<Job, Problem> {
    store.queue().job(id)?.ok_or_else(|| missing(id))
}

fn missing(id: &JobId) -> Problem {
    Problem::not_found(format!(
        "There is no job {id}, or no longer: what has ended is removed in time."
    ))
}

fn record(job: &Job) -> Value {
    json!({
        "job": job.id.as_str(),
        "process": job.order.process,
        "inputs": job.order.inputs,
        "asker": job.order.asker.to_string(),
        "status": job.status.as_str(),
        "progress": job.progress,
        "message": job.message,
        "problem": job.problem,
        "attempts": job.attempts,
        "worker": job.worker,
        "created": job.created,
        "started": job.started,
        "finished": job.finished,
        "updated": job.updated,
        "expires": job.expires,
    })
}
