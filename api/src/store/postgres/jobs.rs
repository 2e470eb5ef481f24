//! The queue of jobs. A worker takes a job with `FOR UPDATE SKIP LOCKED`, so that workers never wait for one another.

use super::PostgresStore;
use super::column::{as_integer, count, integer, json, parsed, required, unreadable};
use super::failure::{Doing, Given};
use crate::access::Audience;
use crate::store::StoreError;
use crate::store::jobs::{
    Ended, GivenBack, Held, Job, JobFilter, JobId, JobResult, JobStatus, JobStore, Load, Order, Review,
    SET_ASIDE, Terms, millis, set_aside, words,
};
use jiff::Timestamp;
use postgres::{Client, Row};
use serde_json::Value;
use spatial::model::SurfaceId;
use std::time::Duration;

/// Moments come as milliseconds since 1970.
macro_rules! columns {
    () => {
        "number, id, process, inputs, document, asker, status, progress, message, problem, attempts, worker, \
         floor(extract(epoch FROM created) * 1000)::bigint AS created, \
         floor(extract(epoch FROM started) * 1000)::bigint AS started, \
         floor(extract(epoch FROM finished) * 1000)::bigint AS finished, \
         floor(extract(epoch FROM updated) * 1000)::bigint AS updated, \
         floor(extract(epoch FROM expires) * 1000)::bigint AS expires, fence, as_of"
    };
}

/// The database's clock and a span of milliseconds after it. Not `now()`, which stands still in a transaction; and no longer than
/// its calendar goes.
macro_rules! after {
    ($span:literal) => {
        concat!(
            "clock_timestamp() + least(",
            $span,
            "::bigint, 3000000000000) * interval '1 millisecond'"
        )
    };
}

/// The worker's own: it has the lease still, be it over or not.
macro_rules! held {
    () => {
        " WHERE number = $1 AND fence = $2 AND status = 'running'"
    };
}

const WAITING: &str = "SELECT count(*) FROM ( \
     SELECT 1 FROM job WHERE status = 'accepted' AND asker = $1 AND surface IS NULL LIMIT $2) AS waiting";
const ADD: &str = concat!(
    "INSERT INTO job (id, process, inputs, document, asker, surface, as_of, status) \
     VALUES ($1, $2, $3, $4, $5, $6, $7, 'accepted') \
     ON CONFLICT (surface) WHERE surface IS NOT NULL AND status IN ('accepted', 'running') DO NOTHING RETURNING ",
    columns!()
);
/// Whoever begins or ends a review holds its surface's row.
const BEGIN_REVIEW: &str = "INSERT INTO review (surface, revision) VALUES ($1, 0) ON CONFLICT DO NOTHING";
const LAST_REVIEW: &str = "SELECT revision FROM review WHERE surface = $1 FOR UPDATE";
const SET_OUT: &str = concat!(
    "UPDATE job SET status = 'failed', message = $1, problem = $2, finished = clock_timestamp(), \
     updated = clock_timestamp(), expires = ",
    after!("$3"),
    ", lease_ends = NULL, fence = fence + 1 \
     WHERE number IN (SELECT number FROM job WHERE status = 'running' AND lease_ends <= clock_timestamp() \
         AND attempts >= $4 FOR UPDATE SKIP LOCKED)"
);
const CLAIM: &str = concat!(
    "UPDATE job SET status = 'running', progress = 0, attempts = attempts + 1, fence = fence + 1, worker = $1, \
     lease_ends = ",
    after!("$2"),
    ", started = coalesce(started, clock_timestamp()), updated = clock_timestamp() \
     WHERE number = (SELECT number FROM job WHERE status IN ('accepted', 'running') \
         AND ((status = 'accepted' AND due <= clock_timestamp()) \
             OR (status = 'running' AND lease_ends <= clock_timestamp() AND attempts < $3)) \
         ORDER BY number LIMIT 1 FOR UPDATE SKIP LOCKED) RETURNING ",
    columns!()
);
const EXTEND: &str = concat!(
    "UPDATE job SET lease_ends = ",
    after!("$3"),
    ", progress = greatest(progress, $4), updated = clock_timestamp()",
    held!()
);
const FINISH: &str = concat!(
    "UPDATE job SET status = $3, progress = CASE $3 WHEN 'successful' THEN 100 ELSE progress END, \
     message = $4, problem = $5, finished = clock_timestamp(), updated = clock_timestamp(), expires = ",
    after!("$6"),
    ", lease_ends = NULL",
    held!()
);
const GIVE_BACK: &str = concat!(
    "UPDATE job SET status = 'accepted', progress = 0, message = $3, attempts = attempts - $4, due = ",
    after!("$5"),
    ", lease_ends = NULL, updated = clock_timestamp()",
    held!()
);
const KEEP_RESULT: &str = "INSERT INTO job_result (job, crs, body) VALUES ($1, $2, $3)";
/// A review's job is kept until the next one has ended.
const LET_GO: &str = concat!(
    "UPDATE job SET expires = ",
    after!("$2"),
    " WHERE number = (SELECT job FROM review WHERE surface = $1)"
);
const REVIEWED: &str = "UPDATE review SET revision = $2, job = $3 WHERE surface = $1";
const KEEP_JOB: &str = "UPDATE job SET expires = NULL WHERE number = $1";
const DISMISS: &str = concat!(
    "UPDATE job SET status = 'dismissed', message = 'It was called off.', problem = NULL, fence = fence + 1, \
     lease_ends = NULL, finished = coalesce(finished, clock_timestamp()), updated = clock_timestamp(), expires = ",
    after!("$2"),
    " WHERE number = $1 AND status <> 'dismissed' RETURNING ",
    columns!()
);
const COUNTS: &str = "SELECT status, count(*) FROM job GROUP BY status";
const OLDEST: &str = "SELECT greatest(0, coalesce(floor(extract(epoch FROM clock_timestamp() - min(due))), 0))::bigint \
     FROM job WHERE status = 'accepted' AND due <= clock_timestamp()";
