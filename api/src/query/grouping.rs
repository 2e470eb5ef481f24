//! `grouping`: prints into probable trackways.

use super::wishes::Wishes;
use super::{Answer, Method, North, Query, Refusal, World};
use crate::crs::Crs;
use crate::feature::Feature;
use geo::LineString;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::angle::azimuth_rad;
use spatial::frame::Factors;
use spatial::grouping::{Explained, GroupedTrackway};
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::{Basis, Label, PrintId, Status, Trackway};
use std::collections::HashSet;

pub(super) struct Grouping;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// The seed of the random draws behind the probabilities.
    #[serde(default = "super::first_seed")]
    seed: u64,
    /// Links that are kept whatever the evidence says, each of two prints in walking order, as in P012:P013,P013:P014.
    #[serde(default)]
    fixed: Vec<String>,
    /// Links that are never made, in the same form.
    #[serde(default)]
    forbidden: Vec<String>,
    /// Whether accepted trackways are kept as they are, and the rest is grouped around them.
    #[serde(default = "yes")]
    keep_accepted: bool,
    /// Whether each link is explained by the terms of its score.
    #[serde(default)]
    explain: bool,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
    /// The north that azimuths are counted from.
    #[serde(default)]
    north: North,
}

fn yes() -> bool {
    true
}

impl Query for Grouping {
    const ID: &'static str = "grouping";
    const TITLE: &'static str = "Prints into probable trackways";
    const ABOUT: &'static str = "Groups the prints of a surface into probable trackways, each with its prints in walking \
        order and how sure each link is. The prints that belong to none are left over as points.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let index = world.surface(&input.surface)?;
        let wishes = Wishes {
            fixed: &input.fixed,
            forbidden: &input.forbidden,
            keep_accepted: input.keep_accepted,
        };
        let grouping = wishes.group(&index, input.seed, input.explain)?;
        let mut features = Vec::with_capacity(grouping.trackways.len() + grouping.ungrouped.len());
        let starts: Vec<[f64; 2]> = grouping
            .trackways
            .iter()
            .map(|trackway| position(&index, trackway.midline[0]))
            .collect();
        let factors = world.factors(&starts, &index)?;
        for ((trackway, factors), number) in grouping.trackways.iter().zip(factors).zip(1u32..) {
            features.push(line(&index, trackway, number, input.north, factors));
        }
        features.extend(grouping.ungrouped.iter().map(|no| left_over(&index, *no)));
        Ok(Answer {
            crs: Some(Crs::for_site(index.crs())?),
            features,
            method: Method::new(
                "second-order grouping of prints by repeated strides, with sampled link probabilities",
                "this program's documentation of the module grouping; sampling after Oh, Russell & Sastry (2009), \
                 Markov chain Monte Carlo data association, IEEE Transactions on Automatic Control 54(3):481-497",
            ),
            caution: "Trackways are inferred from positions and whatever else was recorded of the prints. Animals of one \
                      kind and size that cross or walk side by side can be confused, and prints of one animal that \
                      passed twice count as two trackways. Probabilities hold for surfaces like those that the method \
                      was tested on; look at the rock before you rely on a link."
                .to_owned(),
            picture: None,
        })
    }
}

fn line(
    index: &SurfaceIndex,
    trackway: &GroupedTrackway,
    number: u32,
    north: North,
    factors: Factors,
) -> Feature {
    let line = LineString::from_iter(trackway.midline.iter().map(|no| position(index, *no)));
    let grid_deg = heading_deg(index, trackway);
    Feature::part("trackway", Some(line.into()))
        .with_id(format!("{}:G{number}", index.id()))
        .with("label", format!("G{number}"))
        .with("surface", index.id().to_string())
        .with(
            "prints",
            trackway
                .prints
                .iter()
                .map(|no| id(index, *no))
                .collect::<Vec<Value>>(),
        )
        .with("n", trackway.prints.len())
        .with("probability", trackway.probability)
        .with("link_probabilities", trackway.link_probabilities.clone())
        .with("direction_probability", trackway.direction_probability)
        .with("missing", trackway.missing.clone())
        .with("heading_deg", north.from_grid(grid_deg, factors))
        .with("morphotype", index.kind_of(&trackway.prints))
        .with("explained", explained(index, trackway))
}

