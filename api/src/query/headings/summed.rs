//! Each group of directions summed up.

use super::sampled::Sample;
use super::{Grouped, Input, Refusal};
use crate::feature::Feature;
use rayon::prelude::*;
use serde_json::json;
use spatial::circular::{Chance, Directions, Judgement, Report, Shape, judge};

/// The directions of one group, and what is said of them.
pub(super) struct Summed<'a> {
    /// The group; `None` for all directions together.
    pub name: Option<&'a str>,
    /// As they were found, degrees.
    pub azimuths_deg: Vec<f64>,
    pub directions: Directions,
    pub report: Report,
    pub judgement: Judgement,
}

/// All directions together first, then each group.
///
/// # Errors
/// When a direction is no number.
pub(super) fn sum_up<'a>(
    input: &Input,
    sample: &'a Sample,
    chance: &Chance,
) -> Result<Vec<Summed<'a>>, Refusal> {
    let whole = (None, sample.groups.values().flatten().copied().collect());
    let groups = sample
        .groups
        .iter()
        .map(|(name, azimuths_deg)| (Some(&**name), azimuths_deg.clone()));
    let all: Vec<(Option<&str>, Vec<f64>)> = if input.group == Grouped::Whole {
        vec![whole]
    } else {
        std::iter::once(whole).chain(groups).collect()
    };
    all.into_par_iter()
        .map(|(name, azimuths_deg)| Summed::of(input, name, azimuths_deg, chance))
        .collect()
}

impl<'a> Summed<'a> {
    fn of(
        input: &Input,
        name: Option<&'a str>,
        azimuths_deg: Vec<f64>,
        chance: &Chance,
    ) -> Result<Self, Refusal> {
        let directions = if input.axial {
            Directions::axes_from_degrees(&azimuths_deg)
        } else {
            Directions::from_degrees(&azimuths_deg)
        };
        let directions = directions.map_err(|fault| Refusal::Unfit(format!("{fault}.")))?;
        let report = Report::new(&directions, input.named_azimuth_deg, chance);
        let judgement = judge(&directions, chance);
        Ok(Self {
            name,
            azimuths_deg,
            directions,
            report,
            judgement,
        })
    }

    /// Whether a mean direction would say what is not so.
    pub fn mean_is_withheld(&self) -> bool {
        matches!(
            self.judgement.shape,
            Shape::Uniform | Shape::Bimodal | Shape::Axial
        )
    }

    /// The mean, unless it makes no sense, and its interval.
    pub fn mean_deg(&self) -> (Option<f64>, Option<[f64; 2]>) {
        let summary = &self.report.summary;
        if self.mean_is_withheld() {
            (None, None)
        } else {
            (summary.mean_deg, summary.mean_ci_deg)
        }
    }

    /// The summary as a feature.
    pub fn feature(&self, sample: &Sample) -> Feature {
        let feature = Feature::part("summary", None)
            .with("group", self.name)
            .telling(&self.report);
        let (mean_deg, mean_ci_deg) = self.mean_deg();
        let mut notes = self.report.summary.notes.clone();
        if self.mean_is_withheld() {
            let shape = json!(self.judgement.shape);
            let shape = shape.as_str().unwrap_or_default();
            notes.push(format!(
                "mean_deg: withheld, because one mean direction makes no sense of a sample that is {shape}; resultant_deg is \
                 the direction of the sum of all"
            ));
        }
        let feature = feature
            .with("mean_deg", mean_deg)
            .with("mean_ci_deg", mean_ci_deg.map(|ends| ends.to_vec()))
            .with("notes", notes)
            .with("resultant_deg", self.report.summary.mean_deg)
            .with("shape", json!(self.judgement.shape))
            .with("mean_makes_sense", self.judgement.mean_makes_sense)
            .with("reasons", self.judgement.reasons.clone())
            .with("models", json!(self.judgement.models));
        match self.name {
            None => feature.with("without_direction", sample.without_direction),
            Some(_) => feature,
        }
    }
}
