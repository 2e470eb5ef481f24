//! The queue of jobs: work that an asker does not wait for, taken by workers on any number of machines.
//!
//! A worker holds a job by a lease that ends by the database's own clock, so that clocks of machines that differ lose nothing.
//! Each lease has a number of its own, the fence: a worker that has lost its lease can neither finish the job nor give it back.
//! What one does to a job twice must do no harm: a worker that is cut off goes on until it hears that the job is another's.

use super::StoreError;
use crate::access::Audience;
use jiff::Timestamp;
use serde_json::{Map, Value};
use spatial::model::SurfaceId;
use std::fmt;
use std::str::FromStr;
use std::time::Duration;

/// The name of a job: 128 random bits, so that nobody finds another's results by guessing.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct JobId(String);

impl JobId {
    /// A new one, from the system's own randomness.
    ///
    /// # Errors
    /// When the system has none to give.
    pub fn random() -> Result<Self, StoreError> {
        let mut bits = [0; 16];
        getrandom::fill(&mut bits).map_err(|error| StoreError::Failed {
            doing: "drawing a job's name",
            source: error.to_string().into(),
        })?;
        Ok(Self(bits.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// Its text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for JobId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A text that names no job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a job's name is 32 digits and letters from a to f")]
pub struct NoJobId;

impl FromStr for JobId {
    type Err = NoJobId;

    fn from_str(text: &str) -> Result<Self, NoJobId> {
        let fits = text.len() == 32 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        fits.then(|| Self(text.to_owned())).ok_or(NoJobId)
    }
}

/// How far a job has come, in the standard's words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum JobStatus {
    /// It waits.
    Accepted,
    /// A worker holds it.
    Running,
    /// Its result is there.
    Successful,
    /// It has no result; its problem tells why.
    Failed,
    /// Somebody has called it off.
    Dismissed,
}

impl JobStatus {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Accepted,
        Self::Running,
        Self::Successful,
        Self::Failed,
        Self::Dismissed,
    ];

    /// Its name.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Accepted => "accepted",
            Self::Running => "running",
            Self::Successful => "successful",
            Self::Failed => "failed",
            Self::Dismissed => "dismissed",
        }
    }

    /// Whether nothing more will become of it.
    #[must_use]
    pub fn is_final(self) -> bool {
        !matches!(self, Self::Accepted | Self::Running)
    }
}

impl fmt::Display for JobStatus {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

/// A word that is no status.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a status is accepted, running, successful, failed or dismissed")]
pub struct NoJobStatus;

impl FromStr for JobStatus {
    type Err = NoJobStatus;

    fn from_str(text: &str) -> Result<Self, NoJobStatus> {
        let found = Self::ALL.into_iter().find(|status| status.as_str() == text);
        found.ok_or(NoJobStatus)
    }
}

/// What is to be done, and for whom.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// The id of a query, or `review`.
    pub process: String,
    /// Its inputs by name.
    pub inputs: Map<String, Value>,
    /// Whether results are wanted as a document; raw otherwise.
    pub document: bool,
    /// For whom it is computed.
    pub asker: Audience,
    /// The moment as of which the record is read; `None` for when the job is done.
    pub as_of: Option<Timestamp>,
}

/// What waits in a queue.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Load {
    /// How many jobs have each status; statuses without any are there, too.
    pub counts: Vec<(JobStatus, u64)>,
    /// How long the oldest job has waited that could begin now, whole seconds; 0 where none waits.
    pub oldest_waiting_s: u64,
}

impl Load {
    /// All statuses, with the counts of those that a store has told.
    pub(crate) fn of(told: &[(JobStatus, u64)], oldest_waiting_s: u64) -> Self {
        let count = |status| {
            told.iter()
                .filter(|(other, _)| *other == status)
                .map(|(_, count)| count)
                .sum()
        };
        Self {
            counts: JobStatus::ALL.map(|status| (status, count(status))).to_vec(),
            oldest_waiting_s,
        }
    }
}