const DROP_RESULT: &str = "DELETE FROM job_result WHERE job = $1";
const FORGET_REVIEW: &str = "UPDATE review SET revision = 0, job = NULL WHERE job = $1";
const FIND: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM job WHERE id = $1 AND (expires IS NULL OR expires > clock_timestamp())"
);
const RESULT: &str = "SELECT crs, body FROM job_result WHERE job = $1";
const LIST: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM job WHERE (expires IS NULL OR expires > clock_timestamp()) \
     AND ($1::bigint IS NULL OR number < $1) \
     AND ($2::text[] IS NULL OR process = ANY ($2)) AND ($3::text[] IS NULL OR status = ANY ($3)) \
     AND ($4::bigint IS NULL OR extract(epoch FROM created) * 1000 >= $4) \
     AND ($5::bigint IS NULL OR extract(epoch FROM created) * 1000 < $5 + 1) \
     AND ($6::double precision IS NULL \
         OR extract(epoch FROM coalesce(finished, clock_timestamp()) - started) >= $6) \
     AND ($7::double precision IS NULL \
         OR extract(epoch FROM coalesce(finished, clock_timestamp()) - started) <= $7) \
     ORDER BY number DESC LIMIT $8"
);
const REVIEWS: &str = "SELECT review.surface, revision, id FROM review JOIN job ON job.number = review.job ORDER BY review.surface";
const TRIM: &str = "DELETE FROM job WHERE asker = $1 AND expires IS NOT NULL AND number <= ( \
     SELECT number FROM job WHERE asker = $1 AND expires IS NOT NULL ORDER BY number DESC LIMIT 1 OFFSET $2)";
const EXPIRE: &str = "DELETE FROM job WHERE expires <= clock_timestamp()";

impl JobStore for PostgresStore {
    fn enqueue(&self, order: &Order, most: u64) -> Result<Job, StoreError> {
        const DOING: &str = "putting a job into the queue";
        let id = JobId::random()?;
        let (waiting, added) = self.writers.ask(DOING, |conn| {
            let asked = conn.query_one(WAITING, &[&order.asker.to_string(), &as_integer(most)])?;
            let waiting: u64 = count(&asked, 0)?;
            let added = if waiting < most {
                add(conn, &id, order, None)?
            } else {
                None
            };
            Ok((waiting, added))
        })?;
        if waiting >= most {
            return Err(StoreError::QueueFull(most));
        }
        added.ok_or_else(|| StoreError::Exists("such a job".to_owned()))
    }

    fn enqueue_review(
        &self,
        surface: &SurfaceId,
        revision: u64,
        order: &Order,
    ) -> Result<Option<Job>, StoreError> {
        const DOING: &str = "putting a review into the queue";
        let (id, surface) = (JobId::random()?, surface.to_string());
        let mut writing = self.writers.begin()?;
        writing.execute(BEGIN_REVIEW, &[&surface]).doing(DOING)?;
        let last = writing.query_one(LAST_REVIEW, &[&surface]).doing(DOING)?;
        if count::<u64>(&last, 0).doing(DOING)? >= revision {
            return Ok(None);
        }
        let added = add(&mut writing, &id, order, Some(&surface)).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(added)
    }

