//! The queue of jobs. Each step is one immediate transaction: two workers never see the same job waiting.

use super::SqliteStore;
use super::column::{json, parsed, required, text, unreadable};
use super::connections::Writing;
use super::failure::Doing;
use super::job_sql::{
    ADD, ANY_EXPIRED, ANY_FREE, ANY_TO_TRIM, CLAIM, COUNTS, DISMISS, DROP_RESULT, EXPIRE, EXTEND, FIND,
    FINISH, FORGET_REVIEW, GIVE_BACK, KEEP_JOB, KEEP_RESULT, LAST_REVIEW, LET_GO, LIST, OLDEST, RESULT,
    REVIEWED, REVIEWS, SET_OUT, TRIM, WAITING,
};
use crate::access::Audience;
use crate::store::StoreError;
use crate::store::jobs::{
    Ended, GivenBack, Held, Job, JobFilter, JobId, JobResult, JobStatus, JobStore, Load, Order, Review,
    SET_ASIDE, Terms, millis, set_aside, words,
};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Row, named_params};
use serde_json::Value;
use spatial::model::SurfaceId;
use std::time::Duration;

impl JobStore for SqliteStore {
    fn enqueue(&self, order: &Order, most: u64) -> Result<Job, StoreError> {
        const DOING: &str = "putting a job into the queue";
        let writing = self.writer.begin()?;
        let asker = order.asker.to_string();
        let waiting: u64 = writing
            .query_row(WAITING, (asker, most), |row| row.get(0))
            .doing(DOING)?;
        if waiting >= most {
            return Err(StoreError::QueueFull(most));
        }
        let added = add(&writing, order, None)?;
        writing.commit().doing(DOING)?;
        added.ok_or_else(|| StoreError::Exists("such a job".to_owned()))
    }

    fn enqueue_review(
        &self,
        surface: &SurfaceId,
        revision: u64,
        order: &Order,
    ) -> Result<Option<Job>, StoreError> {
        const DOING: &str = "putting a review into the queue";
        let writing = self.writer.begin()?;
        let surface = surface.to_string();
        let last = writing
            .query_row(LAST_REVIEW, [&surface], |row| row.get::<_, u64>(0))
            .optional();
        if last.doing(DOING)?.is_some_and(|last| last >= revision) {
            return Ok(None);
        }
        let added = add(&writing, order, Some(&surface))?;
        writing.commit().doing(DOING)?;
        Ok(added)
    }

    fn claim(&self, terms: &Terms) -> Result<Option<Held>, StoreError> {
        const DOING: &str = "taking a job";
        // Looked at first without a lock: idle workers keep nobody from writing.
        let any: bool = self
            .readers
            .read(DOING, |moment| moment.query_row(ANY_FREE, [], |row| row.get(0)))?;
        if !any {
            return Ok(None);
        }
        let writing = self.writer.begin()?;
        let aside = (
            SET_ASIDE,
            set_aside().to_string(),
            millis(terms.keep),
            terms.attempts,
        );
        writing.execute(SET_OUT, aside).doing(DOING)?;
        let claim = (&terms.worker, millis(terms.lease));
        let held = writing.query_row(CLAIM, claim, |row| {
            Ok(Held {
                job: read(row)?,
                fence: row.get("fence")?,
            })
        });
        let held = held.optional().doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(held)
    }

    fn extend(&self, held: &Held, lease: Duration, progress: u8) -> Result<bool, StoreError> {
        const DOING: &str = "holding a job";
        let writing = self.writer.begin()?;
        let changed = writing.execute(
            EXTEND,
            named_params! { ":number": held.job.number, ":fence": held.fence, ":lease": millis(lease), ":progress": progress },
        );
        committed(writing, changed, DOING)
    }

