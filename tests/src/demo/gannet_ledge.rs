//! Gannet Ledge: two beds of a tidal ledge, recorded in the hours between the tides.

use super::animal::{Animal, BROAD, LONG, ROUND, SLENDER, SMALL};
use super::ground::{Ground, Patch};
use super::party::Party;
use super::place::Place;
use super::scene::Scene;
use jiff::civil::date;
use spatial::model::ExtentKind::{Covered, Eroded};
use spatial::model::{Record, Surface};
use spatial::simulate::Blur;

/// The site, from its lower bed to its upper one.
pub(super) fn place() -> Place {
    let site = Place::site(
        "gannet-ledge",
        "Gannet Ledge",
        25830,
        "Spain",
        "Slack Water Formation",
        "Late Jurassic",
    );
    Place {
        site,
        sheets: vec![("gannet-ledge.csv".to_owned(), vec![lower_ledge(), upper_ledge()])],
    }
}

/// Nobody had time to follow a trackway here: two quadrupeds one behind the other, and two bipeds across their way.
fn lower_ledge() -> Scene {
    Scene {
        surface: Surface {
            name: Some("Lower ledge".to_owned()),
            order: Some(1),
            strike_deg: Some(72.0),
            dip_deg: Some(4.0),
            lithology: Some("fine sandstone, rippled".to_owned()),
            note: Some("Dry for about 90 minutes at low water of spring tides; one of the party only watches the sea".to_owned()),
            ..Surface::new("S1".parse().expect("a label"))
        },
        ground: Ground {
            datum_m: [447_021.37, 4_813_652.84, 0.62],
            strike_deg: 72.0,
            dip_deg: 4.0,
            outline: vec![[0.0, 1.0], [9.0, 0.0], [20.0, 0.6], [27.0, 3.0], [26.0, 10.0], [24.0, 16.0], [12.0, 17.0], [1.5, 15.5]],
            patches: vec![
                Patch::new(Eroded, [[19.0, 11.0], [22.0, 12.2], [25.0, 10.5], [28.0, 12.0], [27.0, 18.0], [17.5, 18.5]]),
                Patch::new(Covered, [[8.0, 6.6], [11.0, 5.8], [13.4, 7.4], [13.0, 9.8], [10.0, 10.6], [7.6, 8.8]]),
            ],
        },
        animals: vec![
            Animal::new(LONG, 0.25, [1.2, 3.0], 62.0).turns(12, 6.0).turns(18, -28.0),
            Animal::new(LONG, 0.21, [0.5, 4.3], 64.0).turns(14, 6.0).turns(24, -30.0),
            Animal::new(SLENDER, 0.30, [0.2, 11.6], 97.0).goes(24),
            Animal::new(BROAD, 0.40, [24.4, 10.2], 228.0).turns(8, 6.0).turns(12, 20.0),
        ],
        strays: 5,
        party: Party {
            observer: "party A",
            observed_on: date(2026, 3, 21),
            blur: Blur { missing: 0.06, ..Blur::careful() },
            record: Record::Print,
            grade: 1.5,
            photos: None,
            depth_sampled: 0.0,
            bare: false,
        },
        draw: 11,
    }
}

/// Three bipeds side by side, a fourth across them, a large quadruped, and a small biped that turns round.
fn upper_ledge() -> Scene {
    Scene {
        surface: Surface {
            name: Some("Upper ledge".to_owned()),
            order: Some(2),
            strike_deg: Some(72.0),
            dip_deg: Some(4.0),
            lithology: Some("fine sandstone with mud drapes".to_owned()),
            note: Some(
                "A sand sheet lies on the middle and moves with every storm; the seaward edge breaks away"
                    .to_owned(),
            ),
            ..Surface::new("S2".parse().expect("a label"))
        },
        ground: Ground {
            datum_m: [447_043.15, 4_813_618.26, 1.48],
            strike_deg: 72.0,
            dip_deg: 4.0,
            outline: vec![
                [0.0, 1.0],
                [8.0, 0.0],
                [19.0, 0.5],
                [31.0, 1.5],
                [32.0, 9.0],
                [31.0, 18.0],
                [20.0, 19.0],
                [9.0, 18.2],
                [1.0, 18.6],
                [-0.5, 9.0],
            ],
            patches: vec![
                Patch::new(
                    Covered,
                    [
                        [13.0, 7.2],
                        [16.0, 6.0],
                        [19.4, 7.4],
                        [20.0, 10.6],
                        [18.6, 13.4],
                        [15.2, 13.8],
                        [12.6, 11.2],
                    ],
                ),
                Patch::new(
                    Eroded,
                    [
                        [22.5, -1.0],
                        [24.0, 2.8],
                        [27.0, 4.2],
                        [29.5, 6.6],
                        [33.5, 6.8],
                        [33.5, -1.0],
                    ],
                ),
            ],
        },
        animals: vec![
            Animal::new(SLENDER, 0.29, [0.4, 5.2], 77.0).goes(25).seen(),
            Animal::new(SLENDER, 0.26, [0.1, 7.0], 77.0).goes(27).seen(),
            Animal::new(SLENDER, 0.27, [0.6, 8.9], 77.0).goes(26).seen(),
            Animal::new(ROUND, 0.54, [30.4, 14.6], 278.0)
                .turns(12, -4.0)
                .turns(12, -22.0)
                .seen(),
            Animal::new(BROAD, 0.42, [8.2, 17.6], 152.0)
                .turns(18, 10.0)
                .seen(),
            Animal::new(SMALL, 0.14, [25.6, 1.4], 304.0)
                .goes(9)
                .turns(9, -140.0)
                .goes(16),
        ],
        strays: 5,
        party: Party {
            observer: "party A",
            observed_on: date(2026, 3, 22),
            blur: Blur {
                missing: 0.06,
                ..Blur::careful()
            },
            record: Record::Print,
            grade: 2.0,
            photos: Some("GL-S2"),
            depth_sampled: 0.12,
            bare: false,
        },
        draw: 14,
    }
}
