//! `detectability`: from plain numbers, what ground radar could show of a print.

use super::{Answer, InputFault, Method, Query, Refusal, World};
use crate::feature::Feature;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::radar::{MATERIALS, RADAR_CAUTION, Resolution, velocity_m_ns};

pub(super) struct Detectability;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// Relative permittivity of the ground; or give a velocity or a material.
    #[schemars(range(min = 1, max = 100), with = "f64", default)]
    permittivity: Option<f64>,
    /// Velocity of the pulse in the ground, metres in a nanosecond.
    #[schemars(range(min = 0.001, max = 0.3), with = "f64", default)]
    velocity_m_ns: Option<f64>,
    /// The ground by a handbook's name; the answer has its least and its greatest permittivity.
    #[schemars(with = "String", extend("enum" = materials()))]
    #[serde(default)]
    material: Option<String>,
    /// The antenna's centre frequency, megahertz.
    #[schemars(range(min = 1, max = 10_000))]
    frequency_mhz: f64,
    /// How deep the print lies, metres below the ground.
    #[schemars(range(min = 0, max = 100))]
    depth_m: f64,
    /// The length of the print, metres.
    #[schemars(range(min = 0, max = 5), with = "f64", default)]
    print_length_m: Option<f64>,
    /// The relief of the print, from its rim to its floor, metres.
    #[schemars(range(min = 0, max = 5), with = "f64", default)]
    print_depth_m: Option<f64>,
}

fn materials() -> Value {
    MATERIALS.iter().map(|material| material.name).collect()
}

impl Query for Detectability {
    const ID: &'static str = "detectability";
    const TITLE: &'static str = "What ground radar could show of a print";
    const ABOUT: &'static str = "For ground of a permittivity, an antenna's frequency and a depth: wavelength, vertical resolution (a \
        quarter of it) and the radius of the first Fresnel zone; and, for a print's length and relief, whether it could be resolved.";
    type Input = Input;

    fn answer(input: &Input, _: &World<'_>) -> Result<Answer, Refusal> {
        let features: Result<Vec<Feature>, Refusal> = velocities(input)?
            .into_iter()
            .map(|v| feature(input, v))
            .collect();
        Ok(Answer {
            crs: None,
            features: features?,
            method: Method::new(
                "radar velocity, quarter wavelength and first Fresnel zone",
                "Davis & Annan (1989), Geophysical Prospecting 37:531-551 (velocity and permittivity of ground); Sheriff & Geldart \
                 (1995), Exploration Seismology, section 6.4 (resolution; from memory)",
            ),
            caution: RADAR_CAUTION.to_owned(),
            picture: None,
        })
    }
}

/// The velocities that the inputs name: one, or the fastest and the slowest of a material.
fn velocities(input: &Input) -> Result<Vec<f64>, Refusal> {
    let one_only = "one of permittivity, velocity_m_ns and material: each tells how fast a pulse runs";
    match (input.permittivity, input.velocity_m_ns, &input.material) {
        (Some(permittivity), None, None) => Ok(vec![velocity_m_ns(permittivity)]),
        (None, Some(velocity), None) => Ok(vec![velocity]),
        (None, None, Some(name)) => {
            let known = MATERIALS.iter().find(|material| material.name == *name);
            let [least, greatest] = known
                .ok_or_else(|| Refusal::input("material", name, one_only))?
                .permittivity;
            let mut both = vec![velocity_m_ns(least), velocity_m_ns(greatest)];
            both.dedup();
            Ok(both)
        }
        (None, None, None) => Err(Refusal::Inputs(vec![InputFault::new(
            "permittivity",
            None,
            one_only,
        )])),
        (_, Some(velocity), _) => Err(Refusal::input("velocity_m_ns", velocity, one_only)),
        (_, _, Some(name)) => Err(Refusal::input("material", name, one_only)),
    }
}

fn feature(input: &Input, velocity_m_ns: f64) -> Result<Feature, Refusal> {
    let pulse = Resolution::of(velocity_m_ns, input.frequency_mhz, input.depth_m).ok_or_else(|| {
        Refusal::input(
            "frequency_mhz",
            input.frequency_mhz,
            "numbers that give a wavelength",
        )
    })?;
    let feature = Feature::part("summary", None).telling(&pulse);
    let size = input.print_length_m.zip(input.print_depth_m);
    let seen = size.map(|(length_m, relief_m)| pulse.of_print(length_m, relief_m));
    let relief = input
        .print_depth_m
        .map(|relief_m| relief_m >= pulse.vertical_resolution_m);
    let outline = input
        .print_length_m
        .map(|length_m| length_m >= 2.0 * pulse.fresnel_radius_m);
    let why = "print_length_m and print_depth_m are needed to tell";
    Ok(feature
        .with("relief_resolved", relief)
        .with("outline_resolved", outline)
        .with(
            "resolved",
            seen.map(|seen| seen == spatial::radar::Seen::Resolved),
        )
        .with("seen", seen.map(|seen| seen.name()))
        .with("not_enough_data", seen.is_none().then(|| json!({ "seen": why }))))
}
