//! Hip height from the length of the pes print.

use crate::model::named;
use serde::Serialize;

/// Where the small kinds end and the large begin, metres of foot length; a foot of just this length is large.
const SMALL_BELOW_M: f64 = 0.25;
/// How far hip heights scatter about a ratio's, as a part of the height (one standard deviation). Common
/// practice: ratios published for one group differ by about a tenth.
const RATIO_CV: f64 = 0.10;

named!(
    /// Kinds of makers that share a rule for hip height.
    MorphotypeGroup {
        /// Any biped; the first and plainest rule.
        Any = "any",
        /// Theropods, small or large by the length of the foot (0.25 m).
        Theropod = "theropod",
        /// Theropods with feet below 0.25 m.
        SmallTheropod = "small_theropod",
        /// Theropods with feet from 0.25 m.
        LargeTheropod = "large_theropod",
        /// Ornithopods, small or large by the length of the foot (0.25 m).
        Ornithopod = "ornithopod",
        /// Ornithopods with feet below 0.25 m.
        SmallOrnithopod = "small_ornithopod",
        /// Ornithopods with feet from 0.25 m.
        LargeOrnithopod = "large_ornithopod",
        /// Sauropods.
        Sauropod = "sauropod",
    }
);

/// How hip height is found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HipRule {
    /// The ratio of a group.
    Group(MorphotypeGroup),
    /// The allometric equation of a group, h = a · length^b.
    Allometry(MorphotypeGroup),
    /// Hip height over foot length, as the user has it.
    Ratio(f64),
    /// The hip height itself, metres, as the user has it.
    Height(f64),
}

impl Default for HipRule {
    fn default() -> Self {
        Self::Group(MorphotypeGroup::Any)
    }
}

/// A rule for one foot length: h = factor · length^power, metres.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Law {
    factor: f64,
    power: f64,
    source: &'static str,
}

/// A hip height, and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HipHeight {
    /// The height, metres.
    pub height_m: f64,
    /// Its standard deviation, metres: that of the rule and that of the foot length together.
    pub sd_m: f64,
    /// Height over foot length, where it was found so.
    pub ratio: Option<f64>,
    /// The published source, and how sure the value is.
    pub source: &'static str,
}

/// Why there is no hip height.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum HipFault {
    /// The rule needs a foot.
    #[error("no pes print has a length")]
    NoLength,
    /// There is no such equation.
    #[error("no allometric equation is known for this group: take its ratio")]
    NoAllometry,
}

impl HipRule {
    /// Whether the rule's own numbers make sense: above zero and finite.
    #[must_use]
    pub fn makes_sense(self) -> bool {
        match self {
            Self::Group(_) | Self::Allometry(_) => true,
            Self::Ratio(value) | Self::Height(value) => value > 0.0 && value.is_finite(),
        }
    }

    /// The hip height of a foot of this length, known as well as `length_cv` (its standard deviation over
    /// itself) says.
    ///
    /// # Units
    /// Metres.
    ///
    /// # Errors
    /// No length where the rule needs one; no equation for the group.
    ///
    /// # References
    /// Alexander, R. McN. (1976), Nature 261, 129-130; Thulborn, T. (1990), Dinosaur Tracks. Which value was
    /// read and which is given from memory stands in `source`.
    pub fn height(self, foot_length_m: Option<f64>, length_cv: f64) -> Result<HipHeight, HipFault> {
        if let Self::Height(height_m) = self {
            return Ok(HipHeight {
                height_m,
                sd_m: 0.0,
                ratio: None,
                source: "given by the user, taken as exact",
            });
        }
        let length_m = foot_length_m.ok_or(HipFault::NoLength)?;
        let law = self.law(length_m).ok_or(HipFault::NoAllometry)?;
        let height_m = law.factor * length_m.powf(law.power);
        Ok(HipHeight {
            height_m,
            sd_m: height_m * RATIO_CV.hypot(law.power * length_cv),
            ratio: Some(height_m / length_m),
            source: law.source,
        })
    }

    fn law(self, length_m: f64) -> Option<Law> {
        match self {
            Self::Group(group) => Some(group.of_size(length_m).ratio()),
            Self::Allometry(group) => group.of_size(length_m).allometry(),
            Self::Ratio(factor) => Some(Law {
                factor,
                power: 1.0,
                source: "ratio given by the user, with a scatter of a tenth (common practice)",
            }),
            Self::Height(_) => None,
        }
    }
}

