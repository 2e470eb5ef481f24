//! `nearest`: the prints nearest to a place, or all within a radius.

use super::world::Place;
use super::{Answer, Inputs, Method, North, Query, Refusal, World};
use crate::crs::Crs;
use crate::feature::{Feature, PRINT, Scope};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::json;
use spatial::frame::Factors;
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::PrintId;

pub(super) struct Nearest;

const FEW: u32 = 10;
/// So many are found and written in less than a millisecond.
const QUICK: u32 = 100;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// The place: longitude,latitude, or the two coordinates of the CRS that `crs` names.
    at: [f64; 2],
    /// How many prints; 10 where there is no radius, otherwise all within it.
    #[schemars(range(min = 1, max = 10000))]
    #[schemars(with = "u32", default)]
    k: Option<u32>,
    /// The greatest ground distance, metres.
    #[schemars(range(min = 0, max = 100_000))]
    #[schemars(with = "f64", default)]
    radius_m: Option<f64>,
    /// The CRS of `at` and of the answer, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
    /// The north that azimuths are counted from.
    #[serde(default)]
    north: North,
}

impl Query for Nearest {
    const ID: &'static str = "nearest";
    const TITLE: &'static str = "The prints nearest to a place";
    const ABOUT: &'static str = "The k nearest prints to a place of a surface, or all within a radius, nearest first. \
        Distances are ground distances: those of the grid over its point scale factor at the place.";
    type Input = Input;

    fn is_quick(inputs: &Inputs) -> bool {
        // As many as are asked for unless it is said otherwise.
        !inputs.iter().any(|(name, value)| match name.as_str() {
            "radius_m" => true,
            "k" => value
                .as_str()
                .and_then(|k| k.parse::<u32>().ok())
                .is_none_or(|k| k > QUICK),
            _ => false,
        })
    }

    fn settle(input: &mut Input) {
        if input.k.is_none() && input.radius_m.is_none() {
            input.k = Some(FEW);
        }
    }

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let index = world.surface(&input.surface)?;
        let Place { position, factors } = world.place(input.at, &index)?;
        let scope = Scope {
            site: index.id().site.to_string(),
            surface: index.id().to_string(),
        };
        let features = found(&index, position, input, factors.scale)
            .into_iter()
            .enumerate()
            .map(|(place, (no, grid_m))| {
                let near = Near {
                    no,
                    rank: place + 1,
                    grid_m,
                };
                feature(&index, &scope, &near, factors, input.north)
            });
        Ok(Answer {
            crs: Some(Crs::for_site(index.crs())?),
            features: features.collect(),
            method: Method::new(
                "nearest neighbours in an R-tree",
                "Roussopoulos, Kelley & Vincent (1995), Nearest neighbor queries, SIGMOD Record 24(2):71-79",
            ),
            caution: String::new(),
            picture: None,
        })
    }
}

fn found(index: &SurfaceIndex, at: [f64; 2], input: &Input, scale: f64) -> Vec<(PrintNo, f64)> {
    let most = input.k.map_or(usize::MAX, |k| k as usize);
    match input.radius_m {
        Some(radius_m) => {
            let mut found = index.within(at, radius_m * scale);
            found.truncate(most);
            found
        }
        None => index.nearest(at, most),
    }
}

/// A print that was found.
struct Near {
    no: PrintNo,
    rank: usize,
    grid_m: f64,
}

fn feature(index: &SurfaceIndex, scope: &Scope, near: &Near, factors: Factors, north: North) -> Feature {
    let print = index.print(near.no);
    let point = geo::Point::new(print.easting_m, print.northing_m);
    let id = PrintId {
        surface: index.id().clone(),
        label: print.label.clone(),
    };
    let azimuth_deg = print
        .azimuth_deg
        .map(|azimuth_deg| north.from_grid(azimuth_deg, factors));
    let mut feature = Feature::part("print", Some(point.into()))
        .with_id(id)
        .with("rank", near.rank)
        .with("distance_m", near.grid_m / factors.scale)
        .with("grid_distance_m", near.grid_m);
    // No print has properties of those names: each is new.
    feature.properties.extend(PRINT.iter().map(|field| {
        let value = match field.name {
            "azimuth_deg" => json!(azimuth_deg),
            _ => json!((field.cell)(scope, print)),
        };
        (field.name.into(), value)
    }));
    feature
}
