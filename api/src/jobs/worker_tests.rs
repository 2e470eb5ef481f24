//! What becomes of jobs that break.

use super::bell::Bell;
use super::work_until_idle;
use crate::access::Audience;
use crate::catalogue::Catalogue;
use crate::store::jobs::{Job, JobStatus, JobStore, Order, Terms};
use crate::store::{
    Change, Entry, Filling, RecordId, Revision, SheetTransaction, SqliteStore, Store, StoreError,
    SurfaceSummary, Tally, Verdict,
};
use serde_json::{Map, json};
use spatial::index::SurfaceContents;
use spatial::model::{Site, Slug, SurfaceId, Trackway, TrackwayId};
use std::sync::Arc;
use std::time::Duration;
use tempfile::TempDir;

const LONG: Duration = Duration::from_secs(600);

/// How a store goes wrong when its sites are read.
#[derive(Clone, Copy)]
enum Wrong {
    Panics,
    Fails,
    Unreachable,
}

/// A queue that works, and a record that does not.
struct Ruin {
    queue: SqliteStore,
    wrong: Wrong,
}

impl Store for Ruin {
    fn mark(&self) -> Result<u64, StoreError> {
        Ok(0)
    }

    fn sites(&self) -> Result<Vec<Site>, StoreError> {
        match self.wrong {
            Wrong::Panics => panic!("the ledge gave way"),
            Wrong::Fails => Err(StoreError::Failed {
                doing: "reading sites",
                source: "a page is torn".into(),
            }),
            Wrong::Unreachable => Err(StoreError::Unreachable("nobody listens".to_owned())),
        }
    }

    fn find_damage(&self) -> Result<Vec<String>, StoreError> {
        unreachable!("no job looks for damage")
    }

    fn listing_at(
        &self,
        _: jiff::Timestamp,
    ) -> Result<(Vec<Site>, Vec<crate::store::SurfaceSummary>), StoreError> {
        unreachable!("no job looks back")
    }

    fn contents_at(
        &self,
        _: &spatial::model::SurfaceId,
        _: jiff::Timestamp,
    ) -> Result<Option<spatial::index::SurfaceContents>, StoreError> {
        unreachable!("no job looks back")
    }

    fn edit(&self, _: &crate::store::Edit, _: &Change) -> Result<crate::store::Edited, StoreError> {
        unreachable!("no job edits")
    }

    fn gatekeeper(&self) -> &dyn crate::store::access::AccessStore {
        self.queue.gatekeeper()
    }

    fn queue(&self) -> &dyn JobStore {
        &self.queue
    }

    fn add_site_once(
        &self,
        _: &Site,
        _: Option<&crate::store::Once>,
        _: &Change,
    ) -> Result<crate::store::Edited, StoreError> {
        unimplemented!("no job adds a site")
    }

    fn change_site(&self, _: &Site, _: &Change) -> Result<Site, StoreError> {
        unimplemented!("no job changes a site")
    }

    fn surfaces(&self) -> Result<Vec<SurfaceSummary>, StoreError> {
        Ok(Vec::new())
    }

    fn surface(&self, _: &SurfaceId) -> Result<Option<(Site, SurfaceSummary)>, StoreError> {
        Ok(None)
    }

    fn contents(&self, _: &SurfaceId) -> Result<Option<(SurfaceContents, u64)>, StoreError> {
        Ok(None)
    }

    fn history(&self, _: &RecordId) -> Result<Vec<Revision>, StoreError> {
        Ok(Vec::new())
    }