impl MorphotypeGroup {
    /// The small or the large kind, where the length of the foot decides.
    fn of_size(self, length_m: f64) -> Self {
        let small = length_m < SMALL_BELOW_M;
        match self {
            Self::Theropod if small => Self::SmallTheropod,
            Self::Theropod => Self::LargeTheropod,
            Self::Ornithopod if small => Self::SmallOrnithopod,
            Self::Ornithopod => Self::LargeOrnithopod,
            sized => sized,
        }
    }

    fn ratio(self) -> Law {
        let (factor, source) = match self {
            Self::Any => (4.0, "Alexander 1976: h = 4 foot lengths"),
            Self::SmallTheropod | Self::Theropod => (
                4.5,
                "Thulborn 1990: h = 4.5 foot lengths below 0.25 m, as quoted by others",
            ),
            Self::LargeTheropod => (
                4.9,
                "Thulborn 1990: h = 4.9 foot lengths from 0.25 m, as quoted by others",
            ),
            Self::SmallOrnithopod | Self::Ornithopod => {
                (4.8, "Thulborn 1990: h = 4.8 foot lengths, from memory")
            }
            Self::LargeOrnithopod => (5.9, "Thulborn 1990: h = 5.9 foot lengths, from memory"),
            Self::Sauropod => (5.9, "Thulborn 1990: h = 5.9 foot lengths, from memory"),
        };
        Law {
            factor,
            power: 1.0,
            source,
        }
    }

    /// The equations are published in centimetres, h = a L^b; in metres the factor is a · 100^(b − 1).
    fn allometry(self) -> Option<Law> {
        let (centimetres, power, source) = match self {
            Self::SmallTheropod => (3.06, 1.14, "Thulborn 1990: h = 3.06 L^1.14 (cm), from memory"),
            Self::LargeTheropod => (8.60, 0.85, "Thulborn 1990: h = 8.60 L^0.85 (cm), from memory"),
            Self::SmallOrnithopod => (3.97, 1.08, "Thulborn 1990: h = 3.97 L^1.08 (cm), from memory"),
            Self::LargeOrnithopod => (5.06, 1.07, "Thulborn 1990: h = 5.06 L^1.07 (cm), from memory"),
            Self::Any | Self::Sauropod | Self::Theropod | Self::Ornithopod => return None,
        };
        Some(Law {
            factor: centimetres * 100f64.powf(power - 1.0),
            power,
            source,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn height(rule: HipRule, length_m: f64) -> f64 {
        rule.height(Some(length_m), 0.0).unwrap().height_m
    }

    #[test]
    fn the_ratio_follows_group_and_size() {
        use MorphotypeGroup::*;
        assert!((height(HipRule::default(), 0.3) - 1.2).abs() < 1e-12);
        assert!((height(HipRule::Group(Theropod), 0.2) - 0.9).abs() < 1e-12);
        assert!(
            (height(HipRule::Group(Theropod), 0.25) - 1.225).abs() < 1e-12,
            "0.25 m is large"
        );
        assert!((height(HipRule::Group(Sauropod), 0.6) - 3.54).abs() < 1e-12);
        assert!((height(HipRule::Ratio(4.2), 0.5) - 2.1).abs() < 1e-12);
    }

    #[test]
    fn allometry_is_the_published_one_in_centimetres() {
        // 40 cm, large theropod: 8.60 · 40^0.85 cm.
        let by_hand_m = 8.60 * 40f64.powf(0.85) / 100.0;
        let rule = HipRule::Allometry(MorphotypeGroup::Theropod);
        assert!((height(rule, 0.4) - by_hand_m).abs() < 1e-12);
        let none = HipRule::Allometry(MorphotypeGroup::Sauropod).height(Some(0.5), 0.0);
        assert_eq!(none, Err(HipFault::NoAllometry));
    }

    #[test]
    fn a_height_that_is_given_needs_no_foot() {
        assert_eq!(HipRule::Height(1.93).height(None, 0.0).unwrap().height_m, 1.93);
        assert_eq!(HipRule::Ratio(4.0).height(None, 0.0), Err(HipFault::NoLength));
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(!HipRule::Ratio(bad).makes_sense() && !HipRule::Height(bad).makes_sense());
        }
    }

    #[test]
    fn the_spread_joins_that_of_the_rule_and_of_the_foot() {
        let known = HipRule::Ratio(4.0).height(Some(0.25), 0.05).unwrap();
        assert!((known.sd_m - (0.1f64.powi(2) + 0.05f64.powi(2)).sqrt()).abs() < 1e-12);
    }
}
