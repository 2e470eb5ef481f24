//! What only holds of a database.

use super::*;
use crate::store::contract::world::{
    World, change, gull_ledge, id, label, labels, member, print, rows, square,
};
use crate::store::{Conflict, Outcome, RecordId, RowConflict, SheetStore, StoreError};
use postgres::fallible_iterator::FallibleIterator;
use spatial::model::{Basis, Print, Trackway};
use std::time::Duration;

#[test]
fn two_imports_of_one_sheet_at_once_make_one_set_of_revisions() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    let other = fresh.again();
    for (day, length_m) in [(1, 0.3), (2, 0.4)] {
        let sheet: Vec<Print> = (0..500)
            .map(|no| Print {
                length_m,
                ..member(&format!("P{no}"), "T1", Some(no))
            })
            .collect();
        let take = |store: &dyn Store| World { store }.take(day, &[("S1", sheet.clone())]);
        let (one, two) = std::thread::scope(|scope| {
            let one = scope.spawn(|| take(&fresh.store));
            let two = scope.spawn(|| take(&*other));
            (one.join().unwrap(), two.join().unwrap())
        });
        let stored = |taken: &crate::store::Taken| taken.prints.added + taken.prints.changed;
        assert_eq!(stored(&one) + stored(&two), 500);
        assert_eq!(one.prints.unchanged + two.prints.unchanged, 500);
        let (contents, revision) = world.contents("S1");
        assert_eq!(revision, day as u64);
        assert!(
            contents
                .prints
                .iter()
                .all(|print| i64::from(print.revision) == day)
        );
    }
}

#[test]
fn a_writer_gives_up_after_a_while() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    let patience = Duration::from_millis(50);
    let hasty = PostgresStore::open_with(&address(&fresh.database), false, patience).unwrap();
    let held = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    let begun = hasty.begin_sheet(&gull_ledge(), &change(2));
    assert!(matches!(begun.err(), Some(StoreError::Busy)));
    // Another site is free.
    let other = spatial::model::Site::new("another-ledge".parse().unwrap(), 25_830);
    world.store.add_site(&other, &change(2)).unwrap();
    assert!(hasty.begin_sheet(&other.slug, &change(2)).is_ok());
    drop(held);
    assert!(hasty.begin_sheet(&gull_ledge(), &change(2)).is_ok());
}

#[test]
fn a_text_with_the_null_character_is_refused_in_words() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    let odd = Print {
        morphotype: Some("a\0b".into()),
        ..print("P1")
    };
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    sheet.put_prints(&rows(&[("S1", vec![odd])])).unwrap();
    let refused = sheet.finish();
    assert!(matches!(refused, Err(StoreError::NulCharacter)), "{refused:?}");
    assert_eq!(world.store.surfaces().unwrap(), []);
}

#[test]
fn who_listens_is_told_of_commits_and_of_nothing_else() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    let mut conn = fresh.database.connect();
    conn.batch_execute("LISTEN stridebed").unwrap();
    let mut told = || -> Vec<String> {
        conn.batch_execute("SELECT 1").unwrap();
        let told = conn
            .notifications()
            .iter()
            .map(|told| Ok(told.payload().to_owned()))
            .collect();
        told.unwrap()
    };
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    sheet.put_prints(&rows(&[("S1", vec![print("P1")])])).unwrap();
    drop(sheet);
    assert_eq!(told(), [""; 0]);
    world.take(2, &[("S1", vec![print("P1")]), ("S2", vec![print("P1")])]);
    let of = |surface: &str| format!(r#"{{"site" : "gull-ledge", "surface" : "{surface}"}}"#);
    assert_eq!(told(), [of("S1"), of("S2")]);
    world.take(3, &[("S1", vec![print("P1")])]);
    assert_eq!(told(), [""; 0]);
}

/// More than is sent at once, on a surface that had no prints and on one that had.
#[test]
fn a_sheet_larger_than_what_is_sent_at_once_is_taken_whole() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    let many: Vec<Print> = (0..40_000)
        .map(|no| Print {
            field_order: Some(no),
            ..member(&format!("P{no}"), "T1", Some(no))
        })
        .collect();
    // Twice, far apart: once the first is long in the table.
    let twice = [&many[..], &many[7..8], &[print("P50000")], &many[39_999..]].concat();
    let duplicate = |row| RowConflict {
        row,
        conflict: Conflict::DuplicatePrint,
    };
    assert_eq!(
        finish_at_once(&world, 1, &twice),
        Outcome::Refused(vec![duplicate(40_002), duplicate(40_004)])
    );
    assert!(matches!(finish_at_once(&world, 1, &many), Outcome::Taken(_)));
    assert_eq!(world.contents("S1").0.trackways[0].prints.len(), 40_000);
    let longer: Vec<Print> = many
        .iter()
        .zip(0..)
        .map(|(one, no)| Print {
            length_m: one.length_m + f64::from(no % 2),
            ..one.clone()
        })
        .chain([print("P50000")])
        .collect();
    let Outcome::Taken(taken) = finish_at_once(&world, 2, &longer) else {
        panic!("refused")
    };
    let tally = taken.prints;
    assert_eq!((tally.added, tally.changed, tally.unchanged), (1, 20_000, 20_000));
    let (contents, revision) = world.contents("S1");
    assert_eq!((contents.prints.len(), revision), (40_001, 2));
    assert_eq!(
        contents.prints.iter().filter(|one| one.revision == 2).count(),
        20_000
    );
    let history = world
        .store
        .history(&RecordId::Print(id("S1"), label("P1")))
        .unwrap();
    assert_eq!(history[0].record["length_m"], 0.31);
    assert_eq!(world.store.surfaces().unwrap()[0].prints, 40_001);
}

