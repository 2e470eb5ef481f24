//! `individuals`: the least number of animals that made a surface's trackways.

use super::laid::{Laid, Laying, RESTORED_CAUTION};
use super::{Answer, Method, North, Query, Refusal, World};
use crate::crs::Crs;
use crate::feature::{Feature, path};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::gait::{self, Options, Placed};
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::individuals::{self, INDIVIDUALS_CAUTION, Limits, PathSummary};
use spatial::model::{Label, Trackway};
use std::collections::{BTreeSet, HashMap};

pub(super) struct Individuals;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// Sizes and strides are different beyond so many standard deviations.
    #[schemars(range(min = 0.5, max = 10))]
    #[serde(default = "deviations")]
    deviations: f64,
    /// How much ground and preservation change one animal's mean foot length from trackway to trackway, as a part of it (one standard deviation).
    #[schemars(range(min = 0, max = 1))]
    #[serde(default = "size_cv")]
    size_cv: f64,
    /// How much one animal's stride changes from one passage to the next in the same gait, in the same way.
    #[schemars(range(min = 0, max = 1))]
    #[serde(default = "stride_cv")]
    stride_cv: f64,
    /// Headings are different beyond this angle, degrees.
    #[schemars(range(min = 0, max = 180))]
    #[serde(default = "turn_deg")]
    turn_deg: f64,
    /// Whether a dipping surface is turned back to the horizontal before it is measured.
    #[serde(default)]
    restore: bool,
    /// The north that azimuths are counted from.
    #[serde(default)]
    north: North,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
}

fn deviations() -> f64 {
    Limits::default().deviations
}

fn size_cv() -> f64 {
    Limits::default().size_cv
}

fn stride_cv() -> f64 {
    Limits::default().stride_cv
}

fn turn_deg() -> f64 {
    Limits::default().turn_deg
}

impl Query for Individuals {
    const ID: &'static str = "individuals";
    const TITLE: &'static str = "The least number of animals";
    const ABOUT: &'static str = "How many animals at least made the trackways of a surface, whole and by morphotype and size class: as \
        many as there are trackways of which no two can be one animal's, with the reasons for each two. One number rests on what an \
        animal cannot change, the other also holds that none came back over its own track in another gait or direction.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let index = world.surface(&input.surface)?;
        let paths = summaries(&index, input.north, input.restore)?;
        let found = individuals::count(&paths, &limits(input));
        let trackways = index.standing_trackways();
        let mut features = vec![whole(&found, trackways.len())];
        features.extend(found.classes.iter().map(class));
        for (trackway, path) in trackways.iter().zip(&paths) {
            features.push(line(&index, trackway, &index.prints_of(trackway), path, &found));
        }
        Ok(Answer {
            crs: Some(Crs::for_site(index.crs())?),
            features,
            method: Method::new(
                "largest set of trackways that are all apart",
                "common practice for what sets trackways apart; a largest clique bounds the number of colours of a graph from \
                 below, any colouring from above (textbook graph theory)",
            ),
            caution: [
                INDIVIDUALS_CAUTION,
                if input.restore { RESTORED_CAUTION } else { "" },
            ]
            .join(" ")
            .trim_end()
            .to_owned(),
            picture: None,
        })
    }
}

fn limits(input: &Input) -> Limits {
    Limits {
        deviations: input.deviations,
        size_cv: input.size_cv,
        stride_cv: input.stride_cv,
        turn_deg: input.turn_deg,
    }
}

/// What is counted of a surface's standing trackways, in their order.
///
/// # Errors
/// When the bed is to be turned back and cannot be, or a position is no place.
pub(super) fn summaries(
    index: &SurfaceIndex,
    north: North,
    restore: bool,
) -> Result<Vec<PathSummary>, Refusal> {
    let trackways = index.standing_trackways();
    let rows: Vec<Vec<PrintNo>> = trackways
        .iter()
        .map(|trackway| index.prints_of(trackway))
        .collect();
    let laid = together(&Laying::of(index, north, restore)?, &rows)?;
    paths(index, &trackways, &rows, &laid)
}

