//! Reviews of surfaces in the queue.

use super::Trial;
use super::jobs::{LONG, OVER, answer, claimed, order, terms};
use super::world::id;
use crate::access::Audience;
use crate::store::Store;
use crate::store::jobs::{Ended, Order, REVIEW};
use serde_json::json;
use std::sync::Barrier;
use std::thread;

fn review() -> Order {
    Order {
        asker: Audience::Local,
        document: false,
        ..order(REVIEW)
    }
}

pub(crate) fn a_surface_is_reviewed_once_for_each_revision(trial: &dyn Trial) {
    let (queue, surface) = (trial.store().queue(), id("S1"));
    let enqueue = |revision| queue.enqueue_review(&surface, revision, &review()).unwrap();
    let done = |revision, text: &str| {
        let ended = Ended::Reviewed(answer(text), surface.clone(), revision);
        assert!(queue.finish(&claimed(queue, LONG), &ended, OVER).unwrap());
    };
    let first = enqueue(1).unwrap();
    assert_eq!(enqueue(1), None, "it waits already");
    assert_eq!(enqueue(2), None);
    assert_eq!(queue.reviews().unwrap(), []);
    done(2, "the first");
    assert_eq!(
        (enqueue(1), enqueue(2)),
        (None, None),
        "the surface has not moved"
    );
    let reviews = queue.reviews().unwrap();
    assert_eq!(
        (&reviews[0].surface, reviews[0].revision, &reviews[0].job),
        (&surface, 2, &first.id)
    );
    assert_eq!(queue.expire().unwrap(), 0, "the last review is kept");
    let second = enqueue(3).unwrap();
    assert!(
        queue.enqueue_review(&id("S2"), 1, &review()).unwrap().is_some(),
        "each surface for itself"
    );
    done(3, "the second");
    assert_eq!(queue.expire().unwrap(), 1, "and goes after the next");
    assert_eq!(queue.job(&first.id).unwrap(), None);
    assert_eq!(queue.job_result(&second).unwrap(), Some(answer("the second")));
    let failed = enqueue(4).unwrap();
    let other = claimed(queue, LONG);
    assert_ne!(other.job.id, failed.id);
    let problem = Ended::Failed(json!({ "status": 500, "detail": "It broke." }));
    assert!(queue.finish(&claimed(queue, LONG), &problem, LONG).unwrap());
    assert!(enqueue(4).is_some(), "what failed is tried at the next occasion");
    queue.dismiss(&second.id, LONG).unwrap();
    assert_eq!(queue.reviews().unwrap(), []);
}

pub(crate) fn schedulers_at_once_review_a_surface_once(trial: &dyn Trial) {
    let stores: Vec<Box<dyn Store>> = (0..4).map(|_| trial.again()).collect();
    let start = Barrier::new(stores.len());
    let rush = |store: &dyn Store, revision| {
        start.wait();
        let mut done = 0;
        for _ in 0..3 {
            let queue = store.queue();
            queue.enqueue_review(&id("S1"), revision, &review()).unwrap();
            if let Some(held) = queue.claim(&terms(LONG)).unwrap() {
                let ended = Ended::Reviewed(answer("{}"), id("S1"), revision);
                done += usize::from(queue.finish(&held, &ended, LONG).unwrap());
            }
        }
        done
    };
    let rush = &rush;
    for revision in 1..=10 {
        let reviews: usize = thread::scope(|scope| {
            let all: Vec<_> = stores
                .iter()
                .map(|store| scope.spawn(move || rush(&**store, revision)))
                .collect();
            all.into_iter().map(|one| one.join().unwrap()).sum()
        });
        assert_eq!(reviews, 1, "revision {revision}");
    }
}
