//! What somebody holds of a trackway.

use super::Trial;
use super::world::{World, change, id, label, labels, member, print};
use crate::store::{RecordId, StoreError, Verdict};
use spatial::model::{Basis, Status, Trackway, TrackwayId};

fn proposal(prints: &[&str]) -> Trackway {
    Trackway {
        label: label("whatever"),
        prints: labels(prints),
        basis: Basis::Grouping,
        status: Status::Proposed,
        probability: Some(0.75),
        morphotype: Some("broad-toed".to_owned()),
        note: None,
        judged_by: None,
        revision: 0,
    }
}

fn trackway(text: &str) -> TrackwayId {
    TrackwayId {
        surface: id("S1"),
        label: label(text),
    }
}

/// A ledge with the field party's T1 (P7, P8) and the proposals G1 (P1, P2) and G2 (P2, P3).
fn ledge(trial: &dyn Trial) -> World<'_> {
    let world = World::new(trial.store());
    let mut prints: Vec<_> = (1..=6).map(|no| print(&format!("P{no}"))).collect();
    prints.extend([member("P7", "T1", Some(1)), member("P8", "T1", Some(2))]);
    world.take(1, &[("S1", prints)]);
    propose(&world);
    world
}

fn propose(world: &World<'_>) {
    let proposals = [proposal(&["P1", "P2"]), proposal(&["P2", "P3"])];
    world.store.propose(&id("S1"), &proposals, &change(2)).unwrap();
}

fn judge(
    world: &World<'_>,
    text: &str,
    verdict: Verdict,
    revision: Option<u32>,
) -> Result<Trackway, StoreError> {
    world.store.judge(&trackway(text), verdict, revision, &change(3))
}

fn stored(world: &World<'_>, text: &str) -> Trackway {
    let all = world.contents("S1").0.trackways;
    all.into_iter().find(|one| one.label == label(text)).unwrap()
}

pub(crate) fn an_accepted_proposal_keeps_where_it_comes_from(trial: &dyn Trial) {
    let world = ledge(trial);
    let (mark, before) = (world.store.mark().unwrap(), world.contents("S1").1);
    let accepted = judge(&world, "G1", Verdict::Accept, Some(1)).unwrap();
    assert_eq!((accepted.status, accepted.revision), (Status::Accepted, 2));
    assert_eq!(
        (accepted.basis, accepted.probability),
        (Basis::Grouping, Some(0.75))
    );
    assert_eq!(accepted.judged_by.as_deref(), Some(&*change(3).author));
    assert_eq!(stored(&world, "G1"), accepted);
    assert_ne!(world.store.mark().unwrap(), mark);
    assert_eq!(world.contents("S1").1, before + 1);
    let history = world
        .store
        .history(&RecordId::Trackway(id("S1"), label("G1")))
        .unwrap();
    assert_eq!(history.len(), 2);
    assert_eq!(history[0].record["status"], "proposed");
    // Nobody counts a judgement as a new trackway.
    assert_eq!(world.store.surfaces().unwrap()[0].trackways, 3);
}

pub(crate) fn what_was_judged_is_not_proposed_again(trial: &dyn Trial) {
    let world = ledge(trial);
    let rejected = judge(&world, "G1", Verdict::Reject, None).unwrap();
    let accepted = judge(&world, "G2", Verdict::Accept, None).unwrap();
    propose(&world);
    assert_eq!(
        (stored(&world, "G1"), stored(&world, "G2")),
        (rejected, accepted.clone())
    );
    world.store.propose(&id("S1"), &[], &change(4)).unwrap();
    assert_eq!(stored(&world, "G2"), accepted);
}

pub(crate) fn a_trackway_judged_meanwhile_is_not_judged_again(trial: &dyn Trial) {
    let world = ledge(trial);
    judge(&world, "G1", Verdict::Reject, Some(1)).unwrap();
    let late = judge(&world, "G1", Verdict::Accept, Some(1));
    assert!(matches!(late, Err(StoreError::Moved(_))), "{late:?}");
    assert_eq!(stored(&world, "G1").status, Status::Rejected);
    // Who has seen the rejection may think otherwise.
    assert_eq!(judge(&world, "G1", Verdict::Accept, Some(2)).unwrap().revision, 3);
}

pub(crate) fn a_print_is_accepted_in_one_trackway(trial: &dyn Trial) {
    let world = ledge(trial);
    judge(&world, "G1", Verdict::Accept, None).unwrap();
    let shared = judge(&world, "G2", Verdict::Accept, None);
    let Err(StoreError::Shared { print, trackway }) = shared else {
        panic!("{shared:?}")
    };
    assert_eq!((print, trackway), (label("P2"), label("G1")));
    judge(&world, "G1", Verdict::Reject, None).unwrap();
    judge(&world, "G2", Verdict::Accept, None).unwrap();
}

pub(crate) fn judged_twice_is_judged_once(trial: &dyn Trial) {
    let world = ledge(trial);
    // The field party's own may be judged too: then somebody has looked at it once more.
    let first = judge(&world, "T1", Verdict::Accept, None).unwrap();
    let mark = world.store.mark().unwrap();
    assert_eq!(judge(&world, "T1", Verdict::Accept, None).unwrap(), first);
    assert_eq!(world.store.mark().unwrap(), mark);
}

pub(crate) fn an_unknown_trackway_is_not_judged(trial: &dyn Trial) {
    let world = ledge(trial);
    let of = |surface: &str, text: &str| {
        let unknown = TrackwayId {
            surface: id(surface),
            label: label(text),
        };
        world.store.judge(&unknown, Verdict::Accept, None, &change(3))
    };
    for missing in [of("S1", "G9"), of("S9", "G1")] {
        assert!(matches!(missing, Err(StoreError::Missing(_))), "{missing:?}");
    }
}
