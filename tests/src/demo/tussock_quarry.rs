//! Tussock Quarry: a tilted bed in a working face that will be gone in days, and the bed below it.

use super::animal::{Animal, BROAD, LONG, ROUND, SLENDER, SMALL};
use super::ground::{Ground, Patch};
use super::party::Party;
use super::place::Place;
use super::scene::Scene;
use jiff::civil::date;
use spatial::model::ExtentKind::{Covered, Eroded, Unmapped};
use spatial::model::{Record, Surface};
use spatial::simulate::Blur;

/// The site; the lower bed has a sheet of its own, with little in it.
pub(super) fn place() -> Place {
    let site = Place::site(
        "tussock-quarry",
        "Tussock Quarry",
        2193,
        "New Zealand",
        "Last Load Formation",
        "Middle Jurassic",
    );
    Place {
        site,
        sheets: vec![
            ("tussock-quarry.csv".to_owned(), vec![working_face()]),
            ("tussock-quarry-from-above.csv".to_owned(), vec![lower_bed()]),
        ],
    }
}

/// A heavy biped breaks into a run, two run with it, and a large quadruped leads a small one.
fn working_face() -> Scene {
    Scene {
        surface: Surface {
            name: Some("Working face".to_owned()),
            order: Some(2),
            strike_deg: Some(205.0),
            dip_deg: Some(14.0),
            lithology: Some("siltstone".to_owned()),
            note: Some(
                "To be quarried on 2026-05-12. Nobody goes below the loose edge, and never alone".to_owned(),
            ),
            ..Surface::new("Q1".parse().expect("a label"))
        },
        ground: Ground {
            datum_m: [1_246_274.72, 4_893_568.41, 212.35],
            strike_deg: 205.0,
            dip_deg: 14.0,
            outline: vec![
                [0.0, 1.5],
                [12.0, 0.0],
                [24.0, -0.5],
                [36.0, 1.0],
                [37.0, 11.0],
                [36.0, 21.0],
                [22.0, 22.0],
                [9.0, 21.0],
                [0.5, 20.0],
            ],
            patches: vec![
                Patch::new(
                    Covered,
                    [
                        [20.0, 9.2],
                        [23.0, 8.0],
                        [25.6, 10.0],
                        [25.2, 13.4],
                        [22.0, 14.6],
                        [19.4, 12.2],
                    ],
                ),
                Patch::new(
                    Unmapped,
                    [[-1.0, 0.0], [6.5, -0.5], [6.0, 4.4], [2.5, 6.0], [-1.0, 6.2]],
                ),
                Patch::new(
                    Eroded,
                    [
                        [30.5, 23.0],
                        [30.0, 19.6],
                        [33.0, 17.4],
                        [38.0, 17.0],
                        [38.0, 23.0],
                    ],
                ),
            ],
        },
        animals: vec![
            Animal::new(ROUND, 0.60, [27.6, 0.4], 334.0)
                .turns(19, -12.0)
                .seen(),
            Animal::new(ROUND, 0.38, [25.6, 0.2], 335.0)
                .turns(30, -14.0)
                .seen(),
            Animal::new(BROAD, 0.38, [0.8, 16.8], 101.0)
                .goes(9)
                .quickens(2, 1.4)
                .quickens(12, 2.1),
            Animal::new(SLENDER, 0.25, [1.0, 14.2], 99.0).quickens(20, 1.9),
            Animal::new(SLENDER, 0.23, [0.8, 12.0], 97.0).quickens(21, 1.95),
            Animal::new(LONG, 0.23, [6.2, 1.6], 48.0).turns(28, 26.0).goes(24),
        ],
        strays: 6,
        party: Party {
            observer: "party B",
            observed_on: date(2026, 5, 9),
            blur: Blur {
                missing: 0.08,
                azimuth_unknown: 0.2,
                side_unknown: 0.25,
                ..Blur::careful()
            },
            record: Record::Print,
            grade: 1.5,
            photos: Some("TQ"),
            depth_sampled: 0.06,
            bare: false,
        },
        draw: 21,
    }
}

/// Measured on an image from above, because there was no time to go down: positions and lengths, nothing else.
fn lower_bed() -> Scene {
    Scene {
        surface: Surface {
            name: Some("Lower bed".to_owned()),
            order: Some(1),
            strike_deg: Some(205.0),
            dip_deg: Some(14.0),
            lithology: Some("siltstone".to_owned()),
            note: Some("Measured on an image from above: positions and lengths only".to_owned()),
            ..Surface::new("Q2".parse().expect("a label"))
        },
        ground: Ground {
            datum_m: [1_246_231.48, 4_893_601.93, 209.10],
            strike_deg: 205.0,
            dip_deg: 14.0,
            outline: vec![
                [0.0, 0.0],
                [11.0, -0.8],
                [23.0, 0.0],
                [24.0, 9.0],
                [23.0, 17.0],
                [10.0, 18.0],
                [0.5, 17.0],
            ],
            patches: vec![Patch::new(
                Covered,
                [
                    [15.0, 18.5],
                    [14.6, 14.0],
                    [18.4, 12.4],
                    [24.5, 13.4],
                    [25.0, 18.5],
                ],
            )],
        },
        animals: vec![
            Animal::new(SLENDER, 0.28, [0.3, 3.2], 74.0).goes(24),
            Animal::new(SLENDER, 0.26, [0.2, 5.4], 75.0).goes(24),
            Animal::new(BROAD, 0.43, [18.8, 0.2], 336.0).goes(19),
            Animal::new(SMALL, 0.15, [0.6, 14.2], 96.0).turns(38, 32.0),
            Animal::new(BROAD, 0.37, [5.4, 16.6], 178.0).turns(19, -20.0),
        ],
        strays: 3,
        party: Party {
            observer: "party B",
            observed_on: date(2026, 5, 10),
            blur: Blur {
                missing: 0.08,
                position_sd_m: 0.012,
                width_unknown: 1.0,
                azimuth_unknown: 1.0,
                side_unknown: 1.0,
                limb_unknown: 1.0,
                morphotype_unknown: 1.0,
                ..Blur::usual()
            },
            record: Record::Print,
            grade: 1.0,
            photos: None,
            depth_sampled: 0.0,
            bare: true,
        },
        draw: 22,
    }
}