    fn finish(&self, held: &Held, ended: &Ended, keep: Duration) -> Result<bool, StoreError> {
        const DOING: &str = "ending a job";
        let writing = self.writer.begin()?;
        let (status, problem) = match ended {
            Ended::Failed(problem) => (JobStatus::Failed, Some(problem)),
            Ended::Answered(_) | Ended::Reviewed(..) => (JobStatus::Successful, None),
        };
        let changed = writing.execute(
            FINISH,
            named_params! {
                ":number": held.job.number, ":fence": held.fence, ":status": status.as_str(),
                ":message": problem.map(words), ":problem": problem.map(Value::to_string), ":keep": millis(keep),
            },
        );
        if changed.doing(DOING)? == 0 {
            return Ok(false);
        }
        keep_result(&writing, held.job.number, ended, keep).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(true)
    }

    fn give_back(&self, held: &Held, back: &GivenBack) -> Result<bool, StoreError> {
        let writing = self.writer.begin()?;
        let changed = writing.execute(
            GIVE_BACK,
            named_params! {
                ":number": held.job.number, ":fence": held.fence, ":message": back.message,
                ":uncounted": i64::from(!back.counts), ":rest": millis(back.rest),
            },
        );
        committed(writing, changed, "giving a job back")
    }

    fn dismiss(&self, id: &JobId, keep: Duration) -> Result<Option<Job>, StoreError> {
        const DOING: &str = "calling a job off";
        let writing = self.writer.begin()?;
        let Some(job) = writing
            .query_row(FIND, [id.as_str()], read)
            .optional()
            .doing(DOING)?
        else {
            return Ok(None);
        };
        let dismissed = writing
            .query_row(DISMISS, (id.as_str(), millis(keep)), read)
            .optional();
        let dismissed = dismissed.doing(DOING)?;
        writing.execute(DROP_RESULT, [job.number]).doing(DOING)?;
        writing.execute(FORGET_REVIEW, [job.number]).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(Some(dismissed.unwrap_or(job)))
    }

    fn job(&self, id: &JobId) -> Result<Option<Job>, StoreError> {
        self.readers.read("reading a job", |moment| {
            moment
                .prepare_cached(FIND)?
                .query_row([id.as_str()], read)
                .optional()
        })
    }

    fn job_result(&self, job: &Job) -> Result<Option<JobResult>, StoreError> {
        self.readers.read("reading a result", |moment| {
            let result = |row: &Row<'_>| {
                Ok(JobResult {
                    crs: row.get(0)?,
                    body: row.get(1)?,
                })
            };
            moment.query_row(RESULT, [job.number], result).optional()
        })
    }

    fn jobs(&self, filter: &JobFilter, limit: usize) -> Result<Vec<Job>, StoreError> {
        let statuses = filter
            .statuses
            .as_ref()
            .map(|all| all.iter().map(|status| status.as_str()).collect());
        self.readers.read("reading jobs", |moment| {
            let mut list = moment.prepare_cached(LIST)?;
            let found = list.query_map(
                named_params! {
                    ":before": filter.before,
                    ":processes": filter.processes.as_ref().map(|all| Value::from(all.clone()).to_string()),
                    ":statuses": statuses.map(|all: Vec<&str>| Value::from(all).to_string()),
                    ":from": filter.from.map(Timestamp::as_millisecond), ":to": filter.to.map(Timestamp::as_millisecond),
                    ":least": filter.least_s, ":most": filter.most_s, ":limit": limit,
                },
                read,
            )?;
            found.collect()
        })
    }

    fn reviews(&self) -> Result<Vec<Review>, StoreError> {
        self.readers.read("reading reviews", |moment| {
            let mut all = moment.prepare_cached(REVIEWS)?;
            let review = |row: &Row<'_>| {
                Ok(Review {
                    surface: required(row, 0)?,
                    revision: row.get(1)?,
                    job: required(row, 2)?,
                })
            };
            let reviews = all.query_map([], review)?;
            reviews.collect()
        })
    }

    fn load(&self) -> Result<Load, StoreError> {
        self.readers.read("counting jobs", |moment| {
            let mut select = moment.prepare_cached(COUNTS)?;
            let told = select.query_map([], |row| Ok((required(row, 0)?, row.get(1)?)))?;
            let told: Vec<(JobStatus, u64)> = told.collect::<rusqlite::Result<_>>()?;
            let oldest = moment.query_row(OLDEST, [], |row| row.get(0))?;
            Ok(Load::of(&told, oldest))
        })
    }

    fn trim(&self, asker: &Audience, most: u64) -> Result<u64, StoreError> {
        const DOING: &str = "removing an asker's old jobs";
        let last: Option<i64> = self.readers.read(DOING, |moment| {
            let first_too_many = (asker.to_string(), most);
            moment
                .query_row(ANY_TO_TRIM, first_too_many, |row| row.get(0))
                .optional()
        })?;
        let Some(last) = last else { return Ok(0) };
        let writing = self.writer.begin()?;
        let removed = writing.execute(TRIM, (asker.to_string(), last)).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(removed as u64)
    }

    fn expire(&self) -> Result<u64, StoreError> {
        const DOING: &str = "removing old jobs";
        let any: bool = self.readers.read(DOING, |moment| {
            moment.query_row(ANY_EXPIRED, [], |row| row.get(0))
        })?;
        if !any {
            return Ok(0);
        }
        let writing = self.writer.begin()?;
        let removed = writing.execute(EXPIRE, []).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(removed as u64)
    }
}

