//! Records made, replaced and removed one by one.

use super::Trial;
use super::world::{World, change, id, label, labels, member, print};
use crate::store::{Deed, Edit, Edited, Expected, Once, RecordId, Revision, StoreError};
use serde_json::Value;
use spatial::model::{Extent, ExtentKind, Print, Remarks, Surface};

pub(super) fn print_id(text: &str) -> RecordId {
    RecordId::Print(id("S1"), label(text))
}

pub(super) fn edit(
    world: &World<'_>,
    id: RecordId,
    deed: Deed,
    expected: Expected,
) -> Result<Edited, StoreError> {
    let edit = Edit {
        id,
        deed,
        expected,
        once: None,
    };
    world.store.edit(&edit, &change(5))
}

pub(super) fn put(world: &World<'_>, print: Print, expected: Expected) -> Result<Edited, StoreError> {
    let id = RecordId::Print(id("S1"), print.label.clone());
    edit(world, id, Deed::PutPrint(Box::new(print)), expected)
}

pub(super) fn remove(world: &World<'_>, id: RecordId, expected: Expected) -> Result<Edited, StoreError> {
    edit(world, id, Deed::Remove, expected)
}

pub(super) fn done(edited: Result<Edited, StoreError>) -> u32 {
    match edited {
        Ok(Edited::Done(revision)) => revision,
        other => panic!("{other:?}"),
    }
}

pub(super) fn history(world: &World<'_>, id: &RecordId) -> Vec<Revision> {
    world.store.history(id).unwrap()
}

fn print_labels(world: &World<'_>) -> Vec<String> {
    let prints = world.contents("S1").0.prints;
    prints.iter().map(|print| print.label.to_string()).collect()
}

/// A ledge with P1 to P4, the field party's T1 of P5 and P6, and P4 overlying P3.
pub(super) fn ledge(trial: &dyn Trial) -> World<'_> {
    let world = World::new(trial.store());
    let mut prints: Vec<_> = (1..=3).map(|no| print(&format!("P{no}"))).collect();
    prints.push(Print {
        remarks: Some(Box::new(Remarks {
            overlies: labels(&["P3"]),
            ..Remarks::default()
        })),
        ..print("P4")
    });
    prints.extend([member("P5", "T1", Some(1)), member("P6", "T1", Some(2))]);
    world.take(1, &[("S1", prints)]);
    world
}

pub(crate) fn a_print_is_made_replaced_and_removed(trial: &dyn Trial) {
    let world = ledge(trial);
    let before = world.contents("S1").1;
    assert_eq!(done(put(&world, print("P9"), Expected::Absent)), 1);
    let longer = Print {
        length_m: 0.5,
        ..print("P9")
    };
    assert_eq!(done(put(&world, longer.clone(), Expected::Revision(1))), 2);
    assert_eq!(
        done(put(&world, longer, Expected::Any)),
        2,
        "nothing is other than before"
    );
    assert_eq!(world.contents("S1").1, before + 2);
    assert_eq!(done(remove(&world, print_id("P9"), Expected::Revision(2))), 3);
    let summary = &world.store.surfaces().unwrap()[0];
    assert_eq!((summary.prints, summary.contents_revision), (6, before + 3));
    assert!(!print_labels(&world).contains(&"P9".to_owned()));
    let told = history(&world, &print_id("P9"));
    let numbers: Vec<u32> = told.iter().map(|revision| revision.revision).collect();
    assert_eq!(numbers, [1, 2, 3]);
    assert_eq!(told[1].record["length_m"], 0.5);
    assert_eq!(told[2].record, Value::Null);
    assert_eq!(told[2].author, change(5).author);
}

