//! What a simulated surface is like.

use super::{Blur, Manner};
use std::ops::RangeInclusive;

/// How much there is on a surface, and how large it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount {
    /// So many trackways on a rectangle of so many metres.
    Trackways(usize, [f64; 2]),
    /// About so many recorded prints on a square whose side follows from the number and the density of prints, so
    /// that more prints mean a larger surface and not a denser one.
    Prints(usize, f64),
}

/// How many animals of how many kinds walk over a surface, how regularly, and how well it is recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// How much of it.
    pub amount: Amount,
    /// How many kinds of animals walk here; each surface draws its own kinds.
    pub kinds: RangeInclusive<usize>,
    /// How they go.
    pub manner: Manner,
    /// The probability that an animal walks in a herd of its kind, side by side.
    pub in_herd: f64,
    /// How many animals a herd has.
    pub herd: RangeInclusive<usize>,
    /// The probability that a later animal walks in the tracks of an earlier one.
    pub in_tracks: f64,
    /// The part of animals that keep to the surface's preferred heading or its reverse.
    pub preferred: f64,
    /// The part of recorded prints that belong to no trackway.
    pub background: f64,
    /// The part of the surface that is recorded as covered or eroded.
    pub hidden: f64,
    /// The part of prints that later prints trample or that damage takes, in patches that nobody records.
    pub damage: f64,
    /// Standard deviation of recorded positions, metres; each surface draws its own.
    pub position_sd_m: RangeInclusive<f64>,
    /// The probability that an azimuth is recorded the wrong way round.
    pub azimuth_reversed: f64,
    /// The probability that a limb or a morphotype, if known, is recorded wrongly.
    pub name_wrong: f64,
    /// How the field party loses, measures and names the prints.
    pub blur: Blur,
}

/// Ground of the levels that name one, metres.
const GROUND_M: [f64; 2] = [60.0, 40.0];

impl Scenario {
    /// Well apart, steady bipeds and quadrupeds, few prints missing, most attributes known, 1 cm error.
    #[must_use]
    pub fn easy(prints: usize) -> Self {
        Self {
            amount: Amount::Prints(prints, 0.06),
            kinds: 3..=5,
            manner: Manner {
                paces: 8..=40,
                pace_sd: 0.03..=0.06,
                tail: None,
                heading_sd_deg: 0.5..=2.0,
                turning_on: 0.0..=0.5,
                speed_sd: 0.005,
                stop: 0.0,
                turn: 0.0,
            },
            in_herd: 0.0,
            herd: 2..=2,
            in_tracks: 0.0,
            preferred: 0.0,
            background: 0.02,
            hidden: 0.0,
            damage: 0.0,
            position_sd_m: 0.01..=0.01,
            azimuth_reversed: 0.0,
            name_wrong: 0.005,
            blur: Blur::careful(),
        }
    }

    /// Paths that cross, some herds, 12 % missing, 10 % background, half the sides known, 1 to 4 cm error.
    #[must_use]
    pub fn medium(prints: usize) -> Self {
        Self {
            amount: Amount::Prints(prints, 0.25),
            kinds: 3..=6,
            manner: Manner {
                paces: 6..=45,
                pace_sd: 0.04..=0.11,
                tail: Some(6.0),
                heading_sd_deg: 1.0..=4.0,
                turning_on: 0.0..=0.8,
                speed_sd: 0.012,
                stop: 0.002,
                turn: 0.005,
            },
            in_herd: 0.2,
            herd: 2..=5,
            in_tracks: 0.03,
            preferred: 0.3,
            background: 0.10,
            hidden: 0.03,
            damage: 0.04,
            position_sd_m: 0.01..=0.04,
            azimuth_reversed: 0.02,
            name_wrong: 0.02,
            blur: Blur {
                missing: 0.08,
                side_unknown: 0.5,
                ..Blur::usual()
            },
        }
    }

    /// Herds and similar kinds, 20 % missing, 20 % background, 60 % of azimuths and few sides known, 2 to 10 cm error;
    /// as dense as [`Scenario::hard_ground`].
    #[must_use]
    pub fn hard(prints: usize) -> Self {
        let medium = Self::medium(prints);
        Self {
            amount: Amount::Prints(prints, 0.5),
            manner: Manner {
                pace_sd: 0.05..=0.14,
                tail: Some(5.0),
                heading_sd_deg: 1.0..=5.0,
                stop: 0.004,
                turn: 0.01,
                ..medium.manner
            },
            in_herd: 0.4,
            herd: 2..=8,
            in_tracks: 0.05,
            preferred: 0.5,
            background: 0.20,
            damage: 0.06,
            position_sd_m: 0.02..=0.10,
            azimuth_reversed: 0.04,
            name_wrong: 0.04,
            blur: Blur {
                missing: 0.14,
                azimuth_unknown: 0.4,
                side_unknown: 0.8,
                side_wrong: 0.04,
                limb_unknown: 0.5,
                morphotype_unknown: 0.5,
                ..Blur::poor()
            },
            ..medium
        }
    }

    /// As hard: 30 trackways on 60 by 40 m.
    #[must_use]
    pub fn hard_ground() -> Self {
        Self {
            amount: Amount::Trackways(30, GROUND_M),
            ..Self::hard(0)
        }
    }

    /// As hard, with 100 trackways on the same 60 by 40 m.
    #[must_use]
    pub fn crowded_ground() -> Self {
        Self {
            amount: Amount::Trackways(100, GROUND_M),
            ..Self::hard(0)
        }
    }

    /// As crowded ground, with this many prints on ground as dense.
    #[must_use]
    pub fn crowded(prints: usize) -> Self {
        Self {
            amount: Amount::Prints(prints, 1.5),
            ..Self::hard(0)
        }
    }

    /// As medium, but only positions, lengths and widths are recorded.
    #[must_use]
    pub fn blind(prints: usize) -> Self {
        let medium = Self::medium(prints);
        Self {
            blur: Blur {
                azimuth_unknown: 1.0,
                side_unknown: 1.0,
                limb_unknown: 1.0,
                morphotype_unknown: 1.0,
                ..medium.blur
            },
            ..medium
        }
    }
}
