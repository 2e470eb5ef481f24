//! The queue of jobs.

use super::Trial;
use crate::access::Audience;
use crate::store::Store;
use crate::store::jobs::{Ended, GivenBack, Held, Job, JobResult, JobStatus, JobStore, Order, Terms};
use serde_json::{Map, Value, json};
use std::collections::HashSet;
use std::sync::Barrier;
use std::thread;
use std::time::Duration;

pub(super) const LONG: Duration = Duration::from_secs(3_600);
pub(super) const OVER: Duration = Duration::ZERO;
pub(super) const MANY: u64 = 1_000;

pub(super) fn order(process: &str) -> Order {
    Order {
        process: process.to_owned(),
        inputs: Map::from_iter([("surface".to_owned(), json!("gull-ledge:S1"))]),
        document: true,
        asker: Audience::Public,
        as_of: jiff::Timestamp::new(1_777_680_000, 123_456_789).ok(),
    }
}

pub(super) fn terms(lease: Duration) -> Terms {
    Terms {
        worker: "a worker".to_owned(),
        lease,
        attempts: 3,
        keep: LONG,
    }
}

pub(super) fn claimed(queue: &dyn JobStore, lease: Duration) -> Held {
    queue.claim(&terms(lease)).unwrap().expect("a job waits")
}

pub(super) fn answer(text: &str) -> JobResult {
    JobResult {
        crs: "http://www.opengis.net/def/crs/OGC/1.3/CRS84".to_owned(),
        body: text.as_bytes().to_owned(),
    }
}

pub(super) fn answered(text: &str) -> Ended {
    Ended::Answered(answer(text))
}

pub(super) fn now(queue: &dyn JobStore, job: &Job) -> Job {
    queue.job(&job.id).unwrap().expect("the job is there")
}

pub(crate) fn a_job_reads_back_as_it_came(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let job = queue.enqueue(&order("gait"), MANY).unwrap();
    assert_eq!(job.order, order("gait"));
    assert_eq!(
        (job.status, job.progress, job.attempts),
        (JobStatus::Accepted, 0, 0)
    );
    assert_eq!((job.started, job.finished, job.expires), (None, None, None));
    assert_eq!(now(queue, &job), job);
    assert_eq!(trial.again().queue().job(&job.id).unwrap(), Some(job.clone()));
    assert_eq!(queue.job_result(&job).unwrap(), None);
    let other = queue.enqueue(&order("gait"), MANY).unwrap();
    assert_ne!(other.id, job.id);
    assert_eq!(
        queue.job(&crate::store::jobs::JobId::random().unwrap()).unwrap(),
        None
    );
}

pub(crate) fn a_job_goes_its_way(trial: &dyn Trial) {
    let queue = trial.store().queue();
    assert_eq!(
        queue.claim(&terms(LONG)).unwrap(),
        None,
        "an empty queue has nothing"
    );
    let job = queue.enqueue(&order("gait"), MANY).unwrap();
    let held = claimed(queue, LONG);
    assert_eq!(held.job.id, job.id);
    assert_eq!((held.job.status, held.job.attempts), (JobStatus::Running, 1));
    assert_eq!(held.job.worker.as_deref(), Some("a worker"));
    assert_eq!(queue.claim(&terms(LONG)).unwrap(), None, "it is held");
    assert!(queue.extend(&held, LONG, 40).unwrap());
    assert!(queue.extend(&held, LONG, 30).unwrap());
    assert_eq!(now(queue, &job).progress, 40, "progress never goes back");
    assert!(queue.finish(&held, &answered("{}"), LONG).unwrap());
    let done = now(queue, &job);
    assert_eq!((done.status, done.progress), (JobStatus::Successful, 100));
    assert!(done.created <= done.started.unwrap() && done.started <= done.finished);
    assert!(done.expires > done.finished);
    assert_eq!(queue.job_result(&done).unwrap(), Some(answer("{}")));
    assert!(!queue.finish(&held, &answered("again"), LONG).unwrap());
    assert_eq!(queue.job_result(&done).unwrap(), Some(answer("{}")));
    assert_eq!(queue.claim(&terms(LONG)).unwrap(), None);
}

pub(crate) fn jobs_are_taken_in_the_order_in_which_they_came(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let came: Vec<_> = (0..5)
        .map(|_| queue.enqueue(&order("gait"), MANY).unwrap().id)
        .collect();
    let taken: Vec<_> = (0..5).map(|_| claimed(queue, LONG).job.id).collect();
    assert_eq!(taken, came);
}

pub(crate) fn workers_at_once_take_each_job_once(trial: &dyn Trial) {
    const JOBS: usize = 60;
    for _ in 0..JOBS {
        trial.store().queue().enqueue(&order("gait"), MANY).unwrap();
    }
    let stores: Vec<Box<dyn Store>> = (0..4).map(|_| trial.again()).collect();
    let start = Barrier::new(stores.len());
    let taken: Vec<_> = thread::scope(|scope| {
        let workers: Vec<_> = stores
            .iter()
            .map(|store| {
                scope.spawn(|| {
                    start.wait();
                    let mut taken = Vec::new();
                    while let Some(held) = store.queue().claim(&terms(LONG)).unwrap() {
                        taken.push(held.job.id.clone());
                        assert!(store.queue().finish(&held, &answered("{}"), LONG).unwrap());
                    }
                    taken
                })
            })
            .collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap())
            .collect()
    });
    assert_eq!(taken.len(), JOBS);
    assert_eq!(taken.into_iter().collect::<HashSet<_>>().len(), JOBS);
}