pub(crate) fn what_is_made_again_goes_on_counting(trial: &dyn Trial) {
    let world = ledge(trial);
    assert_eq!(done(remove(&world, print_id("P1"), Expected::Any)), 2);
    assert_eq!(done(put(&world, print("P1"), Expected::Absent)), 3);
    assert_eq!(done(remove(&world, print_id("P1"), Expected::Revision(3))), 4);
    // A sheet brings it back, too.
    let taken = world.take(6, &[("S1", vec![print("P1"), print("P2")])]);
    assert_eq!((taken.prints.added, taken.prints.unchanged), (1, 1));
    assert_eq!(history(&world, &print_id("P1")).len(), 5);
    assert_eq!(world.contents("S1").0.prints[0].revision, 5);
    let changed = Print {
        length_m: 0.7,
        ..print("P1")
    };
    world.take(7, &[("S1", vec![changed])]);
    let numbers: Vec<u32> = history(&world, &print_id("P1"))
        .iter()
        .map(|told| told.revision)
        .collect();
    assert_eq!(numbers, [1, 2, 3, 4, 5, 6]);
}

pub(crate) fn the_last_print_of_a_surface_may_go_and_come_again(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    assert_eq!(done(remove(&world, print_id("P1"), Expected::Any)), 2);
    assert_eq!(world.contents("S1").0.prints, []);
    world.take(2, &[("S1", vec![print("P1"), print("P2")])]);
    let prints = world.contents("S1").0.prints;
    let numbers: Vec<u32> = prints.iter().map(|print| print.revision).collect();
    assert_eq!(numbers, [3, 1]);
}

pub(crate) fn nobody_overruns_what_he_has_not_seen(trial: &dyn Trial) {
    let world = ledge(trial);
    let mark = world.store.mark().unwrap();
    let longer = || Print {
        length_m: 0.5,
        ..print("P1")
    };
    assert!(matches!(
        put(&world, longer(), Expected::Absent),
        Err(StoreError::Exists(_))
    ));
    assert!(matches!(
        put(&world, longer(), Expected::Revision(2)),
        Err(StoreError::Moved(_))
    ));
    assert!(matches!(
        put(&world, print("P9"), Expected::Revision(1)),
        Err(StoreError::Missing(_))
    ));
    assert!(matches!(
        put(&world, print("P9"), Expected::Any),
        Err(StoreError::Missing(_))
    ));
    assert!(matches!(
        remove(&world, print_id("P9"), Expected::Any),
        Err(StoreError::Missing(_))
    ));
    assert!(matches!(
        remove(&world, print_id("P1"), Expected::Revision(2)),
        Err(StoreError::Moved(_))
    ));
    let elsewhere = RecordId::Print(id("S9"), label("P1"));
    assert!(matches!(
        remove(&world, elsewhere, Expected::Any),
        Err(StoreError::Missing(_))
    ));
    let nowhere = RecordId::Print("no-ledge:S1".parse().unwrap(), label("P1"));
    assert!(matches!(
        remove(&world, nowhere, Expected::Any),
        Err(StoreError::Missing(_))
    ));
    assert_eq!(world.store.mark().unwrap(), mark, "nothing was changed");
}

pub(crate) fn extents_and_surfaces_are_edited(trial: &dyn Trial) {
    let world = ledge(trial);
    let extent = |kind: ExtentKind| Extent {
        label: label("E1"),
        kind,
        polygon: geo::Rect::new((1.0, 2.0), (11.0, 7.0)).to_polygon(),
        surveyed_on: None,
        revision: 0,
    };
    let extent_id = || RecordId::Extent(id("S1"), label("E1"));
    let put = |kind, expected| edit(&world, extent_id(), Deed::PutExtent(extent(kind)), expected);
    assert_eq!(done(put(ExtentKind::Exposed, Expected::Absent)), 1);
    assert_eq!(done(put(ExtentKind::Covered, Expected::Revision(1))), 2);
    assert_eq!(done(remove(&world, extent_id(), Expected::Revision(2))), 3);
    assert_eq!(world.contents("S1").0.extents, []);
    assert_eq!(done(put(ExtentKind::Exposed, Expected::Absent)), 4);
    let surface = |name: &str| {
        let record = Surface {
            name: Some(name.to_owned()),
            ..Surface::new(label("S2"))
        };
        Deed::PutSurface(record)
    };
    let surface_id = || RecordId::Surface(id("S2"));
    assert_eq!(
        done(edit(&world, surface_id(), surface("upper"), Expected::Absent)),
        1
    );
    assert!(matches!(
        edit(&world, surface_id(), surface("x"), Expected::Absent),
        Err(StoreError::Exists(_))
    ));
    assert_eq!(
        done(edit(
            &world,
            surface_id(),
            surface("lower"),
            Expected::Revision(1)
        )),
        2
    );
    assert_eq!(world.contents("S2").0.surface.name.as_deref(), Some("lower"));
}

