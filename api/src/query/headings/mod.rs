//! `headings`: the statistics of directions, whole and by group, and their rose.

mod compared;
mod drawn;
mod sampled;
mod summed;

use super::{Answer, Method, North, Query, Refusal, World};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use spatial::circular::Chance;

pub(super) struct Headings;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// Surfaces, as in gannet-ledge:S2; several are separated by commas.
    #[serde(default)]
    surface: Vec<String>,
    /// Sites, as in gannet-ledge: all their surfaces; several are separated by commas.
    #[serde(default)]
    site: Vec<String>,
    /// Trackways, as in gannet-ledge:S2:T4; several are separated by commas.
    #[serde(default)]
    trackway: Vec<String>,
    /// Azimuths in degrees, separated by commas, in place of surfaces, sites and trackways.
    #[schemars(range(min = -1e6, max = 1e6))]
    #[serde(default)]
    azimuths_deg: Vec<f64>,
    /// What is counted.
    #[serde(default)]
    by: Unit,
    /// By what directions are grouped.
    #[serde(default)]
    group: Grouped,
    /// Which morphotypes are which kind of animal, as in Morph-A:theropod,Morph-B:sauropod, for group=animal.
    #[serde(default)]
    animals: Vec<String>,
    /// Whether the directions are axes, of which either end may be meant.
    #[serde(default)]
    axial: bool,
    /// The azimuth, degrees, that the V-test holds the directions against.
    #[schemars(range(min = -360, max = 360), with = "f64", default)]
    named_azimuth_deg: Option<f64>,
    /// The width of the rose's sectors, degrees; by the number of directions where it is not given.
    #[schemars(range(min = 1, max = 90), with = "f64", default)]
    sector_deg: Option<f64>,
    /// Whether dipping surfaces are turned back to the horizontal before directions are taken.
    #[serde(default)]
    restore: bool,
    /// The north that azimuths are counted from; across sites true north is the only common one.
    #[serde(default)]
    north: North,
    /// The seed of the random draws behind p.
    #[serde(default = "super::first_seed")]
    seed: u64,
}

/// What is counted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
enum Unit {
    /// Each trackway that stands, once, by the direction in which it leads.
    #[default]
    Trackway,
    /// Each print, by the azimuth of its foot.
    Print,
}

/// By what directions are grouped.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
enum Grouped {
    /// Not at all.
    #[default]
    Whole,
    /// By site.
    Site,
    /// By surface.
    Surface,
    /// By morphotype.
    Morphotype,
    /// By kind of animal: as `animals` names it, else four-footed where manus prints were found and two-footed where none were.
    Animal,
    /// By trackway.
    Trackway,
}

impl Query for Headings {
    const ID: &'static str = "headings";
    const TITLE: &'static str = "The statistics of directions, and their rose";
    const ABOUT: &'static str = "Mean direction, concentration and spread of trackways (each counts once) or of prints, with the tests \
        of Rayleigh, Rao, Kuiper and Watson and the V-test against a named azimuth; whether one mean direction makes sense at all; \
        whole or by group, with tests between the groups; and the rose diagram as a picture.";
    const HAS_PICTURE: bool = true;
    type Input = Input;

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let sample = sampled::sample(input, world)?;
        let chance = Chance {
            seed: input.seed,
            ..Chance::default()
        };
        let summed = summed::sum_up(input, &sample, &chance)?;
        let mut features: Vec<_> = summed.iter().map(|group| group.feature(&sample)).collect();
        features.extend(compared::compare(&summed, &chance));
        let caution = caution(input, &sample);
        let rose = drawn::rose(input, &sample, &summed, &caution);
        Ok(Answer {
            crs: None,
            features,
            method: Method::new(
                "circular statistics",
                "Fisher (1993), Statistical Analysis of Circular Data; Mardia & Jupp (2000), Directional Statistics; tests after \
                 Rayleigh, Rao (1976), Kuiper (1960), Watson (1961, 1962), Greenwood & Durand (1955), Watson & Williams (1956), \
                 Mardia (1972) and Wheeler & Watson (1964); modes by BIC, Schwarz (1978)",
            ),
            caution,
            picture: Some(Box::new(move || rose.draw())),
        })
    }
}

fn caution(input: &Input, sample: &sampled::Sample) -> String {
    let told = [
        (
            input.by == Unit::Print && input.azimuths_deg.is_empty(),
            "Prints of one trackway are not independent, so that tests by print find a direction too easily: p holds for prints \
             that were drawn one by one.",
        ),
        (
            input.by == Unit::Trackway && input.azimuths_deg.is_empty(),
            "A trackway counts once, however long; one animal that passed twice counts twice. Proposed trackways may lead \
             the other way where few prints tell the direction.",
        ),
        (
            input.group == Grouped::Animal && input.animals.is_empty(),
            "Four-footed animals whose manus prints were overstepped or worn off are taken for two-footed ones.",
        ),
        (sample.restored, super::laid::RESTORED_CAUTION),
    ];
    let told: Vec<&str> = told
        .into_iter()
        .filter(|(holds, _)| *holds)
        .map(|(_, told)| told)
        .collect();
    told.join(" ")
}