fn add(writing: &Connection, order: &Order, surface: Option<&str>) -> Result<Option<Job>, StoreError> {
    let id = JobId::random()?;
    let added = writing.query_row(
        ADD,
        named_params! {
            ":id": id.as_str(), ":process": order.process, ":inputs": Value::from(order.inputs.clone()).to_string(),
            ":document": order.document, ":asker": order.asker.to_string(), ":surface": surface,
            ":as_of": order.as_of.map(|moment| moment.to_string()),
        },
        read,
    );
    added.optional().doing("putting a job into the queue")
}

fn keep_result(writing: &Connection, job: i64, ended: &Ended, keep: Duration) -> rusqlite::Result<()> {
    let (Ended::Answered(result) | Ended::Reviewed(result, ..)) = ended else {
        return Ok(());
    };
    writing.execute(KEEP_RESULT, (job, &result.crs, &result.body))?;
    if let Ended::Reviewed(_, surface, revision) = ended {
        let surface = surface.to_string();
        writing.execute(LET_GO, (&surface, millis(keep)))?;
        writing.execute(REVIEWED, (&surface, revision, job))?;
        writing.execute(KEEP_JOB, [job])?;
    }
    Ok(())
}

/// Commits a step that changed one job or none.
fn committed(
    writing: Writing<'_>,
    changed: rusqlite::Result<usize>,
    doing: &'static str,
) -> Result<bool, StoreError> {
    let changed = changed.doing(doing)?;
    writing.commit().doing(doing)?;
    Ok(changed > 0)
}

fn read(row: &Row<'_>) -> rusqlite::Result<Job> {
    Ok(Job {
        number: row.get(0)?,
        id: required(row, 1)?,
        order: Order {
            process: row.get(2)?,
            inputs: json(row, 3)?.unwrap_or_default(),
            document: row.get(4)?,
            asker: required(row, 5)?,
            as_of: parsed(row, 18)?,
        },
        status: required(row, 6)?,
        progress: row.get(7)?,
        message: text(row, 8)?.map(str::to_owned),
        problem: json(row, 9)?,
        attempts: row.get(10)?,
        worker: parsed(row, 11)?,
        created: required_moment(row, 12)?,
        started: moment(row, 13)?,
        finished: moment(row, 14)?,
        updated: required_moment(row, 15)?,
        expires: moment(row, 16)?,
    })
}

fn moment(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<Timestamp>> {
    let millis: Option<i64> = row.get(at)?;
    // What is kept for ever ends beyond the calendar.
    Ok(millis.and_then(|millis| Timestamp::from_millisecond(millis).ok()))
}

fn required_moment(row: &Row<'_>, at: usize) -> rusqlite::Result<Timestamp> {
    Timestamp::from_millisecond(row.get(at)?).map_err(|error| unreadable(at, error))
}