fn finish_at_once(world: &World<'_>, day: i64, prints: &[Print]) -> Outcome {
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(day)).unwrap();
    for batch in rows(&[("S1", prints.to_vec())]).chunks(1_000) {
        assert_eq!(sheet.put_prints(batch).unwrap(), []);
    }
    sheet.finish().unwrap()
}

/// Nothing above the store edits trackways yet, so they are put there by hand.
#[test]
fn what_others_made_of_a_trackway_is_not_overwritten() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    world.take(1, &[("S1", vec![print("P1"), print("P2")])]);
    let by_hand = "INSERT INTO stridebed.trackway (site, surface, label, prints, basis, status, revision, change) \
         VALUES (1, 1, 'T1', '{P1}', 'editor', 'proposed', 1, 1), \
                (1, 1, 'G1', '{P2}', 'grouping', 'accepted', 1, 1)";
    fresh.database.connect().batch_execute(by_hand).unwrap();
    let before = world.contents("S1");
    let not_of_field = |row, text| RowConflict {
        row,
        conflict: Conflict::NotOfField(label(text)),
    };
    let other_prints = vec![member("P1", "G1", None), member("P2", "T1", None)];
    assert_eq!(
        world.finish(2, &[("S1", other_prints)]),
        Outcome::Refused(vec![not_of_field(2, "G1"), not_of_field(3, "T1")])
    );
    assert_eq!(world.contents("S1"), before);
    world.take(
        3,
        &[("S1", vec![member("P1", "T1", None), member("P2", "G1", None)])],
    );
    assert_eq!(world.contents("S1").0.trackways, before.0.trackways);
    let again = Trackway {
        basis: Basis::Grouping,
        probability: Some(0.3),
        prints: labels(&["P2"]),
        ..before.0.trackways[0].clone()
    };
    let tally = fresh.store.propose(&before.0.id, &[again], &change(4)).unwrap();
    assert_eq!((tally.unchanged, tally.changed), (1, 0));
    assert_eq!(world.contents("S1").0.trackways, before.0.trackways);
}

/// Even a statement that forgets the history cannot lose a revision.
#[test]
fn the_schema_refuses_what_would_lose_a_revision() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    world.take(1, &[("S1", vec![member("P1", "T1", None), print("P2")])]);
    world.take_extents(1, &[square("E1", 0.0, 0.0)]);
    world.take(
        2,
        &[(
            "S1",
            vec![Print {
                easting_m: 0.0,
                ..print("P2")
            }],
        )],
    );
    let mut conn = fresh.database.connect();
    conn.batch_execute("SET search_path = stridebed").unwrap();
    let mut refused = |statement: &str| {
        let error = conn.batch_execute(statement).expect_err(statement);
        let error = error.as_db_error().unwrap().message().to_owned();
        assert!(
            error.contains("would be lost") || error.contains("is never"),
            "{statement}: {error}"
        );
    };
    for table in ["site", "surface", "extent", "print", "trackway", "past", "change"] {
        refused(&format!("DELETE FROM {table}"));
        refused(&format!("TRUNCATE {table} CASCADE"));
    }
    for table in ["site", "surface", "extent", "print", "trackway"] {
        refused(&format!("UPDATE {table} SET revision = revision"));
        refused(&format!("UPDATE {table} SET revision = revision + 1"));
        refused(&format!("UPDATE {table} SET revision = revision + 2"));
    }
    refused("UPDATE print SET label = label || 'x', revision = revision + 1");
    refused("UPDATE surface SET note = 'x'");
    refused("UPDATE past SET record = '{}'");
    refused("UPDATE change SET author = 'nobody'");
    for part in 0..16 {
        refused(&format!("TRUNCATE print_{part}"));
    }
}

#[test]
fn a_large_sheet_that_is_given_up_leaves_nothing() {
    let fresh = Fresh::new();
    let world = World::new(&fresh.store);
    let many: Vec<Print> = (0..40_000).map(|no| print(&format!("P{no}"))).collect();
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    // Some of them are on their way when it is dropped.
    sheet.put_prints(&rows(&[("S1", many)])).unwrap();
    drop(sheet);
    assert_eq!(world.store.surfaces().unwrap(), []);
    assert_eq!(world.take(2, &[("S1", vec![print("P1")])]).prints.added, 1);
}