/// A job as the queue has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its place in the order in which jobs came.
    pub number: i64,
    /// Its name.
    pub id: JobId,
    /// What is to be done.
    pub order: Order,
    /// How far it has come.
    pub status: JobStatus,
    /// The same in percent.
    pub progress: u8,
    /// What there is to say of it.
    pub message: Option<String>,
    /// Why it failed: a problem document.
    pub problem: Option<Value>,
    /// How often a worker has begun it.
    pub attempts: u32,
    /// Who holds it, or held it last.
    pub worker: Option<String>,
    /// When it came.
    pub created: Timestamp,
    /// When a worker first began it.
    pub started: Option<Timestamp>,
    /// When it ended.
    pub finished: Option<Timestamp>,
    /// When anything of this was last changed.
    pub updated: Timestamp,
    /// When it will be removed.
    pub expires: Option<Timestamp>,
}

/// A job that a worker holds.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// The job.
    pub job: Job,
    /// The number of the lease.
    pub fence: i64,
}

/// On which terms a worker takes jobs.
#[derive(Debug, Clone)]
pub struct Terms {
    /// What the worker calls itself.
    pub worker: String,
    /// How long it holds a job without a sign of life.
    pub lease: Duration,
    /// How often a job is begun before it is set aside.
    pub attempts: u32,
    /// How long what has ended can be read.
    pub keep: Duration,
}

/// The result of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobResult {
    /// The URI of the CRS of its coordinates.
    pub crs: String,
    /// GeoJSON.
    pub body: Vec<u8>,
}

/// How a job ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Ended {
    /// With a result.
    Answered(JobResult),
    /// The same, of a review of a surface, which it left at this contents revision.
    Reviewed(JobResult, SurfaceId, u64),
    /// With a problem.
    Failed(Value),
}

/// Why a job goes back into the queue, and when it may be taken again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GivenBack {
    /// What to say of it meanwhile.
    pub message: Option<String>,
    /// How long it rests.
    pub rest: Duration,
    /// Whether this attempt counts.
    pub counts: bool,
}

/// Which jobs a list has.
#[derive(Debug, Clone, Default)]
pub struct JobFilter {
    /// Only these processes.
    pub processes: Option<Vec<String>>,
    /// Only these statuses.
    pub statuses: Option<Vec<JobStatus>>,
    /// Only those that came then or later.
    pub from: Option<Timestamp>,
    /// Only those that came then or before.
    pub to: Option<Timestamp>,
    /// Only those that have run for at least so long, seconds.
    pub least_s: Option<f64>,
    /// Only those that have run for at most so long, seconds.
    pub most_s: Option<f64>,
    /// Only those that came before the job with this number.
    pub before: Option<i64>,
}

/// The last review of a surface.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Review {
    /// The surface.
    pub surface: SurfaceId,
    /// The contents revision at which the review left it.
    pub revision: u64,
    /// Its job.
    pub job: JobId,
}

/// The process that reviews a surface: groups its prints, keeps what is new as proposals, and links trackways across gaps.
pub const REVIEW: &str = "review";

/// A keeper of the queue.
pub trait JobStore: Send + Sync {
    /// Puts a job at the end of the queue. No asker has more than `most` jobs waiting.
    ///
    /// # Errors
    /// [`StoreError::QueueFull`], or when the store fails.
    fn enqueue(&self, order: &Order, most: u64) -> Result<Job, StoreError>;

    /// Puts the review of a surface that stands at a contents revision at the end of the queue, unless there
    /// is one already or the last review has left the surface at that revision or a later one.
    ///
    /// # Errors
    /// When the store fails.
    fn enqueue_review(
        &self,
        surface: &SurfaceId,
        revision: u64,
        order: &Order,
    ) -> Result<Option<Job>, StoreError>;

    /// Takes the first job that waits, or whose worker has given no sign of life for the time of its lease. A job that
    /// was begun as often as the terms allow fails instead.
    ///
    /// # Errors
    /// When the store fails.
    fn claim(&self, terms: &Terms) -> Result<Option<Held>, StoreError>;