    fn claim(&self, terms: &Terms) -> Result<Option<Held>, StoreError> {
        self.writers.ask("taking a job", |conn| {
            let attempts = i64::from(terms.attempts);
            let aside = set_aside().to_string();
            conn.execute(SET_OUT, &[&SET_ASIDE, &aside, &millis(terms.keep), &attempts])?;
            let claimed = conn.query_opt(CLAIM, &[&terms.worker, &millis(terms.lease), &attempts])?;
            claimed
                .map(|row| {
                    Ok(Held {
                        job: read(&row)?,
                        fence: row.try_get("fence")?,
                    })
                })
                .transpose()
        })
    }

    fn extend(&self, held: &Held, lease: Duration, progress: u8) -> Result<bool, StoreError> {
        let (job, progress) = (held.job.number, i64::from(progress));
        self.writers.ask("holding a job", |conn| {
            Ok(conn.execute(EXTEND, &[&job, &held.fence, &millis(lease), &progress])? > 0)
        })
    }

    fn finish(&self, held: &Held, ended: &Ended, keep: Duration) -> Result<bool, StoreError> {
        const DOING: &str = "ending a job";
        let (status, problem) = match ended {
            Ended::Failed(problem) => (JobStatus::Failed, Some(problem)),
            Ended::Answered(_) | Ended::Reviewed(..) => (JobStatus::Successful, None),
        };
        let (message, text) = (problem.map(words), problem.map(Value::to_string));
        let job = held.job.number;
        let mut writing = self.writers.begin()?;
        if let Ended::Reviewed(_, surface, _) = ended {
            // In the order in which a scheduler takes the rows.
            writing
                .query_opt(LAST_REVIEW, &[&surface.to_string()])
                .doing(DOING)?;
        }
        let end = writing.execute(
            FINISH,
            &[
                &job,
                &held.fence,
                &status.as_str(),
                &message,
                &text,
                &millis(keep),
            ],
        );
        if end.doing(DOING)? == 0 {
            return Ok(false);
        }
        keep_result(&mut writing, job, ended, keep).doing(DOING)?;
        writing.commit().doing(DOING)?;
        Ok(true)
    }

    fn give_back(&self, held: &Held, back: &GivenBack) -> Result<bool, StoreError> {
        let uncounted = i64::from(!back.counts);
        self.writers.ask("giving a job back", |conn| {
            let job = held.job.number;
            Ok(conn.execute(
                GIVE_BACK,
                &[&job, &held.fence, &back.message, &uncounted, &millis(back.rest)],
            )? > 0)
        })
    }

    fn dismiss(&self, id: &JobId, keep: Duration) -> Result<Option<Job>, StoreError> {
        const DOING: &str = "calling a job off";
        let mut writing = self.writers.begin()?;
        let found = writing.query_opt(FIND, &[&id.as_str()]).doing(DOING)?;
        let Some(job) = found.map(|row| read(&row)).transpose().doing(DOING)? else {
            return Ok(None);
        };
        // A review's row before its job's, as everywhere.
        writing.execute(FORGET_REVIEW, &[&job.number]).doing(DOING)?;
        let dismissed = writing
            .query_opt(DISMISS, &[&job.number, &millis(keep)])
            .doing(DOING)?;
        writing.execute(DROP_RESULT, &[&job.number]).doing(DOING)?;
        writing.commit().doing(DOING)?;
        let dismissed = dismissed.map(|row| read(&row)).transpose().doing(DOING)?;
        Ok(Some(dismissed.unwrap_or(job)))
    }

    fn job(&self, id: &JobId) -> Result<Option<Job>, StoreError> {
        self.readers.ask("reading a job", |conn| {
            let found = conn.query_opt(FIND, &[&id.as_str()])?;
            found.map(|row| read(&row)).transpose()
        })
    }

    fn job_result(&self, job: &Job) -> Result<Option<JobResult>, StoreError> {
        self.readers.ask("reading a result", |conn| {
            let found = conn.query_opt(RESULT, &[&job.number])?;
            let result = |row: Row| {
                Ok(JobResult {
                    crs: row.try_get(0)?,
                    body: row.try_get(1)?,
                })
            };
            found.map(result).transpose()
        })
    }

