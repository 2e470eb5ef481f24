//! `gait`: the measures of a trackway, or of all that stand on a surface.

use super::hip::HipInput;
use super::laid::{Laid, Laying, RESTORED_CAUTION};
use super::{Answer, InputFault, Method, North, Query, Refusal, World};
use crate::crs::Crs;
use crate::feature::{Feature, path};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value, json};
use spatial::gait::{self, CHANGES_CAUTION, GaitFault, LOAD_CAUTION, Options, Placed, SPEED_CAUTION};
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::Trackway;

pub(super) struct Gait;

/// How speed is found, for all who give one.
pub(super) const SPEED_METHOD: Method = Method::new(
    "speed from stride and hip height",
    "Alexander (1976), Estimates of speeds of dinosaurs, Nature 261:129-130; from a relative stride of 2.9 on Thulborn & Wade \
     (1984), Dinosaur trackways in the Winton Formation, Memoirs of the Queensland Museum 21:413-517; hip height as hip_source says",
);

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The trackway, as in gannet-ledge:S2:T4; or give a surface.
    #[schemars(with = "String", default)]
    trackway: Option<String>,
    /// The surface of which all trackways are measured that stand: accepted ones, and proposed ones that share no print with them.
    #[schemars(with = "String", default)]
    surface: Option<String>,
    #[serde(flatten)]
    hip: HipInput,
    /// The standard deviation of a print's position in each axis where the print has none of its own, metres.
    #[schemars(range(min = 0, max = 10))]
    #[serde(default = "one_centimetre")]
    position_sd_m: f64,
    /// Whether a dipping surface is turned back to the horizontal before it is measured.
    #[serde(default)]
    restore: bool,
    /// Whether the table of steps is given; true for one trackway, false for a surface.
    #[schemars(with = "bool", default)]
    steps: Option<bool>,
    /// The north that azimuths are counted from.
    #[serde(default)]
    north: North,
    /// The seed of the random draws behind intervals and p.
    #[serde(default = "super::first_seed")]
    seed: u64,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
}

fn one_centimetre() -> f64 {
    Options::default().position_sd_m
}

impl Query for Gait {
    const ID: &'static str = "gait";
    const TITLE: &'static str = "The measures of a trackway";
    const ABOUT: &'static str = "Paces, strides, pace angulation, gauge and foot rotation of a trackway, each with standard \
        deviation and number; hip height, relative stride, gait and speed with a 95 % interval; where the stride changes; and the \
        table of steps. Lengths are ground lengths. Missing prints are recognised, and a step across them is no pace.";
    type Input = Input;

    fn settle(input: &mut Input) {
        input.steps.get_or_insert(input.trackway.is_some());
    }

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let options = options(input)?;
        let (index, one) = match (&input.trackway, &input.surface) {
            (Some(id), None) => world.trackway(id).map(|(index, no)| (index, Some(no)))?,
            (None, Some(id)) => (world.surface(id)?, None),
            (Some(_), Some(id)) => {
                return Err(Refusal::input("surface", id, "either a trackway or a surface"));
            }
            (None, None) => {
                let fault = InputFault::new(
                    "trackway",
                    None,
                    "a trackway or a surface: one of them is required",
                );
                return Err(Refusal::Inputs(vec![fault]));
            }
        };
        let trackways = match one {
            Some(no) => vec![&index.trackways()[no]],
            None => index.standing_trackways(),
        };
        let rows: Vec<Vec<PrintNo>> = trackways
            .iter()
            .map(|trackway| index.prints_of(trackway))
            .collect();
        let laid = Laying::of(&index, input.north, input.restore)?.rows(&rows)?;
        let placed: Vec<&[Placed]> = laid.iter().map(|laid| &laid.placed[..]).collect();
        let gaits = gait::measure_all(&placed, &options).map_err(|fault| refused(&fault))?;
        let mut caution = Caution::default();
        let measured = trackways.iter().zip(&rows).zip(laid).zip(gaits);
        let features = measured.map(|(((trackway, row), laid), gait)| {
            caution.note(&gait, &laid);
            feature(&index, trackway, row, &laid, &gait, input.steps == Some(true))
        });
        Ok(Answer {
            crs: Some(Crs::for_site(index.crs())?),
            features: features.collect(),
            method: Method::new(
                "measures of a trackway",
                "Leonardi (ed.) (1987), Glossary and Manual of Tetrapod Footprint Palaeoichnology; speed after Alexander (1976), \
                 Nature 261:129-130, and from a relative stride of 2.9 on Thulborn & Wade (1984), Memoirs of the Queensland Museum \
                 21:413-517; hip height as hip_source says; changes of stride by a seeded permutation test of half strides, with \
                 binary segmentation after Scott & Knott (1974), Biometrics 30:507-512",
            ),
            caution: caution.told(input),
            picture: None,
        })
    }
}

fn options(input: &Input) -> Result<Options, Refusal> {
    Ok(Options {
        hip: input.hip.rule()?,
        position_sd_m: input.position_sd_m,
        seed: input.seed,
        ..Options::default()
    })
}

fn refused(fault: &GaitFault) -> Refusal {
    Refusal::Unfit(format!("This cannot be measured: {fault}."))
}

fn feature(
    index: &SurfaceIndex,
    trackway: &Trackway,
    row: &[PrintNo],
    laid: &Laid,
    gait: &gait::Gait,
    with_steps: bool,
) -> Feature {
    let prints: Vec<_> = row.iter().map(|no| index.print(*no)).collect();
    let ids: Vec<Value> = prints
        .iter()
        .map(|print| json!(format!("{}:{}", index.id(), print.label)))
        .collect();
    let mut measures = match serde_json::to_value(gait) {
        Ok(Value::Object(measures)) => measures,
        _ => Map::new(),
    };
    if !with_steps {
        measures.shift_remove("steps");
    }
    Feature::part("trackway", path(&prints))
        .with_id(format!("{}:{}", index.id(), trackway.label))
        .with("surface", index.id().to_string())
        .with("label", trackway.label.as_str())
        .with("morphotype", index.morphotype_of(trackway))
        .with("status", trackway.status.name())
        .with("n", prints.len())
        .with_all(measures)
        .with("restored", json!(laid.restored))
        .with("prints", ids)
}

/// What the answer's caution has to speak of.
#[derive(Default)]
struct Caution {
    speed: bool,
    changes: bool,
    load: bool,
    restored: bool,
}

impl Caution {
    fn note(&mut self, gait: &gait::Gait, laid: &Laid) {
        self.speed |= gait.speed_m_s.is_some();
        self.changes |= !gait.changes.is_empty();
        self.load |= gait.steps.iter().any(|step| step.load.is_some());
        self.restored |= laid.restored.is_some();
    }

    fn told(&self, input: &Input) -> String {
        let any_group = self.speed && !input.hip.is_given();
        let told = [
            (
                any_group,
                "No group of makers was named, so hip height is 4 foot lengths: give morphotype_group, hip_ratio or hip_height_m where more is known.",
            ),
            (self.speed, SPEED_CAUTION),
            (self.changes, CHANGES_CAUTION),
            (self.load, LOAD_CAUTION),
            (self.restored, RESTORED_CAUTION),
        ];
        let told: Vec<&str> = told
            .into_iter()
            .filter(|(holds, _)| *holds)
            .map(|(_, told)| told)
            .collect();
        told.join(" ")
    }
}
