//! All one-sample results together, under the names of the interface.

use serde::Serialize;

use super::{
    Chance, Directions, Outcome, Summary, kuiper, rao_spacing, rayleigh, summary, v_test, watson_u2,
};

/// The summary and every one-sample test. It never holds a number that is not finite.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// Mean, spread and concentration.
    #[serde(flatten)]
    pub summary: Summary,
    /// Rayleigh's test; statistic z = n R̄².
    pub rayleigh: Outcome,
    /// Rao's spacing test; statistic U in degrees.
    pub rao_spacing: Outcome,
    /// Kuiper's test; statistic the raw V.
    pub kuiper: Outcome,
    /// Watson's test; statistic the raw U².
    pub watson_u2: Outcome,
    /// The V-test, where an azimuth was named; statistic V = Σ cos(θ − μ₀).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub v_test: Option<Outcome>,
}

impl Report {
    /// Summarises and tests a sample of any size.
    ///
    /// # Units
    /// The named azimuth is in degrees.
    #[must_use]
    pub fn new(sample: &Directions, named_azimuth_deg: Option<f64>, chance: &Chance) -> Self {
        Self {
            summary: summary(sample),
            rayleigh: rayleigh(sample).into(),
            rao_spacing: rao_spacing(sample).into(),
            kuiper: kuiper(sample).into(),
            watson_u2: watson_u2(sample, chance).into(),
            v_test: named_azimuth_deg.map(|named_deg| v_test(sample, named_deg).into()),
        }
    }
}
