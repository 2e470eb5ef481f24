//! What a simulated surface is like.

use super::Blur;
use std::ops::RangeInclusive;

/// How many animals of how many kinds walk over a surface, how regularly, and how well it is recorded.
///
/// The surface is a square whose side follows from the number and the density of prints, so that more prints
/// mean a larger surface and not a denser one.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// How many prints are recorded, about.
    pub prints: usize,
    /// Recorded prints a square metre, about.
    pub density_per_m2: f64,
    /// How many of the kinds in [`super::Kind::ALL`] walk here, from the first.
    pub kinds: Vec<usize>,
    /// How many paces an animal makes before it leaves the surface or the surface loses its trace.
    pub paces: RangeInclusive<usize>,
    /// Standard deviation of the pace over its mean; each trackway draws its own.
    pub pace_sd: RangeInclusive<f64>,
    /// Degrees of freedom of Student's t for paces; `None` is normal.
    pub tail: Option<f64>,
    /// Standard deviation of the heading's random turn at each pace, degrees; each trackway draws its own.
    pub heading_sd_deg: RangeInclusive<f64>,
    /// Largest steady turn at each pace, degrees, to either hand.
    pub turn_deg: f64,
    /// Largest change of speed at each pace, as a part of the pace, quicker or slower.
    pub quickening: f64,
    /// The probability that an animal walks in a group of its kind, side by side.
    pub in_group: f64,
    /// How many animals a group has.
    pub group: RangeInclusive<usize>,
    /// The part of recorded prints that belong to no trackway.
    pub background: f64,
    /// The part of the surface that is covered or eroded.
    pub hidden: f64,
    /// How the field party loses, measures and names the prints.
    pub blur: Blur,
}

impl Scenario {
    /// Well apart, steady bipeds and quadrupeds, few prints missing, most attributes known.
    #[must_use]
    pub fn easy(prints: usize) -> Self {
        Self {
            prints,
            density_per_m2: 0.06,
            kinds: vec![0, 1, 3, 4],
            paces: 8..=25,
            pace_sd: 0.03..=0.06,
            tail: None,
            heading_sd_deg: 0.5..=2.0,
            turn_deg: 0.5,
            quickening: 0.0,
            in_group: 0.0,
            group: 2..=2,
            background: 0.01,
            hidden: 0.0,
            blur: Blur::careful(),
        }
    }

    /// Paths that cross, an unsteady gait, single prints, a tenth to a seventh of the prints missing, a third of the attributes unknown.
    #[must_use]
    pub fn medium(prints: usize) -> Self {
        Self {
            prints,
            density_per_m2: 0.25,
            kinds: vec![0, 1, 2, 3, 4, 5],
            paces: 6..=30,
            pace_sd: 0.05..=0.12,
            tail: Some(6.0),
            heading_sd_deg: 1.0..=5.0,
            turn_deg: 2.0,
            quickening: 0.008,
            in_group: 0.25,
            group: 2..=3,
            background: 0.06,
            hidden: 0.05,
            blur: Blur::usual(),
        }
    }

    /// Dense prints of a few similar kinds, groups side by side, a quarter missing, most attributes unknown.
    #[must_use]
    pub fn hard(prints: usize) -> Self {
        Self {
            density_per_m2: 1.0,
            kinds: vec![0, 1, 4],
            pace_sd: 0.06..=0.15,
            tail: Some(4.0),
            heading_sd_deg: 1.0..=6.0,
            in_group: 0.5,
            group: 2..=5,
            background: 0.08,
            hidden: 0.08,
            blur: Blur::poor(),
            ..Self::medium(prints)
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
