//! Trackways that an editor makes and changes, and what they mean for the prints that are in them.

use super::Trial;
use super::edits::{done, edit, history, ledge, print_id, remove};
use super::world::{change, id, label, labels};
use crate::store::{Conflict, Deed, Edited, Expected, RecordId, RowConflict, StoreError, Verdict};
use spatial::model::{Basis, Status, Trackway, TrackwayId};

fn trackway_id(text: &str) -> RecordId {
    RecordId::Trackway(id("S1"), label(text))
}

pub(crate) fn what_others_need_stays(trial: &dyn Trial) {
    let world = ledge(trial);
    let in_use = |edited: Result<Edited, StoreError>, word: &str| match edited {
        Err(StoreError::InUse(why)) => assert!(why.contains(word), "{why}"),
        other => panic!("{other:?}"),
    };
    in_use(remove(&world, print_id("P3"), Expected::Any), "P4");
    in_use(remove(&world, trackway_id("T1"), Expected::Any), "field party");
    let made = trackway(&["P1", "P2"], Status::Proposed);
    assert_eq!(
        done(edit(
            &world,
            trackway_id("E1"),
            Deed::PutTrackway(made),
            Expected::Absent
        )),
        1
    );
    in_use(remove(&world, print_id("P1"), Expected::Any), "E1");
    let id = TrackwayId {
        surface: id("S1"),
        label: label("E1"),
    };
    world.store.judge(&id, Verdict::Reject, None, &change(6)).unwrap();
    assert_eq!(done(remove(&world, print_id("P1"), Expected::Any)), 2);
}

pub(crate) fn a_rejected_trackway_does_not_come_back_without_its_prints(trial: &dyn Trial) {
    let world = ledge(trial);
    let put = |prints: &[&str], status: Status, note: Option<&str>| {
        let given = Trackway {
            note: note.map(str::to_owned),
            ..trackway(prints, status)
        };
        edit(
            &world,
            trackway_id("E1"),
            Deed::PutTrackway(given),
            if note.is_some() {
                Expected::Any
            } else {
                Expected::Absent
            },
        )
    };
    assert_eq!(done(put(&["P1", "P2"], Status::Rejected, None)), 1);
    assert_eq!(done(remove(&world, print_id("P2"), Expected::Any)), 2);
    let judge = |text: &str, verdict: Verdict| {
        let id = TrackwayId {
            surface: id("S1"),
            label: label(text),
        };
        world.store.judge(&id, verdict, None, &change(6))
    };
    let gone = |judged: Result<Trackway, StoreError>, lost: &str| match judged {
        Err(StoreError::Gone { print, .. }) => assert_eq!(print, label(lost)),
        other => panic!("{other:?}"),
    };
    gone(judge("E1", Verdict::Accept), "P2");
    let lost = |status| put(&["P1", "P2"], status, Some("worn"));
    let conflict = Conflict::PrintUnknown(label("P2"));
    for status in [Status::Accepted, Status::Proposed] {
        let refused = Edited::Refused(vec![RowConflict {
            row: 1,
            conflict: conflict.clone(),
        }]);
        assert_eq!(lost(status).unwrap(), refused);
    }
    assert_eq!(
        done(lost(Status::Rejected)),
        2,
        "a note can be put beside what it was"
    );
    let other = put(&["P1", "P2", "P77"], Status::Rejected, Some("worn")).unwrap();
    let conflict = Conflict::PrintUnknown(label("P77"));
    assert_eq!(other, Edited::Refused(vec![RowConflict { row: 1, conflict }]));
    assert_eq!(done(put(&["P1"], Status::Proposed, Some("worn"))), 3);
    judge("E1", Verdict::Accept).unwrap();
    // The field party's trackway keeps the list that it had last, too.
    for print in ["P6", "P5"] {
        assert_eq!(done(remove(&world, print_id(print), Expected::Any)), 2);
    }
    gone(judge("T1", Verdict::Accept), "P5");
    assert_eq!(crate::store::check(world.store, &|_| ()).unwrap(), []);
}

fn trackway(prints: &[&str], status: Status) -> Trackway {
    Trackway {
        label: label("E1"),
        prints: labels(prints),
        basis: Basis::Editor,
        status,
        probability: None,
        morphotype: Some("broad-toed".to_owned()),
        note: None,
        judged_by: None,
        revision: 0,
    }
}

pub(crate) fn a_print_that_goes_leaves_the_field_partys_trackway(trial: &dyn Trial) {
    let world = ledge(trial);
    assert_eq!(done(remove(&world, print_id("P6"), Expected::Any)), 2);
    let trackways = world.contents("S1").0.trackways;
    assert_eq!(trackways[0].prints, labels(&["P5"]));
    assert_eq!(done(remove(&world, print_id("P5"), Expected::Any)), 2);
    let trackways = world.contents("S1").0.trackways;
    assert_eq!(trackways[0].status, Status::Rejected);
    assert_eq!(
        done(remove(&world, trackway_id("T1"), Expected::Any)),
        4,
        "a rejected one may go"
    );
    let summary = &world.store.surfaces().unwrap()[0];
    assert_eq!((summary.prints, summary.trackways), (4, 0));
}

pub(crate) fn an_editor_makes_trackways(trial: &dyn Trial) {
    let world = ledge(trial);
    let put = |prints: &[&str], status: Status, expected: Expected| {
        edit(
            &world,
            trackway_id("E1"),
            Deed::PutTrackway(trackway(prints, status)),
            expected,
        )
    };
    let unknown = put(&["P1", "P77"], Status::Proposed, Expected::Absent).unwrap();
    let conflict = Conflict::PrintUnknown(label("P77"));
    assert_eq!(unknown, Edited::Refused(vec![RowConflict { row: 1, conflict }]));
    assert!(matches!(
        put(&["P1", "P5"], Status::Accepted, Expected::Absent),
        Err(StoreError::Shared { .. })
    ));
    assert_eq!(done(put(&["P1", "P2"], Status::Accepted, Expected::Absent)), 1);
    let stored = || {
        world
            .contents("S1")
            .0
            .trackways
            .into_iter()
            .find(|one| one.label == label("E1"))
            .unwrap()
    };
    assert_eq!(
        (stored().basis, stored().judged_by),
        (Basis::Editor, Some(change(5).author))
    );
    assert_eq!(
        done(put(&["P1", "P2", "P3"], Status::Accepted, Expected::Revision(1))),
        2
    );
    assert_eq!(
        done(put(&["P1", "P2", "P3"], Status::Accepted, Expected::Revision(2))),
        2
    );
    assert_eq!(stored().prints, labels(&["P1", "P2", "P3"]));
    assert_eq!(done(remove(&world, trackway_id("E1"), Expected::Revision(2))), 3);
    assert_eq!(done(put(&["P1"], Status::Proposed, Expected::Absent)), 4);
    assert_eq!(history(&world, &trackway_id("E1")).len(), 4);
}
