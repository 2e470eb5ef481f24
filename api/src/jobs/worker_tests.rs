//! What becomes of jobs that break.

use super::bell::Bell;
use super::work_until_idle;
use crate::access::Audience;
use crate::catalogue::Catalogue;
use crate::store::access::AccessStore;
use crate::store::jobs::{Job, JobStatus, JobStore, Order, Terms};
use crate::store::{
    Change, Edit, Edited, Entry, Filling, Once, RecordId, RecordStore, Revision, SheetStore,
    SheetTransaction, SqliteStore, Store, StoreError, SurfaceSummary, Tally, Verdict,
};
use jiff::Timestamp;
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

/// A store whose sites cannot be read, and whose queue works.
struct Ruin {
    store: SqliteStore,
    wrong: Wrong,
}

impl RecordStore for Ruin {
    fn mark(&self) -> Result<u64, StoreError> {
        self.store.mark()
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

    fn surfaces(&self) -> Result<Vec<SurfaceSummary>, StoreError> {
        self.store.surfaces()
    }

    fn surface(&self, id: &SurfaceId) -> Result<Option<(Site, SurfaceSummary)>, StoreError> {
        self.store.surface(id)
    }

    fn contents(&self, id: &SurfaceId) -> Result<Option<(SurfaceContents, u64)>, StoreError> {
        self.store.contents(id)
    }

    fn listing_at(&self, at: Timestamp) -> Result<(Vec<Site>, Vec<SurfaceSummary>), StoreError> {
        self.store.listing_at(at)
    }

    fn contents_at(&self, id: &SurfaceId, at: Timestamp) -> Result<Option<SurfaceContents>, StoreError> {
        self.store.contents_at(id, at)
    }

    fn history(&self, id: &RecordId) -> Result<Vec<Revision>, StoreError> {
        self.store.history(id)
    }
}

impl SheetStore for Ruin {
    fn begin_sheet<'store>(
        &'store self,
        site: &Slug,
        change: &Change,
    ) -> Result<Box<dyn SheetTransaction + 'store>, StoreError> {
        self.store.begin_sheet(site, change)
    }
}

impl Store for Ruin {
    fn add_site_once(&self, site: &Site, once: Option<&Once>, change: &Change) -> Result<Edited, StoreError> {
        self.store.add_site_once(site, once, change)
    }

    fn change_site(&self, site: &Site, change: &Change) -> Result<Site, StoreError> {
        self.store.change_site(site, change)
    }

    fn judge(
        &self,
        trackway: &TrackwayId,
        verdict: Verdict,
        revision: Option<u32>,
        change: &Change,
    ) -> Result<Trackway, StoreError> {
        self.store.judge(trackway, verdict, revision, change)
    }

    fn propose(
        &self,
        surface: &SurfaceId,
        proposals: &[Trackway],
        change: &Change,
    ) -> Result<Tally, StoreError> {
        self.store.propose(surface, proposals, change)
    }

    fn edit(&self, edit: &Edit, change: &Change) -> Result<Edited, StoreError> {
        self.store.edit(edit, change)
    }

    fn queue(&self) -> &dyn JobStore {
        &self.store
    }

    fn gatekeeper(&self) -> &dyn AccessStore {
        self.store.gatekeeper()
    }

    fn find_damage(&self) -> Result<Vec<String>, StoreError> {
        self.store.find_damage()
    }

    fn read_all(&self, take: &mut dyn FnMut(Entry) -> Result<(), StoreError>) -> Result<(), StoreError> {
        self.store.read_all(take)
    }

    fn begin_filling<'store>(&'store self) -> Result<Box<dyn Filling + 'store>, StoreError> {
        self.store.begin_filling()
    }
}

struct Trial {
    store: Arc<Ruin>,
    _folder: TempDir,
}

impl Trial {
    fn new(wrong: Wrong) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let store = SqliteStore::open(&folder.path().join("ledge.db")).unwrap();
        Self {
            store: Arc::new(Ruin { store, wrong }),
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
            as_of: None,
        };
        self.store.queue().enqueue(&order, 100).unwrap()
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
        self.store.queue().job(&job.id).unwrap().unwrap()
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
