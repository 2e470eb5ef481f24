//! Heron Bend: two beds in a river bank, bare until the river rises.

use super::animal::{Animal, BROAD, HAND, LONG, ROUND, SLENDER, SMALL};
use super::ground::{Ground, Patch};
use super::party::Party;
use super::place::Place;
use super::scene::Scene;
use jiff::civil::date;
use spatial::model::ExtentKind::{Covered, Eroded, Unmapped};
use spatial::model::{Record, Surface};
use spatial::simulate::Blur;

/// The site, from its lower bed to its upper one.
pub(super) fn place() -> Place {
    let site = Place::site(
        "heron-bend",
        "Heron Bend",
        32736,
        "Mozambique",
        "Low River Formation",
        "Late Triassic",
    );
    Place {
        site,
        sheets: vec![("heron-bend.csv".to_owned(), vec![lower_bank(), upper_bank()])],
    }
}

/// A narrow strip. The party had no compass: no print has an azimuth.
fn lower_bank() -> Scene {
    Scene {
        surface: Surface {
            name: Some("Lower bank".to_owned()),
            order: Some(1),
            strike_deg: Some(310.0),
            dip_deg: Some(2.0),
            lithology: Some("mudstone".to_owned()),
            note: Some(
                "No azimuths: the compass was lost. The bank is undercut; stay back from its edge".to_owned(),
            ),
            ..Surface::new("B1".parse().expect("a label"))
        },
        ground: Ground {
            datum_m: [564_380.66, 7_663_339.27, 143.80],
            strike_deg: 310.0,
            dip_deg: 2.0,
            outline: vec![
                [0.0, 0.5],
                [10.0, -1.0],
                [22.0, 0.2],
                [34.0, 2.4],
                [35.0, 9.0],
                [24.0, 9.6],
                [12.0, 8.8],
                [0.4, 9.0],
            ],
            patches: vec![
                Patch::new(
                    Covered,
                    [
                        [16.2, 3.0],
                        [18.6, 2.2],
                        [20.2, 4.0],
                        [20.0, 6.8],
                        [17.4, 7.4],
                        [15.6, 5.2],
                    ],
                ),
                Patch::new(
                    Eroded,
                    [[27.0, -0.5], [28.4, 3.4], [31.0, 4.2], [36.0, 3.8], [36.0, -0.5]],
                ),
            ],
        },
        animals: vec![
            Animal::new(LONG, 0.26, [0.4, 2.6], 86.0).turns(46, -6.0),
            Animal::new(LONG, 0.22, [1.4, 4.4], 85.0).turns(56, -4.0),
            Animal::new(BROAD, 0.41, [34.2, 8.4], 259.0).goes(29),
            Animal::new(SMALL, 0.13, [9.4, -0.6], 12.0).turns(17, 12.0),
        ],
        strays: 5,
        party: Party {
            observer: "party C",
            observed_on: date(2026, 8, 4),
            blur: Blur {
                missing: 0.08,
                azimuth_unknown: 1.0,
                side_unknown: 0.5,
                limb_unknown: 0.3,
                ..Blur::careful()
            },
            record: Record::Print,
            grade: 1.0,
            photos: None,
            depth_sampled: 0.0,
            bare: false,
        },
        draw: 31,
    }
}

/// Casts on the underside of a sandstone, by small quadrupeds that one large one follows over; a part is not yet mapped.
fn upper_bank() -> Scene {
    Scene {
        surface: Surface {
            name: Some("Upper bank".to_owned()),
            order: Some(2),
            strike_deg: Some(310.0),
            dip_deg: Some(2.0),
            lithology: Some("sandstone on mudstone".to_owned()),
            note: Some("Natural casts; positions were taken before the blocks were turned".to_owned()),
            ..Surface::new("B2".parse().expect("a label"))
        },
        ground: Ground {
            datum_m: [564_412.09, 7_663_371.55, 147.25],
            strike_deg: 310.0,
            dip_deg: 2.0,
            outline: vec![
                [0.0, 0.0],
                [9.0, 0.8],
                [20.0, -0.4],
                [28.0, 1.0],
                [28.6, 8.0],
                [27.0, 14.0],
                [15.0, 13.2],
                [0.6, 14.0],
            ],
            patches: vec![
                Patch::new(
                    Unmapped,
                    [[21.0, -1.2], [21.6, 3.2], [24.6, 4.8], [29.6, 4.6], [29.4, -0.8]],
                ),
                Patch::new(
                    Covered,
                    [
                        [11.0, 8.4],
                        [13.2, 7.4],
                        [15.6, 8.8],
                        [15.2, 11.4],
                        [12.4, 11.8],
                        [10.6, 10.4],
                    ],
                ),
            ],
        },
        animals: vec![
            Animal::new(HAND, 0.18, [0.8, 2.6], 68.0).turns(56, 18.0),
            Animal::new(HAND, 0.16, [26.6, 11.6], 252.0)
                .turns(62, 34.0)
                .seen(),
            Animal::new(SLENDER, 0.27, [2.4, 12.8], 128.0)
                .turns(24, -26.0)
                .seen(),
            Animal::new(ROUND, 0.50, [19.4, 0.4], 346.0)
                .turns(14, -28.0)
                .seen(),
        ],
        strays: 4,
        party: Party {
            observer: "party D",
            observed_on: date(2026, 8, 6),
            blur: Blur {
                missing: 0.09,
                side_unknown: 0.2,
                morphotype_unknown: 0.25,
                ..Blur::careful()
            },
            record: Record::Cast,
            grade: 2.0,
            photos: Some("HB"),
            depth_sampled: 0.0,
            bare: false,
        },
        draw: 32,
    }
}
