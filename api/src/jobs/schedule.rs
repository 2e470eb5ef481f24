//! Reviews of the surfaces that have moved since their last one.

use crate::access::Audience;
use crate::catalogue::{Catalogue, ReadFault};
use crate::store::jobs::{JobId, Order, REVIEW};
use serde_json::{Map, json};
use spatial::model::SurfaceId;
use std::collections::HashMap;

/// What a schedule came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scheduled {
    /// The surfaces that will be reviewed, each with its job.
    pub reviews: Vec<(SurfaceId, JobId)>,
    /// How many surfaces wait for their review already.
    pub waiting: usize,
    /// How many have not moved since their last review.
    pub unmoved: usize,
}

/// Puts a review into the queue for each surface whose contents revision is higher than its last review left it. However
/// many do this at once, a surface is reviewed once.
///
/// # Errors
/// When the store fails.
pub fn schedule(catalogue: &Catalogue, by: &str) -> Result<Scheduled, ReadFault> {
    // Reviews first: what ends between the two reads makes a revision here too low, never too high.
    let queue = catalogue.store().queue();
    let reviews = queue.reviews()?;
    let last: HashMap<&SurfaceId, u64> = reviews
        .iter()
        .map(|review| (&review.surface, review.revision))
        .collect();
    let mut scheduled = Scheduled {
        reviews: Vec::new(),
        waiting: 0,
        unmoved: 0,
    };
    for entry in catalogue.listing()?.surfaces() {
        let (surface, revision) = (&entry.summary.id, entry.summary.contents_revision);
        if last.get(surface).is_some_and(|last| *last >= revision) {
            scheduled.unmoved += 1;
            continue;
        }
        let order = Order {
            process: REVIEW.to_owned(),
            inputs: Map::from_iter([
                ("surface".to_owned(), json!(surface)),
                ("by".to_owned(), json!(by)),
            ]),
            document: false,
            asker: Audience::Local,
            as_of: None,
        };
        match queue.enqueue_review(surface, revision, &order)? {
            Some(job) => scheduled.reviews.push((surface.clone(), job.id)),
            None => scheduled.waiting += 1,
        }
    }
    Ok(scheduled)
}
