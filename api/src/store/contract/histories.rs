//! Revisions: counted from 1, whole, and never lost.

use super::Trial;
use super::world::{World, change, gull_ledge, id, label, print, square};
use crate::store::{RecordId, Revision};
use serde_json::json;
use spatial::model::{Print, Surface};

fn numbers(history: &[Revision]) -> Vec<u32> {
    history.iter().map(|revision| revision.revision).collect()
}

pub(crate) fn revisions_count_up_and_none_is_lost(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let lengths = [0.3, 0.1 + 0.2, 0.31];
    for (day, length_m) in (1..).zip(lengths) {
        let given = Print {
            length_m,
            preservation: Some(2.1),
            ..print("P1")
        };
        world.take(day, &[("S1", vec![given, print("P2")])]);
    }
    let history = world
        .store
        .history(&RecordId::Print(id("S1"), label("P1")))
        .unwrap();
    assert_eq!(numbers(&history), [1, 2, 3]);
    for ((revision, length_m), day) in history.iter().zip(lengths).zip(1..) {
        let expected = change(day);
        assert_eq!(revision.record["length_m"], json!(length_m));
        assert_eq!(revision.record["preservation"], json!(2.1));
        assert_eq!(revision.record["revision"], json!(revision.revision));
        assert_eq!(
            (&revision.author, revision.at, &revision.deed),
            (&expected.author, expected.at, &expected.deed)
        );
        let again: Print = serde_json::from_value(revision.record.clone()).unwrap();
        assert_eq!(again.length_m, length_m);
    }
    let untouched = world
        .store
        .history(&RecordId::Print(id("S1"), label("P2")))
        .unwrap();
    assert_eq!(numbers(&untouched), [1]);
    assert_eq!(world.contents("S1").0.prints[0].revision, 3);
}

pub(crate) fn a_surface_keeps_its_revisions(trial: &dyn Trial) {
    let world = World::new(trial.store());
    for (day, dip_deg) in [(1, None), (2, Some(4.0)), (3, Some(4.0)), (4, Some(5.5))] {
        let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(day)).unwrap();
        let surface = Surface {
            dip_deg,
            ..Surface::new(label("S1"))
        };
        sheet.put_surface(&surface).unwrap();
        sheet.finish().unwrap();
    }
    let history = world.store.history(&RecordId::Surface(id("S1"))).unwrap();
    assert_eq!(numbers(&history), [1, 2, 3]);
    let dips: Vec<_> = history
        .iter()
        .map(|revision| revision.record["dip_deg"].clone())
        .collect();
    assert_eq!(dips, [json!(null), json!(4.0), json!(5.5)]);
    assert_eq!(history[2].author, "worker 4");
    let (contents, revision) = world.contents("S1");
    assert_eq!(
        (contents.surface.dip_deg, contents.surface.revision, revision),
        (Some(5.5), 3, 3)
    );
}

pub(crate) fn an_extent_keeps_its_revisions(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take_extents(1, &[square("E1", 0.0, 0.0)]);
    world.take_extents(2, &[square("E1", 1.0, 0.0)]);
    let history = world
        .store
        .history(&RecordId::Extent(id("S1"), label("E1")))
        .unwrap();
    assert_eq!(numbers(&history), [1, 2]);
    assert_eq!(history[0].record["polygon"]["type"], "Polygon");
    assert_ne!(history[0].record["polygon"], history[1].record["polygon"]);
}

pub(crate) fn an_unknown_record_has_no_history(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    for unknown in [
        RecordId::Site("elsewhere".parse().unwrap()),
        RecordId::Surface(id("S2")),
        RecordId::Print(id("S1"), label("P2")),
        RecordId::Print(id("S2"), label("P1")),
        RecordId::Extent(id("S1"), label("P1")),
        RecordId::Trackway(id("S1"), label("P1")),
    ] {
        assert_eq!(world.store.history(&unknown).unwrap(), [], "{unknown:?}");
    }
}