pub(crate) fn what_was_made_with_a_key_is_made_once(trial: &dyn Trial) {
    let world = ledge(trial);
    let once = |digest: u8| {
        Some(Once {
            key: "k-1".to_owned(),
            digest: [digest; 32],
        })
    };
    let make = |store: &dyn crate::store::Store, text: &str, digest: u8, day: i64| {
        let deed = Deed::PutPrint(Box::new(print(text)));
        let edit = Edit {
            id: print_id(text),
            deed,
            expected: Expected::Absent,
            once: once(digest),
        };
        store.edit(&edit, &change(day))
    };
    assert_eq!(make(world.store, "P9", 1, 5).unwrap(), Edited::Done(1));
    let before = Edited::Before("gull-ledge:S1:P9".to_owned(), 1);
    assert_eq!(make(&*trial.again(), "P9", 1, 5).unwrap(), before);
    assert_eq!(history(&world, &print_id("P9")).len(), 1);
    assert!(matches!(
        make(world.store, "P8", 2, 5),
        Err(StoreError::KeyUsed(_))
    ));
    assert_eq!(
        make(world.store, "P8", 2, 6).unwrap(),
        Edited::Done(1),
        "another author has keys of his own"
    );
    // What is refused is not remembered.
    assert!(matches!(
        make(world.store, "P9", 3, 7),
        Err(StoreError::Exists(_))
    ));
    assert_eq!(make(world.store, "P7", 4, 7).unwrap(), Edited::Done(1));
}

pub(crate) fn of_many_who_change_a_record_at_once_none_is_lost(trial: &dyn Trial) {
    const WRITERS: u32 = 8;
    const ROUNDS: u32 = 5;
    let world = ledge(trial);
    let again: Vec<Box<dyn crate::store::Store>> = (0..WRITERS).map(|_| trial.again()).collect();
    std::thread::scope(|scope| {
        for store in &again {
            scope.spawn(move || {
                let mut won = 0;
                while won < ROUNDS {
                    let (contents, _) = store.contents(&id("S1")).unwrap().unwrap();
                    let stands = &contents.prints[0];
                    // Each adds a millimetre to what he has seen: an update that is lost is a millimetre that is missing.
                    let next = Print {
                        length_m: stands.length_m + 0.001,
                        ..stands.clone()
                    };
                    let edit = Edit {
                        id: print_id("P1"),
                        deed: Deed::PutPrint(Box::new(next)),
                        expected: Expected::Revision(stands.revision),
                        once: None,
                    };
                    match store.edit(&edit, &change(9)) {
                        Ok(Edited::Done(_)) => won += 1,
                        Err(StoreError::Moved(_) | StoreError::Busy) => {}
                        other => panic!("{other:?}"),
                    }
                }
            });
        }
    });
    let stands = world.contents("S1").0.prints[0].clone();
    assert_eq!(stands.revision, 1 + WRITERS * ROUNDS);
    let expected = print("P1").length_m + f64::from(WRITERS * ROUNDS) * 0.001;
    assert!((stands.length_m - expected).abs() < 1e-9, "{}", stands.length_m);
}