/// Of each link what spoke for it and against it, natural logarithms of odds; `None` where nobody asked.
fn explained(index: &SurfaceIndex, trackway: &GroupedTrackway) -> Option<Value> {
    let link = |link: &Explained| {
        let terms = link
            .terms
            .iter()
            .map(|(what, log_odds)| json!({ "what": what, "log_odds": log_odds }));
        json!({
            "from": id(index, link.from),
            "to": id(index, link.to),
            "log_odds": link.score,
            "terms": terms.collect::<Value>(),
        })
    };
    (!trackway.explained.is_empty()).then(|| trackway.explained.iter().map(link).collect())
}

fn left_over(index: &SurfaceIndex, no: PrintNo) -> Feature {
    let [easting_m, northing_m] = position(index, no);
    Feature::part("ungrouped", Some(geo::Point::new(easting_m, northing_m).into()))
        .with_id(PrintId {
            surface: index.id().clone(),
            label: index.print(no).label.clone(),
        })
        .with("surface", index.id().to_string())
        .with("print", id(index, no))
        .with("ungrouped", true)
}

/// Groups a surface for the record: what is found, and those of it that say more than trackways that
/// are accepted already. A group whose prints all lie in one accepted trackway says nothing new.
///
/// Accepted trackways are kept as they are.
///
/// # Errors
/// When accepted trackways contradict each other.
pub fn proposals(index: &SurfaceIndex, seed: u64) -> Result<Proposals, Refusal> {
    let grouping = Wishes::ACCEPTED.group(index, seed, false)?;
    let numbered = grouping.trackways.iter().zip(1u32..);
    let all: Vec<Trackway> = numbered
        .map(|(found, number)| proposal(index, found, number))
        .collect();
    let accepted = index
        .trackways()
        .iter()
        .filter(|trackway| trackway.status == Status::Accepted);
    let accepted: Vec<HashSet<&Label>> = accepted
        .map(|trackway| trackway.prints.iter().collect())
        .collect();
    let is_new = |found: &&Trackway| {
        !accepted
            .iter()
            .any(|prints| found.prints.iter().all(|print| prints.contains(print)))
    };
    let new = all.iter().filter(is_new).cloned().collect();
    Ok(Proposals {
        new,
        all,
        ungrouped: grouping.ungrouped.len(),
    })
}

/// What the grouping proposes for a surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposals {
    /// Every trackway that it found.
    pub all: Vec<Trackway>,
    /// Those that say more than the accepted trackways do.
    pub new: Vec<Trackway>,
    /// How many prints are in none.
    pub ungrouped: usize,
}

fn proposal(index: &SurfaceIndex, found: &GroupedTrackway, number: u32) -> Trackway {
    Trackway {
        label: format!("G{number}")
            .parse()
            .expect("a letter and digits make a label"),
        prints: found
            .prints
            .iter()
            .map(|no| index.print(*no).label.clone())
            .collect(),
        basis: Basis::Grouping,
        status: Status::Proposed,
        // Four decimals: more would claim what sampling cannot tell.
        probability: Some((found.probability * 1e4).round() / 1e4),
        morphotype: index.kind_of(&found.prints).map(str::to_owned),
        note: None,
        judged_by: None,
        revision: 0,
    }
}

/// From the first print of the midline to the last, degrees from grid north.
fn heading_deg(index: &SurfaceIndex, trackway: &GroupedTrackway) -> f64 {
    let [first, last] = [trackway.midline.first(), trackway.midline.last()]
        .map(|no| no.map_or([0.0, 0.0], |no| position(index, *no)));
    azimuth_rad(last[0] - first[0], last[1] - first[1]).to_degrees()
}

fn position(index: &SurfaceIndex, no: PrintNo) -> [f64; 2] {
    let print = index.print(no);
    [print.easting_m, print.northing_m]
}

fn id(index: &SurfaceIndex, no: PrintNo) -> Value {
    json!(format!("{}:{}", index.id(), index.print(no).label))
}