    fn jobs(&self, filter: &JobFilter, limit: usize) -> Result<Vec<Job>, StoreError> {
        let statuses = filter.statuses.as_ref();
        let statuses = statuses.map(|all| all.iter().map(|status| status.as_str()).collect::<Vec<_>>());
        let [from, to] = [filter.from, filter.to].map(|end| end.map(Timestamp::as_millisecond));
        self.readers.ask("reading jobs", |conn| {
            let (least, most, limit) = (filter.least_s, filter.most_s, as_integer(limit as u64));
            let rows = conn.query(
                LIST,
                &[
                    &filter.before,
                    &filter.processes,
                    &statuses,
                    &from,
                    &to,
                    &least,
                    &most,
                    &limit,
                ],
            )?;
            rows.iter().map(read).collect()
        })
    }

    fn reviews(&self) -> Result<Vec<Review>, StoreError> {
        self.readers.ask("reading reviews", |conn| {
            let review = |row: &Row| {
                Ok(Review {
                    surface: required(row, 0)?,
                    revision: count(row, 1)?,
                    job: required(row, 2)?,
                })
            };
            conn.query(REVIEWS, &[])?.iter().map(review).collect()
        })
    }

    fn load(&self) -> Result<Load, StoreError> {
        self.readers.ask("counting jobs", |conn| {
            let rows = conn.query(COUNTS, &[])?;
            let told = rows.iter().map(|row| Ok((required(row, 0)?, count(row, 1)?)));
            let told: Vec<(JobStatus, u64)> = told.collect::<Given<_>>()?;
            Ok(Load::of(&told, count(&conn.query_one(OLDEST, &[])?, 0)?))
        })
    }

    fn trim(&self, asker: &Audience, most: u64) -> Result<u64, StoreError> {
        self.writers.ask("removing an asker's old jobs", |conn| {
            Ok(conn.execute(TRIM, &[&asker.to_string(), &as_integer(most)])?)
        })
    }

    fn expire(&self) -> Result<u64, StoreError> {
        self.writers
            .ask("removing old jobs", |conn| Ok(conn.execute(EXPIRE, &[])?))
    }
}

fn add(conn: &mut Client, id: &JobId, order: &Order, surface: Option<&str>) -> Given<Option<Job>> {
    let inputs = Value::from(order.inputs.clone()).to_string();
    let row = conn.query_opt(
        ADD,
        &[
            &id.as_str(),
            &order.process,
            &inputs,
            &order.document,
            &order.asker.to_string(),
            &surface,
            &order.as_of.map(|moment| moment.to_string()),
        ],
    )?;
    row.map(|row| read(&row)).transpose()
}

fn keep_result(conn: &mut Client, job: i64, ended: &Ended, keep: Duration) -> Given<()> {
    let (Ended::Answered(result) | Ended::Reviewed(result, ..)) = ended else {
        return Ok(());
    };
    conn.execute(KEEP_RESULT, &[&job, &result.crs, &result.body])?;
    if let Ended::Reviewed(_, surface, revision) = ended {
        let surface = surface.to_string();
        conn.execute(LET_GO, &[&surface, &millis(keep)])?;
        conn.execute(REVIEWED, &[&surface, &as_integer(*revision), &job])?;
        conn.execute(KEEP_JOB, &[&job])?;
    }
    Ok(())
}

fn read(row: &Row) -> Given<Job> {
    Ok(Job {
        number: row.try_get(0)?,
        id: required(row, 1)?,
        order: Order {
            process: row.try_get(2)?,
            inputs: json(row, 3)?.unwrap_or_default(),
            document: row.try_get(4)?,
            asker: required(row, 5)?,
            as_of: parsed(row, 18)?,
        },
        status: required(row, 6)?,
        progress: count(row, 7)?,
        message: row.try_get(8)?,
        problem: json(row, 9)?,
        attempts: count(row, 10)?,
        worker: row.try_get(11)?,
        created: required_moment(row, 12)?,
        started: moment(row, 13)?,
        finished: moment(row, 14)?,
        updated: required_moment(row, 15)?,
        expires: moment(row, 16)?,
    })
}

fn moment(row: &Row, at: usize) -> Given<Option<Timestamp>> {
    let millis: Option<i64> = integer(row, at)?;
    // What is kept for ever ends beyond the calendar.
    Ok(millis.and_then(|millis| Timestamp::from_millisecond(millis).ok()))
}

fn required_moment(row: &Row, at: usize) -> Given<Timestamp> {
    Timestamp::from_millisecond(count(row, at)?).map_err(|error| unreadable(row, at, error))
}
