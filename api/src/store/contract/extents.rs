//! Extents.

use super::Trial;
use super::world::{World, change, gull_ledge, label, print, square};
use crate::store::{Conflict, Outcome, RowConflict, SheetExtent, StoreError, Tally};
use geo::{LineString, Polygon};
use spatial::model::{Extent, ExtentKind};

fn with_holes() -> Extent {
    let ring = |west: f64, width: f64| {
        LineString::from(vec![
            (west, 0.1 + 0.2),
            (west + width, 0.5),
            (west + width / 3.0, width),
        ])
    };
    Extent {
        kind: ExtentKind::Covered,
        polygon: Polygon::new(
            ring(600_000.123_456_789, 20.0),
            vec![ring(600_001.0, 2.0), ring(600_004.0, 1.0)],
        ),
        surveyed_on: Some(jiff::civil::date(2026, 5, 4)),
        ..square("E2", 0.0, 0.0)
    }
}

pub(crate) fn an_extent_with_holes_reads_back_as_written(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let nothing = Extent {
        polygon: Polygon::new(LineString::new(vec![]), vec![]),
        ..square("E3", 0.0, 0.0)
    };
    let given = [with_holes(), square("E1", 5.0, 5.0), nothing];
    let Outcome::Taken(taken) = world.take_extents(1, &given) else {
        panic!("refused")
    };
    assert_eq!((taken.extents.added, taken.surfaces_added), (3, 1));
    let stored = |extent: &Extent| Extent {
        revision: 1,
        ..extent.clone()
    };
    let before = world.contents("S1");
    assert_eq!(
        before.0.extents,
        [stored(&given[1]), stored(&given[0]), stored(&given[2])]
    );
    let Outcome::Taken(taken) = world.take_extents(2, &given) else {
        panic!("refused")
    };
    assert_eq!(
        taken.extents,
        Tally {
            unchanged: 3,
            ..Tally::default()
        }
    );
    assert_eq!(world.contents("S1"), before);
}

pub(crate) fn extents_are_counted_and_boxed(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    world.take_extents(
        2,
        &[
            square("E1", 599_990.0, 4_800_000.0),
            square("E2", 600_000.0, 4_799_000.0),
        ],
    );
    let summary = &world.store.surfaces().unwrap()[0];
    assert_eq!(
        (summary.extents, summary.prints, summary.contents_revision),
        (2, 1, 2)
    );
    assert_eq!(
        summary.bounds,
        Some([[599_990.0, 4_799_000.0], [600_010.0, 4_800_010.0]])
    );
}

pub(crate) fn an_extent_twice_is_found(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take_extents(1, &[square("E1", 0.0, 0.0)]);
    let before = world.contents("S1");
    let twice = |row| RowConflict {
        row,
        conflict: Conflict::DuplicateExtent,
    };
    let cases = [
        [square("E1", 0.0, 0.0), square("E1", 0.0, 0.0)],
        [square("E1", 1.0, 0.0), square("E1", 0.0, 0.0)],
        [square("E2", 0.0, 0.0), square("E2", 0.0, 0.0)],
    ];
    for case in cases {
        assert_eq!(world.take_extents(2, &case), Outcome::Refused(vec![twice(2)]));
        assert_eq!(world.contents("S1"), before);
    }
}

pub(crate) fn an_extent_at_infinity_is_refused(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    let mut extent = square("E1", 0.0, 0.0);
    extent.polygon.exterior_mut(|ring| ring.0[1].x = f64::INFINITY);
    let put = sheet.put_extents(&[SheetExtent {
        row: 1,
        surface: label("S1"),
        extent,
    }]);
    assert!(matches!(put, Err(StoreError::NotFinite(_))));
}
