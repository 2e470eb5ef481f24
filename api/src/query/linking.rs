//! `linking`: all interrupted ends of a surface against all starts, solved together.

use super::continuation::terms;
use super::{Answer, Method, Query, Refusal, World};
use crate::crs::Crs;
use crate::feature::Feature;
use geo::LineString;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use spatial::continuation::{ContinuationOptions, Link, link_ends};
use spatial::frame::Factors;
use spatial::index::SurfaceIndex;

pub(super) struct Linking;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// The widest gap across which an end and a start are linked, metres.
    #[schemars(range(min = 0.1, max = 1000))]
    #[serde(default = "widest_gap_m")]
    widest_gap_m: f64,
    /// Links less probable than this are not given.
    #[schemars(range(min = 0, max = 0.99))]
    #[serde(default = "least_probability")]
    least_probability: f64,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
}

fn widest_gap_m() -> f64 {
    ContinuationOptions::default().widest_gap_m
}

fn least_probability() -> f64 {
    ContinuationOptions::default().least_probability
}

impl Query for Linking {
    const ID: &'static str = "linking";
    const TITLE: &'static str = "Trackways across gaps";
    const ABOUT: &'static str = "Which of a surface's interrupted trackways are one: every end against every start across gaps, solved \
        together, each link with its probability, how many prints are missing between, and what speaks for it and against it.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let index = world.surface(&input.surface)?;
        let options = ContinuationOptions {
            widest_gap_m: input.widest_gap_m,
            least_probability: input.least_probability,
            ..ContinuationOptions::default()
        };
        let links = link_ends(&index, index.surroundings(), &options)
            .map_err(|fault| Refusal::Unfit(format!("{} cannot be linked: {fault}.", input.surface)))?;
        let places: Vec<[f64; 2]> = links.iter().map(|link| at(&index, link.prints[0])).collect();
        let factors = world.factors(&places, &index)?;
        Ok(Answer {
            crs: Some(Crs::for_site(index.crs())?),
            features: links.iter().zip(factors).map(|(link, factors)| feature(&index, link, factors)).collect(),
            method: Method::new(
                "ends and starts of trackways solved together as an assignment",
                "this program's documentation of the module continuation",
            ),
            caution: "Links rest on gait, direction and size across ground that shows no print. Animals of one kind and size that went \
                      the same way can be exchanged; look at the rock on both sides before two trackways are made one."
                .to_owned(),
            picture: None,
        })
    }
}

fn at(index: &SurfaceIndex, no: u32) -> [f64; 2] {
    let print = index.print(no);
    [print.easting_m, print.northing_m]
}

fn feature(index: &SurfaceIndex, link: &Link, factors: Factors) -> Feature {
    let id = |label: &spatial::model::Label| format!("{}:{label}", index.id());
    let across = LineString::from_iter(link.prints.map(|no| at(index, no)));
    Feature::part("candidate", Some(across.into()))
        .with("from", id(&link.from))
        .with("from_reversed", link.from_reversed)
        .with("to", id(&link.to))
        .with("to_reversed", link.to_reversed)
        .with("probability", link.probability)
        .with("chosen", link.chosen)
        .with("missing", link.missing)
        .with("distance_m", factors.ground_m(link.distance_m))
        .with(
            "prints",
            link.prints.map(|no| id(&index.print(no).label)).to_vec(),
        )
        .with("terms", terms(&link.terms))
}
