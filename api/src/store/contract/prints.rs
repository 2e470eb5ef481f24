//! Prints, in and out.

use super::Trial;
use super::world::{World, change, gull_ledge, id, label, print, rows};
use crate::store::{Outcome, StoreError};
use spatial::model::{DepthSample, Limb, Print, Record, Remarks, Side, Surface};

/// A print of which everything is known.
pub(crate) fn full(text: &str) -> Print {
    Print {
        elevation_m: Some(-3.25),
        position_sd_m: Some(0.004),
        width_m: Some(0.1 + 0.2),
        depth_m: Some(0.0),
        azimuth_deg: Some(359.999_999_999),
        azimuth_sd_deg: Some(1e-300),
        side: Some(Side::Right),
        limb: Some(Limb::Manus),
        record: Some(Record::Undertrack),
        digits: Some(3),
        preservation: Some(2.1),
        morphotype: Some("Grallator-like, \"small\"".into()),
        field_trackway: Some(label("T1")),
        field_order: Some(u32::MAX),
        observed_on: Some(jiff::civil::date(2026, 2, 28)),
        observer: Some("Ö. Nobody".into()),
        remarks: Some(Box::new(remarks(text))),
        ..print(text)
    }
}

fn remarks(itself: &str) -> Remarks {
    let sample = DepthSample {
        along_m: 0.1,
        across_m: -0.02,
        depth_m: 0.012_345_678_901_234_5,
    };
    Remarks {
        overlies: vec![label(itself)],
        depth_samples: vec![sample, sample],
        note: Some("line one\nline \"two\"\t\u{1F43E}\0end".to_owned()),
        further: vec![
            ("zone".into(), "B".to_owned()),
            ("a column".into(), String::new()),
            ("zone".into(), " 007 ".to_owned()),
        ],
    }
}

fn stored_as(given: &Print) -> Print {
    Print {
        revision: 1,
        ..given.clone()
    }
}

pub(crate) fn a_full_print_reads_back_as_written(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let given = [full("P1"), full("P2")];
    world.take(1, &[("S1", given[1..].to_vec())]);
    world.take(2, &[("S2", given[..1].to_vec())]);
    assert_eq!(world.contents("S1").0.prints, [stored_as(&given[1])]);
    assert_eq!(world.contents("S2").0.prints, [stored_as(&given[0])]);
    assert_eq!(world.contents("S1").0.crs, 25830);
}

pub(crate) fn a_bare_print_reads_back_as_written(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    assert_eq!(world.contents("S1").0.prints, [stored_as(&print("P1"))]);
}

pub(crate) fn awkward_numbers_and_texts_read_back(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let numbers = [
        f64::MAX,
        f64::MIN_POSITIVE,
        5e-324,
        -0.0,
        1e15 + 0.3,
        123_456_789.123_456_79,
    ];
    let given: Vec<Print> = (1..)
        .zip(numbers)
        .map(|(no, number)| Print {
            easting_m: number,
            northing_m: -number,
            elevation_m: Some(number),
            length_m: number,
            preservation: Some(f32::MIN_POSITIVE),
            morphotype: Some("".into()),
            observed_on: Some(jiff::civil::Date::MIN),
            remarks: Some(Box::default()),
            ..print(&format!("P{no}"))
        })
        .collect();
    world.take(1, &[("S1", given.clone())]);
    let expected: Vec<Print> = given.iter().map(stored_as).collect();
    assert_eq!(world.contents("S1").0.prints, expected);
    assert_eq!(world.take(2, &[("S1", given)]).prints.unchanged, 6);
}

pub(crate) fn prints_at_one_place_are_two_prints(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let twin = Print {
        label: label("p1"),
        ..print("P1")
    };
    world.take(1, &[("S1", vec![print("P1"), twin])]);
    let found: Vec<_> = world
        .contents("S1")
        .0
        .prints
        .into_iter()
        .map(|print| print.label)
        .collect();
    assert_eq!(found, [label("P1"), label("p1")]);
}

