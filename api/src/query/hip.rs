//! How a query is told hip height.

use super::{InputFault, Refusal};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::gait::hip::{HipHeight, HipRule, MorphotypeGroup};

/// The inputs for hip height; part of a query's own.
#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct HipInput {
    /// The group of makers whose published rule gives hip height from foot length; any where nothing is given.
    #[serde(default)]
    #[schemars(with = "String", extend("enum" = groups()))]
    morphotype_group: Option<MorphotypeGroup>,
    /// Whether the group's allometric equation is used instead of its ratio.
    #[serde(default)]
    allometric: bool,
    /// Hip height over foot length, in place of a group's.
    #[schemars(range(min = 0, max = 100), with = "f64", default)]
    hip_ratio: Option<f64>,
    /// The hip height itself, metres, in place of a rule.
    #[schemars(range(min = 0, max = 100), with = "f64", default)]
    hip_height_m: Option<f64>,
}

fn groups() -> Value {
    json!(MorphotypeGroup::ALL)
}

impl HipInput {
    /// Whether the hip height itself is given.
    pub fn is_height(&self) -> bool {
        self.hip_height_m.is_some()
    }

    /// Whether anything is given but the defaults.
    pub fn is_given(&self) -> bool {
        self.morphotype_group.is_some() || self.hip_ratio.is_some() || self.is_height()
    }

    /// The hip height of a foot of this length, known as well as `length_cv` says.
    ///
    /// # Errors
    /// As [`Self::rule`], and where the rule gives none.
    pub fn height(&self, length_m: Option<f64>, length_cv: f64) -> Result<HipHeight, Refusal> {
        let height = self.rule()?.height(length_m, length_cv);
        height.map_err(|fault| Refusal::input("allometric", self.allometric, fault.to_string()))
    }

    /// The rule that the inputs name.
    ///
    /// # Errors
    /// When they name two rules, or one that makes no sense.
    pub fn rule(&self) -> Result<HipRule, Refusal> {
        let group = self.morphotype_group;
        let one_only =
            "only one of hip_height_m, hip_ratio and morphotype_group: each is a way to hip height";
        let no_equation = |group: MorphotypeGroup| {
            let fault = HipRule::Allometry(group).height(Some(1.0), 0.0).err()?;
            Some(Refusal::input("allometric", true, fault.to_string()))
        };
        let rule = match (self.hip_height_m, self.hip_ratio, group) {
            (Some(_), Some(ratio), _) => return Err(Refusal::input("hip_ratio", ratio, one_only)),
            (Some(_), _, Some(group)) | (_, Some(_), Some(group)) => {
                return Err(Refusal::input("morphotype_group", group, one_only));
            }
            (Some(height), None, None) => HipRule::Height(height),
            (None, Some(ratio), None) => HipRule::Ratio(ratio),
            (None, None, Some(group)) if self.allometric => {
                no_equation(group).map_or(Ok(HipRule::Allometry(group)), Err)?
            }
            (None, None, group) => HipRule::Group(group.unwrap_or(MorphotypeGroup::Any)),
        };
        if self.allometric && !matches!(rule, HipRule::Allometry(_)) {
            let expected = "false, or a morphotype_group that has an allometric equation";
            return Err(Refusal::input("allometric", true, expected));
        }
        if rule.makes_sense() {
            return Ok(rule);
        }
        let (name, value) = self.hip_height_m.map_or(("hip_ratio", self.hip_ratio), |height| {
            ("hip_height_m", Some(height))
        });
        Err(Refusal::Inputs(vec![InputFault::new(
            name,
            value.map(|value| value.to_string()),
            "a number above zero",
        )]))
    }
}
