//! What the grouping proposes.

use super::Trial;
use super::world::{World, change, gull_ledge, id, label, labels, member, print};
use crate::store::{StoreError, Tally};
use spatial::model::{Basis, Status, Surface, Trackway};

fn proposal(prints: &[&str], probability: f64) -> Trackway {
    Trackway {
        label: label("whatever"),
        prints: labels(prints),
        basis: Basis::Grouping,
        status: Status::Proposed,
        probability: Some(probability),
        morphotype: None,
        note: None,
        judged_by: None,
        revision: 99,
    }
}

fn ledge(trial: &dyn Trial) -> World<'_> {
    let world = World::new(trial.store());
    let prints = (1..=8).map(|no| print(&format!("P{no}"))).collect();
    world.take(1, &[("S1", prints)]);
    world
}

/// Proposes, and gives the tally and the trackways by label, status and revision.
fn propose(world: &World<'_>, proposals: &[Trackway]) -> (Tally, Vec<(String, Status, u32)>) {
    let tally = world.store.propose(&id("S1"), proposals, &change(2)).unwrap();
    let trackways = world.contents("S1").0.trackways;
    let told = trackways
        .into_iter()
        .map(|t| (t.label.into(), t.status, t.revision));
    (tally, told.collect())
}

fn told(label: &str, status: Status, revision: u32) -> (String, Status, u32) {
    (label.to_owned(), status, revision)
}

fn tally(added: u64, changed: u64, unchanged: u64) -> Tally {
    Tally {
        added,
        changed,
        unchanged,
    }
}

pub(crate) fn proposals_get_the_next_free_labels(trial: &dyn Trial) {
    let world = ledge(trial);
    world.take(1, &[("S1", vec![member("P8", "G2", None)])]);
    let (counted, _) = propose(
        &world,
        &[proposal(&["P2", "P1"], 0.9), proposal(&["P3", "P4"], 0.5)],
    );
    assert_eq!(counted, tally(2, 0, 0));
    let (contents, revision) = world.contents("S1");
    let expected = Trackway {
        label: label("G1"),
        revision: 1,
        ..proposal(&["P2", "P1"], 0.9)
    };
    assert_eq!(contents.trackways[0], expected);
    assert_eq!(contents.trackways[2].label, label("G3"));
    let summary = &world.store.surfaces().unwrap()[0];
    assert_eq!(
        (summary.trackways, summary.contents_revision, revision),
        (3, 3, 3)
    );
}

pub(crate) fn the_same_proposals_change_nothing(trial: &dyn Trial) {
    let world = ledge(trial);
    let mut proposals = [proposal(&["P1", "P2"], 0.9), proposal(&["P3", "P4"], 0.1 + 0.2)];
    propose(&world, &proposals);
    let before = (world.contents("S1"), world.store.mark().unwrap());
    proposals.reverse();
    let (counted, _) = propose(&world, &proposals);
    assert_eq!(counted, tally(0, 0, 2));
    assert_eq!((world.contents("S1"), world.store.mark().unwrap()), before);
}

pub(crate) fn a_proposal_that_differs_is_a_new_revision(trial: &dyn Trial) {
    let world = ledge(trial);
    propose(&world, &[proposal(&["P1", "P2"], 0.9)]);
    let (counted, trackways) = propose(&world, &[proposal(&["P1", "P2"], 0.8)]);
    assert_eq!(counted, tally(0, 1, 0));
    assert_eq!(trackways, [told("G1", Status::Proposed, 2)]);
    assert_eq!(world.contents("S1").0.trackways[0].probability, Some(0.8));
    let bad = world
        .store
        .propose(&id("S1"), &[proposal(&["P1", "P2"], f64::NAN)], &change(3));
    assert!(matches!(bad, Err(StoreError::NotFinite(_))));
}

pub(crate) fn what_is_not_proposed_again_is_rejected(trial: &dyn Trial) {
    let world = ledge(trial);
    propose(
        &world,
        &[proposal(&["P1", "P2"], 0.9), proposal(&["P3", "P4"], 0.9)],
    );
    // The same prints in another order are another trackway.
    let (counted, trackways) = propose(
        &world,
        &[proposal(&["P2", "P1"], 0.9), proposal(&["P3", "P4"], 0.9)],
    );
    assert_eq!(counted, tally(1, 1, 1));
    let expected = [
        told("G1", Status::Rejected, 2),
        told("G2", Status::Proposed, 1),
        told("G3", Status::Proposed, 1),
    ];
    assert_eq!(trackways, expected);
    // One that was rejected and comes again keeps its label.
    let (counted, trackways) = propose(&world, &[proposal(&["P1", "P2"], 0.9)]);
    assert_eq!(counted, tally(0, 3, 0));
    assert_eq!(trackways[0], told("G1", Status::Proposed, 3));
    // None at all rejects all.
    let (counted, _) = propose(&world, &[]);
    assert_eq!(counted, tally(0, 1, 0));
}

pub(crate) fn a_proposal_needs_its_surface_and_its_prints(trial: &dyn Trial) {
    let world = ledge(trial);
    let good = proposal(&["P1", "P2"], 0.9);
    let nowhere = world
        .store
        .propose(&id("S2"), std::slice::from_ref(&good), &change(2));
    assert!(matches!(nowhere, Err(StoreError::Missing(_))));
    let unknown = world
        .store
        .propose(&id("S1"), &[good, proposal(&["P1", "P99"], 0.9)], &change(2));
    assert!(matches!(unknown, Err(StoreError::Missing(_))));
    assert_eq!(world.contents("S1").0.trackways, []);
}

pub(crate) fn field_trackways_are_not_touched(trial: &dyn Trial) {
    let world = ledge(trial);
    world.take(1, &[("S1", vec![member("P1", "T1", None)])]);
    let before = world.contents("S1").0.trackways;
    let (counted, trackways) = propose(&world, &[proposal(&["P1"], 0.9)]);
    assert_eq!(counted, tally(1, 0, 0));
    assert_eq!(
        trackways,
        [told("G1", Status::Proposed, 1), told("T1", Status::Accepted, 1)]
    );
    propose(&world, &[]);
    assert_eq!(world.contents("S1").0.trackways[1..], before);
}

pub(crate) fn no_proposals_on_an_empty_surface(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    sheet.put_surface(&Surface::new(label("S1"))).unwrap();
    sheet.finish().unwrap();
    assert_eq!(propose(&world, &[]), (Tally::default(), vec![]));
    assert_eq!(world.contents("S1").1, 1);
}
