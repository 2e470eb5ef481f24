//! `speed`: from plain numbers, how fast a stride was.

use super::hip::HipInput;
use super::{Answer, InputFault, Query, Refusal, World};
use crate::feature::Feature;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::json;
use spatial::gait::SPEED_CAUTION;
use spatial::gait::hip::HipHeight;
use spatial::gait::speed::Motion;
use spatial::gait::speed_interval_m_s;

pub(super) struct Speed;

/// Draws for the interval: its ends move by less than 1 % from seed to seed.
const DRAWS: usize = 10_000;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The stride, metres.
    #[schemars(range(min = 0, max = 100))]
    stride_m: f64,
    /// The standard deviation of the mean stride, metres.
    #[schemars(range(min = 0, max = 100))]
    #[serde(default)]
    stride_sd_m: f64,
    /// The length of the pes print, metres; not asked for where hip_height_m is given.
    #[schemars(range(min = 0, max = 100), with = "f64", default)]
    foot_length_m: Option<f64>,
    /// The standard deviation of that length, metres.
    #[schemars(range(min = 0, max = 100), with = "f64", default)]
    foot_length_sd_m: Option<f64>,
    #[serde(flatten)]
    hip: HipInput,
    /// The seed of the random draws behind the interval.
    #[serde(default = "super::first_seed")]
    seed: u64,
}

impl Query for Speed {
    const ID: &'static str = "speed";
    const TITLE: &'static str = "The speed of a stride";
    const ABOUT: &'static str = "From a stride and either a hip height or a foot length with the group of its maker: relative \
        stride, gait and speed, with a 95 % interval that holds the errors given and the scatter of the hip rule.";
    type Input = Input;

    fn answer(input: &Input, _: &World<'_>) -> Result<Answer, Refusal> {
        let hip = hip_height(input)?;
        let no_speed = "a stride above zero that with this hip height gives a speed";
        let motion = Motion::of(input.stride_m, hip.height_m)
            .ok_or_else(|| Refusal::input("stride_m", input.stride_m, no_speed))?;
        let has_errors = hip.sd_m > 0.0 || input.stride_sd_m > 0.0;
        let stride = (input.stride_m, input.stride_sd_m);
        let interval = has_errors
            .then(|| speed_interval_m_s(stride, &hip, DRAWS, input.seed))
            .flatten();
        let why = "no error was given, neither of the stride nor of the hip height";
        let feature = Feature::part("summary", None)
            .with("stride_m", input.stride_m)
            .with("foot_length_m", input.foot_length_m)
            .with("hip_height_m", hip.height_m)
            .with("hip_height_m_sd", hip.sd_m)
            .with("hip_ratio", hip.ratio)
            .with("hip_source", hip.source)
            .with("relative_stride", motion.relative_stride)
            .with("gait", motion.gait.name())
            .with("speed_m_s", motion.speed_m_s)
            .with("speed_interval_m_s", interval.map(|ends| ends.to_vec()))
            .with("speed_formula", motion.speed_formula.name())
            .with(
                "not_enough_data",
                interval.is_none().then(|| json!({ "speed_interval_m_s": why })),
            );
        Ok(Answer {
            crs: None,
            features: vec![feature],
            method: super::gait::SPEED_METHOD,
            caution: SPEED_CAUTION.to_owned(),
            picture: None,
        })
    }
}

fn hip_height(input: &Input) -> Result<HipHeight, Refusal> {
    let length = match (input.foot_length_m, input.hip.is_height()) {
        (Some(length_m), true) => {
            return Err(Refusal::input(
                "foot_length_m",
                length_m,
                "either a foot length or hip_height_m, not both",
            ));
        }
        (Some(length_m), false) if length_m > 0.0 => Some(length_m),
        (Some(length_m), false) => {
            return Err(Refusal::input("foot_length_m", length_m, "a length above zero"));
        }
        (None, true) => None,
        (None, false) => {
            let expected = "a foot length (with morphotype_group), or hip_height_m: one of them is required";
            return Err(Refusal::Inputs(vec![InputFault::new(
                "foot_length_m",
                None,
                expected,
            )]));
        }
    };
    let cv = match (length, input.foot_length_sd_m) {
        (Some(length_m), Some(sd_m)) => sd_m / length_m,
        (None, Some(sd_m)) => {
            return Err(Refusal::input(
                "foot_length_sd_m",
                sd_m,
                "nothing where there is no foot length",
            ));
        }
        (_, None) => 0.0,
    };
    input.hip.height(length, cv)
}