pub(crate) fn no_number_that_is_not_finite_gets_in(trial: &dyn Trial) {
    let world = World::new(trial.store());
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let sample = DepthSample {
            along_m: 0.0,
            across_m: bad,
            depth_m: 0.0,
        };
        let sampled = Remarks {
            depth_samples: vec![sample],
            ..Remarks::default()
        };
        let prints = [
            Print {
                easting_m: bad,
                ..print("P1")
            },
            Print {
                northing_m: bad,
                ..print("P1")
            },
            Print {
                length_m: bad,
                ..print("P1")
            },
            Print {
                elevation_m: Some(bad),
                ..print("P1")
            },
            Print {
                azimuth_deg: Some(bad),
                ..print("P1")
            },
            #[expect(
                clippy::cast_possible_truncation,
                reason = "NaN and infinities stay what they are"
            )]
            Print {
                preservation: Some(bad as f32),
                ..print("P1")
            },
            Print {
                remarks: Some(Box::new(sampled)),
                ..print("P1")
            },
        ];
        for given in prints {
            let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
            let put = sheet.put_prints(&rows(&[("S1", vec![print("P0"), given])]));
            assert!(matches!(put, Err(StoreError::NotFinite(_))), "{put:?}");
        }
        let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
        let tilted = Surface {
            dip_deg: Some(bad),
            ..Surface::new(label("S1"))
        };
        assert!(matches!(
            sheet.put_surface(&tilted),
            Err(StoreError::NotFinite(_))
        ));
    }
    assert_eq!(world.store.surfaces().unwrap(), []);
}

pub(crate) fn a_surface_without_prints_is_a_surface(trial: &dyn Trial) {
    let world = World::new(trial.store());
    let mut sheet = world.store.begin_sheet(&gull_ledge(), &change(1)).unwrap();
    sheet.put_surface(&Surface::new(label("S1"))).unwrap();
    let Outcome::Taken(taken) = sheet.finish().unwrap() else {
        panic!("refused")
    };
    assert_eq!((taken.surfaces_added, taken.surfaces), (1, vec![id("S1")]));
    let (contents, revision) = world.contents("S1");
    assert_eq!(
        (contents.prints.len(), contents.surface.revision, revision),
        (0, 1, 1)
    );
    assert_eq!(world.store.surfaces().unwrap()[0].bounds, None);
}

pub(crate) fn what_is_not_there_is_none(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1")])]);
    assert_eq!(world.store.contents(&id("S2")).unwrap(), None);
    assert_eq!(world.store.surface(&id("S2")).unwrap(), None);
    assert_eq!(
        world.store.contents(&"elsewhere:S1".parse().unwrap()).unwrap(),
        None
    );
}

pub(crate) fn bounds_and_counts_follow_the_prints(trial: &dyn Trial) {
    let world = World::new(trial.store());
    world.take(1, &[("S1", vec![print("P1"), print("P3")])]);
    let summary = &world.store.surfaces().unwrap()[0];
    assert_eq!(
        summary.bounds,
        Some([[600_001.0, 4_800_002.0], [600_003.0, 4_800_006.0]])
    );
    assert_eq!((summary.prints, summary.contents_revision), (2, 1));
    let moved = Print {
        easting_m: 599_000.5,
        ..print("P3")
    };
    world.take(2, &[("S1", vec![moved])]);
    let summary = &world.store.surfaces().unwrap()[0];
    assert_eq!((summary.prints, summary.contents_revision), (2, 2));
    let (site, alone) = world.store.surface(&id("S1")).unwrap().unwrap();
    assert_eq!((&site, &alone), (&world.store.sites().unwrap()[0], summary));
    let [[west, _], [east, north]] = summary.bounds.unwrap();
    assert!(
        west <= 599_000.5 && east >= 600_001.0 && north >= 4_800_006.0,
        "{:?}",
        summary.bounds
    );
}