    /// A sign of life: the lease begins anew. False where the job is no longer the worker's: it was dismissed, or the
    /// lease had ended and another has it.
    ///
    /// # Errors
    /// When the store fails.
    fn extend(&self, held: &Held, lease: Duration, progress: u8) -> Result<bool, StoreError>;

    /// Ends a job; what ended is kept for so long. False where the job is no longer the worker's; nothing is stored then.
    ///
    /// # Errors
    /// When the store fails.
    fn finish(&self, held: &Held, ended: &Ended, keep: Duration) -> Result<bool, StoreError>;

    /// Puts a job back. False where it is no longer the worker's.
    ///
    /// # Errors
    /// When the store fails.
    fn give_back(&self, held: &Held, back: &GivenBack) -> Result<bool, StoreError>;

    /// Calls a job off, whatever has become of it; its result goes. `None` where there is no such job.
    ///
    /// # Errors
    /// When the store fails.
    fn dismiss(&self, id: &JobId, keep: Duration) -> Result<Option<Job>, StoreError>;

    /// A job; `None` where there is none, or no longer.
    ///
    /// # Errors
    /// When the store fails.
    fn job(&self, id: &JobId) -> Result<Option<Job>, StoreError>;

    /// The result of a job, where it has one.
    ///
    /// # Errors
    /// When the store fails.
    fn job_result(&self, job: &Job) -> Result<Option<JobResult>, StoreError>;

    /// How many jobs there are of each status, and how long the oldest that could begin has waited.
    ///
    /// # Errors
    /// When the store fails.
    fn load(&self) -> Result<Load, StoreError>;

    /// The jobs that came last, the newest first.
    ///
    /// # Errors
    /// When the store fails.
    fn jobs(&self, filter: &JobFilter, limit: usize) -> Result<Vec<Job>, StoreError>;

    /// The last review of each surface that was reviewed.
    ///
    /// # Errors
    /// When the store fails.
    fn reviews(&self) -> Result<Vec<Review>, StoreError>;

    /// Removes what an asker has had done but for the last so many jobs, and tells how many those were.
    ///
    /// # Errors
    /// When the store fails.
    fn trim(&self, asker: &Audience, most: u64) -> Result<u64, StoreError>;

    /// Removes the jobs whose time is over, and tells how many.
    ///
    /// # Errors
    /// When the store fails.
    fn expire(&self) -> Result<u64, StoreError>;
}

/// A span of time in the milliseconds that databases count in.
pub(super) fn millis(span: Duration) -> i64 {
    i64::try_from(span.as_millis())
        .unwrap_or(i64::MAX / 4)
        .min(i64::MAX / 4)
}

/// The message of a job whose workers have all died over it.
pub(super) const SET_ASIDE: &str =
    "Each worker that began this job ended before it did; it is not tried again.";

/// The problem document of such a job.
pub(super) fn set_aside() -> Value {
    serde_json::json!({
        "type": "about:blank", "title": "Internal Server Error", "status": 500, "detail": SET_ASIDE,
    })
}

/// What a failed job says of itself: its problem's own words.
pub(super) fn words(problem: &Value) -> &str {
    problem["detail"].as_str().unwrap_or("It failed.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_long_and_differ() {
        let (one, other) = (JobId::random().unwrap(), JobId::random().unwrap());
        assert_ne!(one, other);
        assert_eq!(one.as_str().parse(), Ok(one.clone()));
        for text in ["", "1", "ABCDEFABCDEFABCDEFABCDEFABCDEFAB", &format!("{one}0")] {
            assert_eq!(text.parse::<JobId>(), Err(NoJobId), "{text}");
        }
    }

    #[test]
    fn statuses_have_the_standards_names() {
        for status in JobStatus::ALL {
            assert_eq!(status.to_string().parse(), Ok(status));
        }
        assert_eq!("done".parse::<JobStatus>(), Err(NoJobStatus));
    }

    #[test]
    fn endless_spans_fit_into_the_databases_integers() {
        assert_eq!(millis(Duration::from_secs(2)), 2_000);
        assert!(millis(Duration::MAX).checked_add(i64::MAX / 2).is_some());
    }
}