/// All rows in one frame, so that their places can be compared.
fn together<'a>(laying: &Laying<'a>, rows: &[Vec<PrintNo>]) -> Result<Vec<Vec<Placed<'a>>>, Refusal> {
    let all = laying.rows(&[rows.concat()])?;
    let mut placed = all.into_iter().flat_map(|Laid { placed, .. }| placed);
    Ok(rows
        .iter()
        .map(|row| placed.by_ref().take(row.len()).collect())
        .collect())
}

fn paths(
    index: &SurfaceIndex,
    trackways: &[&Trackway],
    rows: &[Vec<PrintNo>],
    laid: &[Vec<Placed<'_>>],
) -> Result<Vec<PathSummary>, Refusal> {
    // Neither speed nor changes are asked for, and both cost draws.
    let options = Options {
        draws: 0,
        permutations: 0,
        ..Options::default()
    };
    let placed: Vec<&[Placed]> = laid.iter().map(|placed| &placed[..]).collect();
    let gaits = gait::measure_all(&placed, &options).map_err(|fault| Refusal::Unfit(format!("{fault}.")))?;
    let overlies = overlies(index, trackways, rows);
    let parts = trackways.iter().zip(gaits).zip(laid).zip(overlies);
    let path = parts.map(|(((trackway, gait), placed), overlies)| PathSummary {
        id: trackway.label.clone(),
        morphotype: index.morphotype_of(trackway).map(Into::into),
        foot_length_m: gait.row.foot_length_m,
        stride_m: gait.row.stride_m,
        heading_deg: gait.heading_deg,
        path_m: placed.iter().map(|placed| placed.position_m).collect(),
        overlies,
    });
    Ok(path.collect())
}

/// Of each trackway, the others on whose prints it treads.
fn overlies(index: &SurfaceIndex, trackways: &[&Trackway], rows: &[Vec<PrintNo>]) -> Vec<Vec<Label>> {
    let of: HashMap<&Label, &Label> = (trackways.iter())
        .flat_map(|trackway| trackway.prints.iter().map(|print| (print, &trackway.label)))
        .collect();
    let trodden = |(trackway, row): (&&Trackway, &Vec<PrintNo>)| {
        let below = row.iter().filter_map(|no| index.print(*no).remarks.as_ref());
        let below = below
            .flat_map(|remarks| &remarks.overlies)
            .filter_map(|print| of.get(print));
        let below: BTreeSet<&Label> = below.copied().filter(|label| **label != trackway.label).collect();
        below.into_iter().cloned().collect()
    };
    trackways.iter().zip(rows).map(trodden).collect()
}

fn whole(found: &individuals::Individuals, trackways: usize) -> Feature {
    Feature::part("summary", None)
        .with("group", Value::Null)
        .with("trackways", trackways)
        .with("least", found.surely.least)
        .with("least_if_none_came_back", found.if_none_came_back.least)
        .with("most", found.most)
        .with("without_length", found.without_length)
        .with("surely", json!(found.surely))
        .with("if_none_came_back", json!(found.if_none_came_back))
}

fn class(class: &individuals::SizeClass) -> Feature {
    Feature::part("summary", None)
        .with("group", class_name(class))
        .telling(class)
}

pub(super) fn class_name(class: &individuals::SizeClass) -> String {
    let kind = class.morphotype.as_deref().unwrap_or("morphotype unknown");
    class.size_class.map_or(format!("{kind}, size unknown"), |size| {
        format!("{kind}, size class {size}")
    })
}

fn line(
    index: &SurfaceIndex,
    trackway: &Trackway,
    row: &[PrintNo],
    summary: &PathSummary,
    found: &individuals::Individuals,
) -> Feature {
    let prints: Vec<_> = row.iter().map(|no| index.print(*no)).collect();
    let class = found
        .classes
        .iter()
        .find(|class| class.trackways.contains(&trackway.label));
    Feature::part("trackway", path(&prints))
        .with_id(format!("{}:{}", index.id(), trackway.label))
        .with("label", trackway.label.as_str())
        .with("group", class.map(class_name))
        .with("size_class", class.and_then(|class| class.size_class))
        .with("morphotype", index.morphotype_of(trackway))
        .with("foot_length_m", summary.foot_length_m.mean)
        .with("stride_m", summary.stride_m.mean)
        .with("heading_deg", summary.heading_deg)
        .with("counted", found.surely.trackways.contains(&trackway.label))
}
