//! The classes of surfaces.

use serde::Serialize;
use spatial::simulate::Scenario;

/// How hard a surface is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Class {
    /// Well apart, steady, well recorded.
    Easy,
    /// Crossing paths, unsteady gait, some prints and attributes missing.
    Medium,
    /// Dense, similar animals in groups, a quarter missing, few attributes.
    Hard,
    /// As medium, with positions and sizes only.
    Blind,
}

impl Class {
    /// Every class.
    pub const ALL: [Self; 4] = [Self::Easy, Self::Medium, Self::Hard, Self::Blind];

    /// The scenario of the class with about this many prints.
    #[must_use]
    pub fn scenario(self, prints: usize) -> Scenario {
        match self {
            Self::Easy => Scenario::easy(prints),
            Self::Medium => Scenario::medium(prints),
            Self::Hard => Scenario::hard(prints),
            Self::Blind => Scenario::blind(prints),
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
        }
    }
}
