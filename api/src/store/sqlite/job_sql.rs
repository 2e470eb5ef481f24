//! The statements of the queue of jobs.

/// Milliseconds since 1970, by the clock of SQLite.
macro_rules! now {
    () => {
        "CAST(unixepoch('subsec') * 1000 AS INTEGER)"
    };
}

macro_rules! columns {
    () => {
        "number, id, process, inputs, document, asker, status, progress, message, problem, attempts, worker, \
         created, started, finished, updated, expires, fence, as_of"
    };
}

/// A job that a worker may take.
macro_rules! free {
    () => {
        concat!(
            "((status = 'accepted' AND due <= ",
            now!(),
            ") OR (status = 'running' AND lease_ends <= ",
            now!(),
            "))"
        )
    };
}

pub(super) const COUNTS: &str = "SELECT status, count(*) FROM job GROUP BY status";
pub(super) const OLDEST: &str = concat!(
    "SELECT max(0, coalesce((",
    now!(),
    " - min(due)) / 1000, 0)) FROM job WHERE status = 'accepted' AND due <= ",
    now!()
);
pub(super) const WAITING: &str = "SELECT count(*) FROM ( \
     SELECT 1 FROM job WHERE status = 'accepted' AND asker = ?1 AND surface IS NULL LIMIT ?2)";
pub(super) const ADD: &str = concat!(
    "INSERT INTO job (id, process, inputs, document, asker, surface, as_of, status, due, created, updated) \
     SELECT :id, :process, :inputs, :document, :asker, :surface, :as_of, 'accepted', now, now, now FROM (SELECT ",
    now!(),
    " AS now) WHERE true ON CONFLICT (surface) WHERE surface IS NOT NULL AND status IN ('accepted', 'running') \
      DO NOTHING RETURNING ",
    columns!()
);
pub(super) const ANY_FREE: &str = concat!(
    "SELECT EXISTS (SELECT 1 FROM job WHERE status IN ('accepted', 'running') AND ",
    free!(),
    ")"
);
pub(super) const SET_OUT: &str = concat!(
    "UPDATE job SET status = 'failed', message = ?1, problem = ?2, finished = ",
    now!(),
    ", updated = ",
    now!(),
    ", expires = ",
    now!(),
    " + ?3, lease_ends = NULL, fence = fence + 1 \
     WHERE status = 'running' AND lease_ends <= ",
    now!(),
    " AND attempts >= ?4"
);
pub(super) const CLAIM: &str = concat!(
    "UPDATE job SET status = 'running', progress = 0, attempts = attempts + 1, fence = fence + 1, worker = ?1, \
     lease_ends = ",
    now!(),
    " + ?2, started = coalesce(started, ",
    now!(),
    "), updated = ",
    now!(),
    " WHERE number = (SELECT number FROM job WHERE status IN ('accepted', 'running') AND ",
    free!(),
    " ORDER BY number LIMIT 1) RETURNING ",
    columns!()
);
/// The worker's own: it has the lease still, be it over or not.
macro_rules! held {
    () => {
        " WHERE number = :number AND fence = :fence AND status = 'running'"
    };
}
pub(super) const EXTEND: &str = concat!(
    "UPDATE job SET lease_ends = ",
    now!(),
    " + :lease, progress = max(progress, :progress), updated = ",
    now!(),
    held!()
);
pub(super) const FINISH: &str = concat!(
    "UPDATE job SET status = :status, progress = CASE :status WHEN 'successful' THEN 100 ELSE progress END, \
     message = :message, problem = :problem, finished = ",
    now!(),
    ", updated = ",
    now!(),
    ", expires = ",
    now!(),
    " + :keep, lease_ends = NULL",
    held!()
);
pub(super) const GIVE_BACK: &str = concat!(
    "UPDATE job SET status = 'accepted', progress = 0, message = :message, attempts = attempts - :uncounted, \
     due = ",
    now!(),
    " + :rest, lease_ends = NULL, updated = ",
    now!(),
    held!()
);
pub(super) const KEEP_RESULT: &str = "INSERT INTO job_result (job, crs, body) VALUES (?1, ?2, ?3)";
pub(super) const LAST_REVIEW: &str = "SELECT revision FROM review WHERE surface = ?1";
/// A review's job is kept until the next one has ended.
pub(super) const LET_GO: &str = concat!(
    "UPDATE job SET expires = ",
    now!(),
    " + ?2 WHERE number = (SELECT job FROM review WHERE surface = ?1)"
);
pub(super) const REVIEWED: &str = "INSERT INTO review (surface, revision, job) VALUES (?1, ?2, ?3) \
     ON CONFLICT (surface) DO UPDATE SET revision = excluded.revision, job = excluded.job";
pub(super) const KEEP_JOB: &str = "UPDATE job SET expires = NULL WHERE number = ?1";
pub(super) const DISMISS: &str = concat!(
    "UPDATE job SET status = 'dismissed', message = 'It was called off.', problem = NULL, fence = fence + 1, lease_ends = NULL, \
     finished = coalesce(finished, ",
    now!(),
    "), updated = ",
    now!(),
    ", expires = ",
    now!(),
    " + ?2 \
     WHERE id = ?1 AND status <> 'dismissed' RETURNING ",
    columns!()
);
pub(super) const DROP_RESULT: &str = "DELETE FROM job_result WHERE job = ?1";
pub(super) const FORGET_REVIEW: &str = "DELETE FROM review WHERE job = ?1";
pub(super) const FIND: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM job WHERE id = ?1 AND (expires IS NULL OR expires > ",
    now!(),
    ")"
);
pub(super) const RESULT: &str = "SELECT crs, body FROM job_result WHERE job = ?1";
pub(super) const LIST: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM job WHERE (expires IS NULL OR expires > ",
    now!(),
    ") \
     AND (:before IS NULL OR number < :before) \
     AND (:processes IS NULL OR process IN (SELECT value FROM json_each(:processes))) \
     AND (:statuses IS NULL OR status IN (SELECT value FROM json_each(:statuses))) \
     AND (:from IS NULL OR created >= :from) AND (:to IS NULL OR created <= :to) \
     AND (:least IS NULL OR coalesce(finished, ",
    now!(),
    ") - started >= :least * 1000) \
     AND (:most IS NULL OR coalesce(finished, ",
    now!(),
    ") - started <= :most * 1000) \
     ORDER BY number DESC LIMIT :limit"
);
pub(super) const REVIEWS: &str = "SELECT review.surface, revision, id FROM review JOIN job ON job.number = review.job ORDER BY review.surface";
pub(super) const EXPIRE: &str = concat!("DELETE FROM job WHERE expires <= ", now!());
pub(super) const ANY_TO_TRIM: &str = "SELECT number FROM job WHERE asker = ?1 AND expires IS NOT NULL \
     ORDER BY number DESC LIMIT 1 OFFSET ?2";
pub(super) const TRIM: &str = "DELETE FROM job WHERE asker = ?1 AND expires IS NOT NULL AND number <= ?2";
pub(super) const ANY_EXPIRED: &str =
    concat!("SELECT EXISTS (SELECT 1 FROM job WHERE expires <= ", now!(), ")");
