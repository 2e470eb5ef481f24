//! Field trackways, rebuilt from what their prints say.

use super::Trial;
use super::world::{World, change, id, label, labels, member, print};
use crate::store::{Conflict, Outcome, RecordId, RowConflict, Tally};
use spatial::model::{Basis, Limb, Print, Status, Trackway};

fn of_limb(text: &str, order: Option<u32>, limb: Limb) -> Print {
    Print {
        limb: Some(limb),
        ..member(text, "T1", order)
    }
}

fn field(text: &str, prints: &[&str], revision: u32) -> Trackway {
    Trackway {
        label: label(text),
        prints: labels(prints),
        basis: Basis::Field,
        status: Status::Accepted,
        probability: None,
        morphotype: None,
        note: None,
        judged_by: None,
        revision,
    }
}

pub(crate) fn prints_make_a_trackway_in_walking_order(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let prints = vec![
        member("P9", "T1", None),
        member("P10", "T1", None),
        of_limb("P1", Some(10), Limb::Pes),
        of_limb("P2", Some(2), Limb::Manus),
        of_limb("P3", Some(2), Limb::Pes),
        member("P4", "T1", Some(2)),
        member("P5", "T0", Some(1)),
        print("P6"),
    ];
    let taken = world.take(1, &[("S1", prints)]);
    assert_eq!(taken.trackways.added, 2);
    let expected = [
        field("T0", &["P5"], 1),
        field("T1", &["P3", "P2", "P4", "P1", "P10", "P9"], 1),
    ];
    assert_eq!(world.contents("S1").0.trackways, expected);
    assert_eq!(world.store.surfaces().unwrap()[0].trackways, 2);
}

pub(crate) fn a_neighbour_is_left_alone(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let first = vec![
        member("P1", "T1", Some(1)),
        member("P2", "T1", Some(2)),
        member("P3", "T2", Some(1)),
    ];
    world.take(1, &[("S1", first)]);
    let taken = world.take(
        2,
        &[(
            "S1",
            vec![member("P2", "T1", Some(3)), member("P4", "T1", Some(2))],
        )],
    );
    assert_eq!(
        taken.trackways,
        Tally {
            changed: 1,
            unchanged: 1,
            added: 0
        }
    );
    let expected = [field("T1", &["P1", "P4", "P2"], 2), field("T2", &["P3"], 1)];
    assert_eq!(world.contents("S1").0.trackways, expected);
}

pub(crate) fn a_trackway_without_prints_is_rejected_and_comes_back(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(
        1,
        &[(
            "S1",
            vec![member("P1", "T1", Some(1)), member("P2", "T2", Some(1))],
        )],
    );
    let taken = world.take(2, &[("S1", vec![print("P1")])]);
    assert_eq!(taken.trackways.changed, 1);
    let rejected = Trackway {
        status: Status::Rejected,
        ..field("T1", &["P1"], 2)
    };
    assert_eq!(world.contents("S1").0.trackways[0], rejected);
    // A change elsewhere neither brings it back nor rejects it anew.
    world.take(3, &[("S1", vec![member("P2", "T2", Some(4))])]);
    assert_eq!(world.contents("S1").0.trackways[0], rejected);
    world.take(4, &[("S1", vec![member("P1", "T1", Some(1))])]);
    let expected = [field("T1", &["P1"], 3), field("T2", &["P2"], 1)];
    assert_eq!(world.contents("S1").0.trackways, expected);
    assert_eq!(world.store.surfaces().unwrap()[0].trackways, 2);
}

pub(crate) fn one_place_for_two_prints_is_found(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let same = |row, other: &str| RowConflict {
        row,
        conflict: Conflict::SameOrder(label(other)),
    };
    let refused = |sheet: Vec<Print>| match world.finish(1, &[("S1", sheet)]) {
        Outcome::Refused(conflicts) => conflicts,
        Outcome::Taken(taken) => panic!("taken: {taken:?}"),
    };
    let unknown_limbs = vec![member("P2", "T1", Some(1)), member("P1", "T1", Some(1))];
    assert_eq!(refused(unknown_limbs), [same(3, "P2")]);
    let three = [1, 2, 3].map(|no| of_limb(&format!("P{no}"), Some(7), Limb::Pes));
    assert_eq!(refused(three.to_vec()), [same(3, "P1"), same(4, "P2")]);
    // Against a print that stood before, which the sheet does not speak of.
    world.take(1, &[("S1", vec![of_limb("P1", Some(1), Limb::Pes)])]);
    assert_eq!(
        refused(vec![print("P3"), of_limb("P0", Some(1), Limb::Pes)]),
        [same(3, "P1")]
    );
    // A set has one place, and prints without a place have none in common.
    let set = vec![
        of_limb("P2", Some(1), Limb::Manus),
        member("P3", "T1", None),
        member("P4", "T1", None),
    ];
    world.take(2, &[("S1", set)]);
}

pub(crate) fn proposals_give_way_to_the_field(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1"), print("P2"), print("P3")])]);
    let proposal = Trackway {
        basis: Basis::Grouping,
        status: Status::Proposed,
        probability: Some(0.8),
        ..field("T1", &["P1", "P2"], 0)
    };
    world.store.propose(&id("S1"), &[proposal], &change(2)).unwrap();
    let taken = world.take(3, &[("S1", vec![member("P3", "G1", None)])]);
    assert_eq!(taken.trackways.changed, 1);
    assert_eq!(world.contents("S1").0.trackways, [field("G1", &["P3"], 2)]);
}

pub(crate) fn a_history_of_a_trackway_is_whole(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![member("P1", "T1", Some(1))])]);
    world.take(2, &[("S1", vec![member("P2", "T1", Some(2))])]);
    world.take(3, &[("S1", vec![print("P1"), print("P2")])]);
    let history = world
        .store
        .history(&RecordId::Trackway(id("S1"), label("T1")))
        .unwrap();
    let told: Vec<_> = history
        .iter()
        .map(|revision| {
            (
                revision.revision,
                &*revision.author,
                revision.record["prints"].to_string(),
            )
        })
        .collect();
    let expected = [
        (1, "worker 1", r#"["P1"]"#.to_owned()),
        (2, "worker 2", r#"["P1","P2"]"#.to_owned()),
        (3, "worker 3", r#"["P1","P2"]"#.to_owned()),
    ];
    assert_eq!(told, expected);
    assert_eq!(history[2].record["status"], "rejected");
}
