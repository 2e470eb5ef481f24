//! Sheets: whole or not at all, and twice is once.

use super::Trial;
use super::world::{World, above, change, gull_ledge, id, label, member, print, rows};
use crate::store::{Conflict, Outcome, RowConflict, StoreError, Tally};
use spatial::model::{Label, Print, Surface};

fn duplicate(row: u64) -> RowConflict {
    RowConflict {
        row,
        conflict: Conflict::DuplicatePrint,
    }
}

fn longer(print: Print) -> Print {
    Print {
        length_m: print.length_m + 0.01,
        ..print
    }
}

pub(crate) fn a_sheet_twice_changes_nothing(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let sheet = [(
        "S1",
        vec![
            member("P1", "T1", Some(1)),
            member("P2", "T1", None),
            above("P3", &["P1"]),
        ],
    )];
    let first = world.take(1, &sheet);
    assert_eq!(
        (first.prints.added, first.surfaces_added, first.trackways.added),
        (3, 1, 1)
    );
    let before = (
        world.contents("S1"),
        world.store.surfaces().unwrap(),
        world.store.mark().unwrap(),
    );
    let second = world.take(2, &sheet);
    let unchanged = |unchanged| Tally {
        unchanged,
        ..Tally::default()
    };
    assert_eq!((second.prints, second.trackways), (unchanged(3), unchanged(1)));
    assert_eq!((second.surfaces_added, second.surfaces), (0, vec![id("S1")]));
    let after = (
        world.contents("S1"),
        world.store.surfaces().unwrap(),
        world.store.mark().unwrap(),
    );
    assert_eq!(after, before);
}

pub(crate) fn a_changed_row_is_a_new_revision(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1"), print("P2")])]);
    let taken = world.take(2, &[("S1", vec![print("P1"), longer(print("P2")), print("P3")])]);
    assert_eq!(
        taken.prints,
        Tally {
            added: 1,
            changed: 1,
            unchanged: 1
        }
    );
    let (contents, revision) = world.contents("S1");
    let revisions: Vec<u32> = contents.prints.iter().map(|print| print.revision).collect();
    assert_eq!((revisions, revision), (vec![1, 2, 1], 2));
}

/// The first of the two may be new, changed or as it stood, and so may the second.
pub(crate) fn a_label_twice_is_found_in_every_case(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    let before = world.contents("S1");
    let cases = [
        [print("P2"), print("P2")],
        [print("P2"), longer(print("P2"))],
        [print("P1"), print("P1")],
        [print("P1"), longer(print("P1"))],
        [longer(print("P1")), longer(print("P1"))],
        [longer(print("P1")), print("P1")],
    ];
    for [first, second] in cases {
        let sheet = [("S1", vec![first, print("P9"), second])];
        assert_eq!(world.finish(2, &sheet), Outcome::Refused(vec![duplicate(4)]));
        assert_eq!(world.contents("S1"), before);
    }
    // One label on two surfaces is no duplicate, and what one sheet had the next may have again.
    world.take(3, &[("S1", vec![print("P1")]), ("S2", vec![print("P1")])]);
}

pub(crate) fn an_unknown_print_below_is_found(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")]), ("S2", vec![print("P7")])]);
    let sheet = [(
        "S1",
        vec![print("P1"), above("P3", &["P7", "P1"]), above("P2", &["P8"])],
    )];
    let unknown = |row, text| RowConflict {
        row,
        conflict: Conflict::OverliesUnknown(label(text)),
    };
    let expected = Outcome::Refused(vec![unknown(3, "P7"), unknown(4, "P8")]);
    assert_eq!(world.finish(2, &sheet), expected);
    assert_eq!(world.contents("S1").0.prints.len(), 1);
}

pub(crate) fn a_print_may_overlie_a_later_row(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![above("P1", &["P2"]), print("P2")])]);
    // And one of an earlier sheet.
    world.take(2, &[("S1", vec![above("P3", &["P1", "P2"])])]);
    assert_eq!(world.contents("S1").0.prints.len(), 3);
}

pub(crate) fn a_dropped_sheet_leaves_nothing(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    let before = (
        world.contents("S1"),
        world.store.surfaces().unwrap(),
        world.store.mark().unwrap(),
    );
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(2)).unwrap();
    let all = rows(&[
        ("S1", vec![longer(print("P1")), print("P2")]),
        ("S2", vec![print("P3")]),
    ]);
    sheet.put_prints(&all).unwrap();
    drop(sheet);
    let after = (
        world.contents("S1"),
        world.store.surfaces().unwrap(),
        world.store.mark().unwrap(),
    );
    assert_eq!(after, before);
    // The store is free for the next.
    world.take(3, &[("S2", vec![print("P3")])]);
}

pub(crate) fn a_refused_sheet_leaves_nothing(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mark = world.store.mark().unwrap();
    let outcome = world.finish(1, &[("S1", vec![print("P1"), above("P2", &["P3"])])]);
    assert!(matches!(outcome, Outcome::Refused(_)));
    assert_eq!(world.store.surfaces().unwrap(), []);
    assert_eq!(world.store.mark().unwrap(), mark);
}

pub(crate) fn a_sheet_of_no_site_is_not_begun(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let begun = world.store.begin_sheet(&"elsewhere".parse().unwrap(), &change(1));
    assert!(matches!(begun.err(), Some(StoreError::Missing(_))));
    world.take(1, &[("S1", vec![print("P1")])]);
}

pub(crate) fn a_sheet_may_speak_of_many_surfaces(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let places: Vec<_> = ["S3", "S1", "S2", "S1"]
        .into_iter()
        .zip(["P1", "P2", "P3", "P4"])
        .map(|(surface, text)| (surface, vec![print(text)]))
        .collect();
    let taken = world.take(1, &places);
    assert_eq!(taken.surfaces, [id("S1"), id("S2"), id("S3")]);
    let counts: Vec<(Label, u64)> = world
        .store
        .surfaces()
        .unwrap()
        .into_iter()
        .map(|summary| (summary.id.label, summary.prints))
        .collect();
    assert_eq!(counts, [(label("S1"), 2), (label("S2"), 1), (label("S3"), 1)]);
    world.take(2, &[("S2", vec![print("P5")])]);
    assert_eq!((world.contents("S1").1, world.contents("S2").1), (1, 2));
}

pub(crate) fn an_empty_sheet_changes_nothing(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mark = world.store.mark().unwrap();
    let taken = world.take(1, &[]);
    assert_eq!((taken.prints, taken.surfaces), (Tally::default(), vec![]));
    assert_eq!(world.store.mark().unwrap(), mark);
}

pub(crate) fn a_surface_with_a_record_is_put_before_its_prints(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    let surface = Surface {
        name: Some("lower ledge".to_owned()),
        order: Some(-2),
        strike_deg: Some(12.5),
        dip_deg: Some(3.0),
        lithology: Some("sandstone".to_owned()),
        note: Some("invented".to_owned()),
        ..Surface::new(label("S1"))
    };
    sheet.put_surface(&surface).unwrap();
    sheet.put_prints(&rows(&[("S1", vec![print("P1")])])).unwrap();
    let Outcome::Taken(taken) = sheet.finish().unwrap() else {
        panic!("refused")
    };
    assert_eq!((taken.surfaces_added, taken.prints.added), (1, 1));
    let stored = Surface {
        revision: 1,
        ..surface
    };
    assert_eq!(world.contents("S1").0.surface, stored);
    // Prints alone say nothing of the surface's own record.
    world.take(2, &[("S1", vec![print("P2")])]);
    assert_eq!(world.contents("S1").0.surface, stored);
}
