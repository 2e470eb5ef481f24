//! What a job asks for, done once.

use crate::access::Audience;
use crate::catalogue::{Catalogue, ReadFault};
use crate::problem::Problem;
use crate::query::{self, Inputs, Refusal, proposals};
use crate::store::jobs::{Ended, Job, JobResult, REVIEW};
use crate::store::{Change, StoreError};
use jiff::Timestamp;
use serde_json::{Value, json};
use spatial::model::SurfaceId;

/// Why an attempt came to nothing.
pub(super) enum Setback {
    /// The job cannot be done, however often it is tried.
    Refused(Value),
    /// The store cannot be reached for now; no fault of the job's.
    Store(StoreError),
    /// Something broke; it may go well another time. What broke, and what its asker is told.
    Broken(String, Value),
}

/// Does what a job asks for, and tells how far it is, in percent.
pub(super) fn perform(job: &Job, catalogue: &Catalogue, tell: &dyn Fn(u8)) -> Result<Ended, Setback> {
    let asker = &job.order.asker;
    let catalogue = catalogue.seen_by(asker.clone()).as_of(job.order.as_of);
    let done = if job.order.process == REVIEW {
        review(job, &catalogue, tell)
    } else {
        ask(
            &job.order.process,
            job.order.inputs.clone().into_iter().collect(),
            &catalogue,
        )
        .map(Ended::Answered)
    };
    done.map_err(|refusal| setback(refusal, asker))
}

fn ask(id: &str, inputs: Inputs, catalogue: &Catalogue) -> Result<JobResult, Refusal> {
    let query = query::find(id).ok_or_else(|| {
        // A worker of an older version may meet a job for a query that it does not know.
        Refusal::Unfit(format!("This version of the program has no query {id:?}."))
    })?;
    let reply = query.ask(inputs, catalogue)?;
    Ok(JobResult {
        crs: reply.crs.uri(),
        body: reply.body,
    })
}

/// Groups the prints of a surface, keeps what is new as proposals, and links its trackways across gaps.
///
/// To do it again does no harm: the same prints give the same proposals, and those are left alone.
fn review(job: &Job, catalogue: &Catalogue, tell: &dyn Fn(u8)) -> Result<Ended, Refusal> {
    let text = job.order.inputs["surface"].as_str().unwrap_or_default();
    let surface: SurfaceId = text
        .parse()
        .map_err(|fault: spatial::model::IdFault| Refusal::Unfit(format!("{fault}.")))?;
    let before = catalogue.of_surface(&surface)?;
    let listing = before.listing()?;
    let entry = listing
        .surface(&surface)
        .ok_or_else(|| ReadFault::missing("surface", &surface))?;
    let index = before.index_of(entry)?;
    let found = proposals(&index, FIRST_SEED)?;
    drop(index);
    tell(50);
    let change = Change {
        author: job.order.inputs["by"].as_str().unwrap_or("local").to_owned(),
        at: Timestamp::now(),
        deed: format!("review {surface}"),
    };
    let tally = catalogue
        .store()
        .propose(&surface, &found.new, &change)
        .map_err(ReadFault::from)?;
    tell(60);
    let after = catalogue.of_surface(&surface)?;
    let links = ask("linking", vec![("surface".to_owned(), json!(surface))], &after)?;
    // The proposals are one change of the surface. Whoever else has changed it meanwhile has made its revision higher than
    // this, and the next schedule reviews it again.
    let own = u64::from(tally.added + tally.changed > 0);
    let revision = entry.summary.contents_revision + own;
    Ok(Ended::Reviewed(links, surface, revision))
}

/// The seed of the draws behind the proposals: that of `trackways propose`.
const FIRST_SEED: u64 = 1;

fn setback(refusal: Refusal, asker: &Audience) -> Setback {
    match refusal {
        Refusal::Read(ReadFault::Store(error @ (StoreError::Busy | StoreError::Unreachable(_)))) => {
            Setback::Store(error)
        }
        Refusal::Read(ReadFault::Store(StoreError::Missing(what))) => {
            Setback::Refused(Problem::not_found(format!("There is no {what}.")).document())
        }
        Refusal::Read(ReadFault::Store(_) | ReadFault::Broken { .. }) | Refusal::Written(_) => {
            broken(refusal.to_string(), asker)
        }
        other => Setback::Refused(Problem::from(other).document()),
    }
}

/// Something broke: its own people read what; strangers are told only that.
pub(super) fn broken(reason: String, asker: &Audience) -> Setback {
    let problem = match asker {
        Audience::Local => json!({
            "type": "about:blank", "title": "Internal Server Error", "status": 500, "detail": reason,
        }),
        Audience::Public | Audience::Sites(_) => Problem::internal(&reason).document(),
    };
    Setback::Broken(reason, problem)
}