pub(crate) fn who_has_lost_the_lease_cannot_finish(trial: &dyn Trial) {
    let (one, other) = (trial.store(), trial.again());
    let job = one.queue().enqueue(&order("gait"), MANY).unwrap();
    let dead = claimed(one.queue(), OVER);
    let heir = claimed(other.queue(), LONG);
    assert_eq!((&heir.job.id, heir.job.attempts), (&job.id, 2));
    assert!(heir.fence > dead.fence);
    let queue = one.queue();
    assert!(!queue.extend(&dead, LONG, 99).unwrap());
    assert!(!queue.finish(&dead, &answered("of the dead"), LONG).unwrap());
    let back = GivenBack {
        message: None,
        rest: OVER,
        counts: true,
    };
    assert!(!queue.give_back(&dead, &back).unwrap());
    assert!(
        other
            .queue()
            .finish(&heir, &answered("of the heir"), LONG)
            .unwrap()
    );
    let done = now(queue, &job);
    assert_eq!((done.status, done.attempts), (JobStatus::Successful, 2));
    assert_eq!(queue.job_result(&done).unwrap(), Some(answer("of the heir")));
}

pub(crate) fn a_sign_of_life_begins_the_lease_anew(trial: &dyn Trial) {
    let queue = trial.store().queue();
    queue.enqueue(&order("gait"), MANY).unwrap();
    let held = claimed(queue, OVER);
    // Nobody has come meanwhile: the job is still the worker's.
    assert!(queue.extend(&held, LONG, 0).unwrap());
    assert_eq!(queue.claim(&terms(LONG)).unwrap(), None);
    assert!(queue.finish(&held, &answered("{}"), LONG).unwrap());
}

pub(crate) fn a_job_that_kills_its_workers_is_set_aside(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let poison = queue.enqueue(&order("gait"), MANY).unwrap();
    let next = queue.enqueue(&order("gait"), MANY).unwrap();
    for attempt in 1..=3 {
        let held = claimed(queue, OVER);
        assert_eq!((&held.job.id, held.job.attempts), (&poison.id, attempt));
    }
    assert_eq!(claimed(queue, LONG).job.id, next.id);
    let aside = now(queue, &poison);
    assert_eq!((aside.status, aside.attempts), (JobStatus::Failed, 3));
    assert_eq!(aside.problem.as_ref().unwrap()["status"], 500);
    assert!(aside.message.is_some() && aside.finished.is_some() && aside.expires.is_some());
}

pub(crate) fn a_job_given_back_comes_again(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let job = queue.enqueue(&order("gait"), MANY).unwrap();
    let back = |rest, counts| GivenBack {
        message: Some("It rests.".to_owned()),
        rest,
        counts,
    };
    assert!(
        queue
            .give_back(&claimed(queue, LONG), &back(OVER, false))
            .unwrap()
    );
    let waiting = now(queue, &job);
    assert_eq!((waiting.status, waiting.attempts), (JobStatus::Accepted, 0));
    assert_eq!(waiting.message.as_deref(), Some("It rests."));
    let held = claimed(queue, LONG);
    assert!(queue.give_back(&held, &back(LONG, true)).unwrap());
    assert!(
        !queue.give_back(&held, &back(OVER, true)).unwrap(),
        "it was given back already"
    );
    assert_eq!(now(queue, &job).attempts, 1);
    assert_eq!(queue.claim(&terms(LONG)).unwrap(), None, "it rests");
}

pub(crate) fn what_is_called_off_is_not_finished(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let [waiting, running, done] = [0, 1, 2].map(|_| queue.enqueue(&order("gait"), MANY).unwrap());
    let called_off = |job: &Job| queue.dismiss(&job.id, LONG).unwrap().unwrap().status;
    assert_eq!(called_off(&waiting), JobStatus::Dismissed);
    let held = claimed(queue, LONG);
    assert_eq!(held.job.id, running.id, "what was called off is not taken");
    assert_eq!(called_off(&running), JobStatus::Dismissed);
    assert!(!queue.extend(&held, LONG, 1).unwrap());
    assert!(!queue.finish(&held, &answered("{}"), LONG).unwrap());
    assert!(
        queue
            .finish(&claimed(queue, LONG), &answered("{}"), LONG)
            .unwrap()
    );
    assert_eq!(called_off(&done), JobStatus::Dismissed);
    assert_eq!(queue.job_result(&done).unwrap(), None);
    assert_eq!(
        called_off(&done),
        JobStatus::Dismissed,
        "once more changes nothing"
    );
    assert_eq!(
        queue
            .dismiss(&crate::store::jobs::JobId::random().unwrap(), LONG)
            .unwrap(),
        None
    );
}

pub(crate) fn jobs_do_not_move_the_mark(trial: &dyn Trial) {
    let (store, other) = (trial.store(), trial.again());
    let marks = || (store.mark().unwrap(), other.mark().unwrap());
    let before = marks();
    let queue = store.queue();
    queue.enqueue(&order("gait"), MANY).unwrap();
    let held = claimed(queue, LONG);
    assert!(queue.extend(&held, LONG, 10).unwrap());
    assert!(queue.finish(&held, &Ended::Failed(Value::Null), LONG).unwrap());
    assert_eq!(
        marks(),
        before,
        "the listing of sites would be read anew with each sign of life"
    );
}
