//! The levels of surfaces.

use serde::Serialize;
use spatial::simulate::Scenario;

/// How hard a surface is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Class {
    /// Well apart, steady, well recorded.
    Easy,
    /// Crossing paths, unsteady gait, 12 % of prints missing, 10 % of none, half the sides known.
    Medium,
    /// 30 trackways on 60 by 40 m, herds, 20 % missing, 20 % of none, 60 % of azimuths and few sides known.
    Hard,
    /// As medium, with positions and sizes only.
    Blind,
    /// As hard, with 100 trackways on the same ground.
    Crowded,
}

impl Class {
    /// Every class.
    pub const ALL: [Self; 5] = [Self::Easy, Self::Medium, Self::Hard, Self::Blind, Self::Crowded];

    /// The scenario of the class; with about this many prints where the class does not say itself how many.
    #[must_use]
    pub fn scenario(self, prints: usize) -> Scenario {
        match self {
            Self::Easy => Scenario::easy(prints),
            Self::Medium => Scenario::medium(prints),
            Self::Hard => Scenario::hard_ground(),
            Self::Blind => Scenario::blind(prints),
            Self::Crowded => Scenario::crowded_ground(),
        }
    }

    /// The name in tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Easy => "easy",
            Self::Medium => "medium",
            Self::Hard => "hard",
            Self::Blind => "blind",
            Self::Crowded => "crowded",
        }
    }
}
