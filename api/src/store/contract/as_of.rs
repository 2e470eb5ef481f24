//! The record as it was at a moment.

use super::Trial;
use super::world::{World, change, id, label, member, print};
use crate::store::{Change, Deed, Edit, Edited, Expected, RecordId, Store};
use jiff::{SignedDuration, Timestamp};
use spatial::model::{Extent, ExtentKind, Print};

/// The moment of a day's change, and the one just before it.
fn at(day: i64) -> Timestamp {
    change(day).at
}

fn before(day: i64) -> Timestamp {
    at(day).checked_sub(SignedDuration::from_nanos(1)).unwrap()
}

fn edit(store: &dyn Store, id: RecordId, deed: Deed, expected: Expected, change: &Change) {
    let edited = store
        .edit(
            &Edit {
                id,
                deed,
                expected,
                once: None,
            },
            change,
        )
        .unwrap();
    assert!(matches!(edited, Edited::Done(_)), "{edited:?}");
}

fn print_id(text: &str) -> RecordId {
    RecordId::Print(id("S1"), label(text))
}

/// Labels and lengths of the prints at a moment; `None` where there was no surface.
fn prints(store: &dyn Store, moment: Timestamp) -> Option<Vec<(String, f64)>> {
    let contents = store.contents_at(&id("S1"), moment).unwrap()?;
    Some(
        contents
            .prints
            .iter()
            .map(|print| (print.label.to_string(), print.length_m))
            .collect(),
    )
}

fn longer(text: &str, length_m: f64) -> Print {
    Print {
        length_m,
        ..print(text)
    }
}

/// Day 1: P1, P2. Day 2: P1 longer, P3 in T1. Day 3: P2 removed, an extent. Day 4: P2 again. Day 5: the site is renamed.
fn ledge(trial: &dyn Trial) -> World<'_> {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![longer("P1", 0.1), longer("P2", 0.2)])]);
    world.take(
        2,
        &[("S1", vec![longer("P1", 0.15), member("P3", "T1", Some(1))])],
    );
    edit(
        world.store,
        print_id("P2"),
        Deed::Remove,
        Expected::Any,
        &change(3),
    );
    let extent = Extent {
        label: label("E1"),
        kind: ExtentKind::Exposed,
        polygon: geo::Rect::new((1.0, 2.0), (11.0, 7.0)).to_polygon(),
        surveyed_on: Some("2026-05-01".parse().unwrap()),
        revision: 0,
    };
    world.take_extents(3, std::slice::from_ref(&extent));
    let again = Deed::PutPrint(Box::new(longer("P2", 0.25)));
    edit(world.store, print_id("P2"), again, Expected::Absent, &change(4));
    let covered = Deed::PutExtent(Extent {
        kind: ExtentKind::Covered,
        ..extent
    });
    edit(
        world.store,
        RecordId::Extent(id("S1"), label("E1")),
        covered,
        Expected::Any,
        &change(4),
    );
    let mut site = world.store.sites().unwrap().remove(0);
    site.name = "Gull Bay (invented)".to_owned();
    world.store.change_site(&site, &change(5)).unwrap();
    world
}

pub(crate) fn a_surface_is_read_as_it_was(trial: &dyn Trial) {
    let world = ledge(trial);
    let read = |moment| {
        let found = prints(world.store, moment);
        let told = found.map(|found| {
            found
                .iter()
                .map(|(label, length)| format!("{label} {length}"))
                .collect::<Vec<_>>()
        });
        told.map(|told| told.join(", "))
    };
    let p3 = print("P3").length_m;
    assert_eq!(read(before(1)), None);
    assert_eq!(read(at(1)).unwrap(), "P1 0.1, P2 0.2");
    assert_eq!(read(before(2)).unwrap(), "P1 0.1, P2 0.2");
    assert_eq!(read(at(2)).unwrap(), format!("P1 0.15, P2 0.2, P3 {p3}"));
    assert_eq!(read(at(3)).unwrap(), format!("P1 0.15, P3 {p3}"));
    assert_eq!(read(at(4)).unwrap(), format!("P1 0.15, P2 0.25, P3 {p3}"));
    let now = world.contents("S1").0;
    let then = trial.again().contents_at(&id("S1"), at(9)).unwrap().unwrap();
    assert_eq!(then, now, "after the last change it is as it is");
    let then = world.store.contents_at(&id("S1"), at(3)).unwrap().unwrap();
    assert_eq!(then.extents[0].kind, ExtentKind::Exposed);
    assert_eq!(then.extents[0].polygon, now.extents[0].polygon);
    assert_eq!(then.trackways, now.trackways);
    assert_eq!(
        world
            .store
            .contents_at(&id("S1"), at(1))
            .unwrap()
            .unwrap()
            .trackways,
        []
    );
}

pub(crate) fn sites_and_counts_are_listed_as_they_were(trial: &dyn Trial) {
    let world = ledge(trial);
    let (sites, surfaces) = world.store.listing_at(before(0)).unwrap();
    assert!(sites.is_empty() && surfaces.is_empty(), "{sites:?}");
    let counts = |day: i64| {
        let (sites, surfaces) = world.store.listing_at(at(day)).unwrap();
        let counted = surfaces
            .first()
            .map(|one| (one.prints, one.extents, one.trackways));
        (sites[0].name.clone(), counted)
    };
    let old = "Gull Ledge (invented)".to_owned();
    assert_eq!(counts(0), (old.clone(), None));
    assert_eq!(counts(1), (old.clone(), Some((2, 0, 0))));
    assert_eq!(counts(2), (old.clone(), Some((3, 0, 1))));
    assert_eq!(counts(3), (old.clone(), Some((2, 1, 1))));
    assert_eq!(counts(4), (old, Some((3, 1, 1))));
    assert_eq!(counts(5), ("Gull Bay (invented)".to_owned(), Some((3, 1, 1))));
    let (_, now) = world.store.listing_at(at(9)).unwrap();
    assert_eq!(now, world.store.surfaces().unwrap());
}

pub(crate) fn a_clock_that_goes_back_loses_nothing(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(5, &[("S1", vec![longer("P1", 0.1)])]);
    // The next change bears an earlier time: it was made knowing the one before, so it counts from its own time on.
    world.take(3, &[("S1", vec![longer("P1", 0.2)])]);
    world.take(7, &[("S1", vec![longer("P1", 0.3)])]);
    let read =
        |day| prints(world.store, at(day)).map(|found| found.iter().map(|(_, length)| *length).collect());
    assert_eq!(read(2), None::<Vec<f64>>);
    assert_eq!(read(5), Some(vec![0.2]));
    assert_eq!(read(6), Some(vec![0.2]));
    assert_eq!(read(7), Some(vec![0.3]));
    let revisions = world.store.history(&print_id("P1")).unwrap();
    assert_eq!(revisions.len(), 3);
    assert_eq!(
        world
            .store
            .contents_at(&"gull-ledge:S9".parse().unwrap(), at(9))
            .unwrap(),
        None
    );
}