    fn begin_sheet<'store>(
        &'store self,
        _: &Slug,
        _: &Change,
    ) -> Result<Box<dyn SheetTransaction + 'store>, StoreError> {
        unimplemented!("no job takes a sheet")
    }

    fn judge(&self, _: &TrackwayId, _: Verdict, _: Option<u32>, _: &Change) -> Result<Trackway, StoreError> {
        unimplemented!("no job judges trackways")
    }

    fn propose(&self, _: &SurfaceId, _: &[Trackway], _: &Change) -> Result<Tally, StoreError> {
        unimplemented!("nothing can be read to propose from")
    }

    fn read_all(&self, _: &mut dyn FnMut(Entry) -> Result<(), StoreError>) -> Result<(), StoreError> {
        unimplemented!("no job copies a store")
    }

    fn begin_filling<'store>(&'store self) -> Result<Box<dyn Filling + 'store>, StoreError> {
        unimplemented!("no job copies a store")
    }
}

struct Trial {
    store: Arc<Ruin>,
    _folder: TempDir,
}

impl Trial {
    fn new(wrong: Wrong) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let queue = SqliteStore::open(&folder.path().join("ledge.db")).unwrap();
        Self {
            store: Arc::new(Ruin { queue, wrong }),
            _folder: folder,
        }
    }

    fn enqueue(&self, process: &str, asker: Audience) -> Job {
        let inputs = match process {
            "speed" => json!({ "stride_m": 2.7, "hip_height_m": 1.93 }),
            _ => json!({ "surface": "gull-ledge:S1" }),
        };
        let order = Order {
            process: process.to_owned(),
            inputs: inputs.as_object().cloned().unwrap_or_else(Map::new),
            document: false,
            asker,
        };
        self.store.queue.enqueue(&order, 100).unwrap()
    }

    /// Does what waits, and tells what has become of a job.
    fn work(&self, attempts: u32, job: &Job) -> Job {
        let terms = Terms {
            worker: "a worker".to_owned(),
            lease: LONG,
            attempts,
            keep: LONG,
        };
        let catalogue = Catalogue::new(self.store.clone(), Audience::Local, 1 << 20);
        work_until_idle(&catalogue, &terms, 1, &Arc::new(Bell::default()));
        self.store.queue.job(&job.id).unwrap().unwrap()
    }
}

#[test]
fn a_panic_is_the_failure_of_its_job_only() {
    let trial = Trial::new(Wrong::Panics);
    let job = trial.enqueue("grouping", Audience::Local);
    let next = trial.enqueue("speed", Audience::Local);
    let broken = trial.work(1, &job);
    assert_eq!((broken.status, broken.attempts), (JobStatus::Failed, 1));
    assert!(broken.message.unwrap().contains("the ledge gave way"));
    assert_eq!(trial.work(1, &next).status, JobStatus::Successful);
}

#[test]
fn what_broke_rests_and_is_tried_again() {
    for wrong in [Wrong::Panics, Wrong::Fails] {
        let trial = Trial::new(wrong);
        let broken = trial.work(2, &trial.enqueue("grouping", Audience::Local));
        assert_eq!((broken.status, broken.attempts), (JobStatus::Accepted, 1));
        assert!(broken.message.unwrap().contains("tried again"));
    }
}

#[test]
fn strangers_are_not_told_what_broke() {
    let trial = Trial::new(Wrong::Fails);
    let broken = trial.work(1, &trial.enqueue("grouping", Audience::Public));
    assert_eq!(broken.status, JobStatus::Failed);
    let problem = broken.problem.unwrap();
    assert_eq!(problem["status"], 500);
    assert!(!problem.to_string().contains("reading sites"), "{problem}");
}

#[test]
fn a_store_that_is_away_is_no_fault_of_the_jobs() {
    let trial = Trial::new(Wrong::Unreachable);
    let waiting = trial.work(1, &trial.enqueue("grouping", Audience::Local));
    assert_eq!((waiting.status, waiting.attempts), (JobStatus::Accepted, 0));
}

#[test]
fn a_query_that_is_not_known_is_refused() {
    let trial = Trial::new(Wrong::Fails);
    let refused = trial.work(3, &trial.enqueue("augury", Audience::Local));
    assert_eq!((refused.status, refused.attempts), (JobStatus::Failed, 1));
    assert_eq!(refused.problem.unwrap()["status"], 400);
}
