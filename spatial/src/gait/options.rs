//! How to measure, and what makes no sense.

use super::Placed;
use super::changes;
use super::hip::HipRule;
use crate::model::Label;

/// No coordinate of any projected CRS is larger, metres.
const FARTHEST_M: f64 = 1e8;

/// How to measure.
#[derive(Debug, Clone, PartialEq)]
pub struct Options {
    /// The point scale factor: grid distances are divided by it.
    pub scale: f64,
    /// How hip height is found.
    pub hip: HipRule,
    /// Standard deviation of a position in each axis where the print has none of its own. Common practice: a
    /// centimetre by tape, total station or image.
    pub position_sd_m: f64,
    /// Standard deviation of one foot length as a part of it, unless the prints scatter more. Common practice:
    /// 5 %.
    pub length_cv: f64,
    /// Draws for the interval of speed.
    pub draws: usize,
    /// Permutations for the changes of stride.
    pub permutations: u32,
    /// The largest p at which a change is reported. A surface has many trackways, so it is small.
    pub change_level: f64,
    /// Where random draws start.
    pub seed: u64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            scale: 1.0,
            hip: HipRule::default(),
            position_sd_m: 0.01,
            length_cv: 0.05,
            draws: 1000,
            permutations: 999,
            change_level: 0.01,
            seed: 1,
        }
    }
}

/// Why a trackway cannot be measured at all.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum GaitFault {
    /// A print has no place.
    #[error("print {0} has no position that could be one: expected finite eastings and northings")]
    Position(Label),
    /// An option makes no sense.
    #[error("{name} is {value}: expected {expected}")]
    Option {
        /// The option.
        name: &'static str,
        /// What was given.
        value: f64,
        /// What it can be.
        expected: &'static str,
    },
    /// The hip rule makes no sense.
    #[error("{0:?} makes no sense: expected a number above zero")]
    Hip(HipRule),
}

impl Options {
    pub(super) fn search(&self) -> changes::Search {
        changes::Search {
            level: self.change_level,
            permutations: self.permutations,
            seed: self.seed,
        }
    }
}

/// Refuses options and positions that make no sense.
pub(super) fn check(trackway: &[Placed], options: &Options) -> Result<(), GaitFault> {
    let positive = |value: f64| value > 0.0 && value.is_finite();
    let part = |value: f64| (0.0..=1.0).contains(&value);
    let checks = [
        (
            "scale",
            options.scale,
            positive(options.scale),
            "a number above zero",
        ),
        (
            "position_sd_m",
            options.position_sd_m,
            (0.0..=FARTHEST_M).contains(&options.position_sd_m),
            "metres, not below zero",
        ),
        ("length_cv", options.length_cv, part(options.length_cv), "0 to 1"),
        (
            "change_level",
            options.change_level,
            part(options.change_level),
            "0 to 1",
        ),
    ];
    if let Some((name, value, _, expected)) = checks.into_iter().find(|(_, _, sound, _)| !sound) {
        return Err(GaitFault::Option {
            name,
            value,
            expected,
        });
    }
    if !options.hip.makes_sense() {
        return Err(GaitFault::Hip(options.hip));
    }
    match trackway.iter().find(|placed| !is_somewhere(placed)) {
        Some(placed) => Err(GaitFault::Position(placed.print.label.clone())),
        None => Ok(()),
    }
}

/// Whether a print has a place.
pub(super) fn is_somewhere(placed: &Placed) -> bool {
    placed.position_m.iter().all(|part| part.abs() <= FARTHEST_M)
}
