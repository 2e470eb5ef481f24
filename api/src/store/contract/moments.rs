//! Who sees what, and when.

use super::Trial;
use super::world::{World, change, gull_ledge, id, print, rows};
use crate::store::{Outcome, Store};
use spatial::model::Print;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::thread;

pub(crate) fn a_reader_sees_the_last_commit_while_a_sheet_is_open(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    let seen = || {
        (
            world.contents("S1"),
            world.store.surfaces().unwrap(),
            world.store.mark().unwrap(),
        )
    };
    let before = seen();
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(2)).unwrap();
    for no in 2..2_000 {
        sheet
            .put_prints(&rows(&[("S1", vec![print(&format!("P{no}"))])]))
            .unwrap();
    }
    // By several at once: none waits for the writer, who is this very thread.
    thread::scope(|scope| {
        for _ in 0..4 {
            let contents = || world.store.contents(&id("S1")).unwrap().unwrap();
            assert_eq!(scope.spawn(contents).join().unwrap(), before.0);
        }
    });
    assert_eq!(seen(), before);
    // Nor does another program that comes only now.
    assert_eq!(trial.again().contents(&id("S1")).unwrap().unwrap(), before.0);
    sheet.finish().unwrap();
    assert_eq!(world.contents("S1").0.prints.len(), 1_999);
    assert_ne!(world.store.mark().unwrap(), before.2);
}

pub(crate) fn the_second_writer_waits_and_then_writes(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let other_program = trial.again();
    let (began, begins) = mpsc::channel();
    let took = |store: &dyn Store, text: &str| {
        began.send(()).unwrap();
        let mut sheet = store.begin_sheet(&gull_ledge(), &change(2)).unwrap();
        sheet.put_prints(&rows(&[("S1", vec![print(text)])])).unwrap();
        assert!(matches!(sheet.finish().unwrap(), Outcome::Taken(_)));
    };
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    thread::scope(|scope| {
        let second = scope.spawn(move || took(world.store, "P2"));
        let third = scope.spawn(move || took(&*other_program, "P3"));
        begins.recv().unwrap();
        begins.recv().unwrap();
        // Both have a while to go wrong in; what is asserted does not rest on it.
        thread::sleep(std::time::Duration::from_millis(50));
        sheet.put_prints(&rows(&[("S1", vec![print("P1")])])).unwrap();
        assert!(matches!(sheet.finish().unwrap(), Outcome::Taken(_)));
        second.join().unwrap();
        third.join().unwrap();
    });
    let (contents, revision) = world.contents("S1");
    assert_eq!((contents.prints.len(), revision), (3, 3));
}

pub(crate) fn readers_never_see_half_a_sheet(trial: &dyn Trial) {
    const PRINTS: usize = 300;
    const SHEETS: u32 = 12;
    let world = World::new(trial.store());
    let sheet = |no: u32| -> Vec<Print> {
        let lengthened = |print: Print| Print {
            length_m: 0.3 + f64::from(no),
            ..print
        };
        (0..PRINTS).map(|p| lengthened(print(&format!("P{p}")))).collect()
    };
    world.take(1, &[("S1", sheet(0))]);
    let done = AtomicBool::new(false);
    let store = world.store;
    thread::scope(|scope| {
        let reader = scope.spawn(|| {
            let mut reads = 0;
            while !done.load(Ordering::Relaxed) || reads == 0 {
                let (contents, revision) = store.contents(&id("S1")).unwrap().unwrap();
                let first = &contents.prints[0];
                assert_eq!(
                    (contents.prints.len(), revision),
                    (PRINTS, u64::from(first.revision))
                );
                assert!(contents.prints.iter().all(|p| p.length_m == first.length_m));
                assert!(contents.prints.iter().all(|p| p.revision == first.revision));
                reads += 1;
            }
        });
        for no in 1..SHEETS {
            world.take(1, &[("S1", sheet(no))]);
        }
        done.store(true, Ordering::Relaxed);
        reader.join().unwrap();
    });
    assert_eq!(world.contents("S1").1, u64::from(SHEETS));
}

pub(crate) fn the_mark_moves_with_every_commit(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mut marks = vec![world.store.mark().unwrap()];
    for no in 1..5 {
        assert_eq!(
            world.store.mark().unwrap(),
            marks[no - 1],
            "reading moves nothing"
        );
        world.take(1, &[("S1", vec![print(&format!("P{no}"))])]);
        marks.push(world.store.mark().unwrap());
    }
    assert!(marks.windows(2).all(|pair| pair[0] != pair[1]), "{marks:?}");
}

pub(crate) fn the_mark_sees_another_program(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mark = world.store.mark().unwrap();
    let other_program = trial.again();
    assert_eq!(world.store.mark().unwrap(), mark);
    World {
        store: &*other_program,
    }
    .take(1, &[("S1", vec![print("P1")])]);
    assert_ne!(world.store.mark().unwrap(), mark);
    assert_eq!(world.contents("S1").0.prints.len(), 1);
}

pub(crate) fn another_program_sees_what_was_taken(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    let other = trial.again();
    assert_eq!(other.contents(&id("S1")).unwrap().unwrap(), world.contents("S1"));
    assert_eq!(other.surfaces().unwrap(), world.store.surfaces().unwrap());
}
