//! Which jobs are listed and kept, and for how long.

use super::Trial;
use super::jobs::{LONG, MANY, OVER, answered, claimed, now, order};
use crate::access::Audience;
use crate::store::StoreError;
use crate::store::jobs::{Ended, Job, JobFilter, JobStatus, Order};
use serde_json::json;
use std::time::Duration;

pub(crate) fn what_has_ended_is_removed_in_time(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let [short, long, waiting] = [0, 1, 2].map(|_| queue.enqueue(&order("gait"), MANY).unwrap());
    assert!(
        queue
            .finish(&claimed(queue, LONG), &answered("{}"), OVER)
            .unwrap()
    );
    let problem = json!({ "status": 400, "detail": "It does not fit." });
    assert!(
        queue
            .finish(&claimed(queue, LONG), &Ended::Failed(problem.clone()), LONG)
            .unwrap()
    );
    assert_eq!(
        queue.job(&short.id).unwrap(),
        None,
        "its time is over, removed or not"
    );
    assert_eq!(queue.expire().unwrap(), 1);
    assert_eq!(queue.expire().unwrap(), 0);
    assert_eq!(queue.job_result(&short).unwrap(), None);
    let failed = now(queue, &long);
    assert_eq!(
        (failed.status, failed.problem),
        (JobStatus::Failed, Some(problem))
    );
    assert_eq!(failed.message.as_deref(), Some("It does not fit."));
    assert_eq!(now(queue, &waiting).status, JobStatus::Accepted);
}

pub(crate) fn a_list_of_jobs_is_filtered_and_paged(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let all: Vec<Job> = ["gait", "grouping", "gait", "scene"]
        .iter()
        .map(|process| queue.enqueue(&order(process), MANY).unwrap())
        .collect();
    assert!(
        queue
            .finish(&claimed(queue, LONG), &answered("{}"), LONG)
            .unwrap()
    );
    let listed = |filter: &JobFilter, limit| -> Vec<usize> {
        let jobs = queue.jobs(filter, limit).unwrap();
        let place = |job: &Job| all.iter().position(|other| other.id == job.id).unwrap();
        jobs.iter().map(place).collect()
    };
    let every = JobFilter::default();
    assert_eq!(listed(&every, 10), [3, 2, 1, 0]);
    assert_eq!(listed(&every, 2), [3, 2]);
    assert_eq!(
        listed(
            &JobFilter {
                before: Some(all[2].number),
                ..every.clone()
            },
            2
        ),
        [1, 0]
    );
    let processes = Some(vec!["gait".to_owned(), "scene".to_owned()]);
    assert_eq!(
        listed(
            &JobFilter {
                processes,
                ..every.clone()
            },
            10
        ),
        [3, 2, 0]
    );
    let statuses = Some(vec![JobStatus::Successful, JobStatus::Failed]);
    assert_eq!(
        listed(
            &JobFilter {
                statuses,
                ..every.clone()
            },
            10
        ),
        [0]
    );
    let [first, last] = [0, 3].map(|no: usize| Some(all[no].created));
    assert_eq!(
        listed(
            &JobFilter {
                from: first,
                to: last,
                ..every.clone()
            },
            10
        ),
        [3, 2, 1, 0]
    );
    let early = first.map(|first| first - Duration::from_secs(1));
    assert_eq!(
        listed(
            &JobFilter {
                to: early,
                ..every.clone()
            },
            10
        ),
        [] as [usize; 0]
    );
    assert_eq!(
        listed(
            &JobFilter {
                least_s: Some(0.0),
                ..every.clone()
            },
            10
        ),
        [0],
        "only what has begun ran"
    );
    assert_eq!(
        listed(
            &JobFilter {
                least_s: Some(1e6),
                ..every.clone()
            },
            10
        ),
        [] as [usize; 0]
    );
    assert_eq!(
        listed(
            &JobFilter {
                most_s: Some(1e6),
                ..every
            },
            10
        ),
        [0]
    );
}

pub(crate) fn an_asker_has_only_so_many_jobs_waiting(trial: &dyn Trial) {
    let queue = trial.store().queue();
    for _ in 0..2 {
        queue.enqueue(&order("gait"), 2).unwrap();
    }
    let full = queue.enqueue(&order("gait"), 2);
    assert!(matches!(full, Err(StoreError::QueueFull(2))), "{full:?}");
    let local = Order {
        asker: Audience::Local,
        ..order("gait")
    };
    queue.enqueue(&local, 2).unwrap();
    claimed(queue, LONG);
    queue.enqueue(&order("gait"), 2).unwrap();
}

pub(crate) fn the_last_jobs_of_an_asker_are_kept(trial: &dyn Trial) {
    let queue = trial.store().queue();
    let local = queue
        .enqueue(
            &Order {
                asker: Audience::Local,
                ..order("gait")
            },
            MANY,
        )
        .unwrap();
    assert!(
        queue
            .finish(&claimed(queue, LONG), &answered("{}"), LONG)
            .unwrap()
    );
    let jobs = [0, 1, 2, 3].map(|_| queue.enqueue(&order("gait"), MANY).unwrap());
    for _ in 0..3 {
        assert!(
            queue
                .finish(&claimed(queue, LONG), &answered("{}"), LONG)
                .unwrap()
        );
    }
    let load = queue.load().unwrap();
    assert_eq!(load.counts.len(), 5);
    assert_eq!(
        load.counts.iter().map(|(_, count)| count).sum::<u64>(),
        queue.jobs(&JobFilter::default(), 100).unwrap().len() as u64
    );
    assert_eq!(queue.trim(&Audience::Public, 3).unwrap(), 0);
    assert_eq!(queue.trim(&Audience::Public, 1).unwrap(), 2);
    let there = jobs.each_ref().map(|job| queue.job(&job.id).unwrap().is_some());
    assert_eq!(
        there,
        [false, false, true, true],
        "the last that ended, and what waits"
    );
    assert_eq!(queue.job_result(&jobs[0]).unwrap(), None);
    assert!(queue.job(&local.id).unwrap().is_some(), "each asker for himself");
}
