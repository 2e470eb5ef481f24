//! `companions`: trackways that run side by side.

use super::walked::{METHOD_SOURCE, Walked, line, permutations};
use crate::crs::Crs;
use crate::feature::Feature;
use crate::query::hip::HipInput;
use crate::query::{Answer, Method, North, Query, Refusal, World, first_seed};
use geo::{Geometry, LineString, MultiLineString};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::encounter::{
    COMPANIONS_CAUTION, Companion, CompanionGroup, CompanionOptions, PairTrials, Trials, companions,
};

pub(in crate::query) struct Companions;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(in crate::query) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// Pairs with a larger p are not given.
    #[schemars(range(min = 0, max = 1))]
    #[serde(default = "up_to_p")]
    up_to_p: f64,
    /// Pairs are joined to groups up to this part of false discoveries.
    #[schemars(range(min = 0, max = 1))]
    #[serde(default = "group_level")]
    group_level: f64,
    /// The largest distance between two trackways' lines, metres; where it is not given, it follows from how densely trackways lie.
    #[schemars(range(min = 0.01, max = 1000), with = "f64", default)]
    apart_m: Option<f64>,
    /// The largest difference of their headings, degrees.
    #[schemars(range(min = 1, max = 90))]
    #[serde(default = "turned_deg")]
    turned_deg: f64,
    #[serde(flatten)]
    hip: HipInput,
    /// How many times the trackways are laid down by chance.
    #[schemars(range(min = 19, max = 99999))]
    #[serde(default = "permutations")]
    permutations: u32,
    /// The seed of the random draws.
    #[serde(default = "first_seed")]
    seed: u64,
    /// The north that azimuths are counted from.
    #[serde(default)]
    north: North,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
}

fn up_to_p() -> f64 {
    CompanionOptions::default().up_to_p
}

fn group_level() -> f64 {
    CompanionOptions::default().group_level
}

fn turned_deg() -> f64 {
    CompanionOptions::default().turned_deg
}

impl Query for Companions {
    const ID: &'static str = "companions";
    const TITLE: &'static str = "Trackways that run side by side";
    const ABOUT: &'static str = "Which trackways of a surface run along beside each other: the stretch that they share, how their headings \
        and spacing vary along it, how their speeds and sizes compare, groups of more than two, what speaks for one time and what \
        against it, and how likely chance gives as much.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let walked = Walked::of(&input.surface, input.north, world)?;
        let gaits = walked.gaits(&input.hip, input.seed)?;
        let walked = walked.with_speeds(&gaits);
        let trials = Trials {
            permutations: input.permutations,
            seed: input.seed,
        };
        let tried = PairTrials::run(&walked.paths, walked.exposed.as_ref(), trials);
        let options = CompanionOptions {
            up_to_p: input.up_to_p,
            group_level: input.group_level,
            apart_m: input.apart_m,
            turned_deg: input.turned_deg,
            ..CompanionOptions::default()
        };
        let found = companions(&walked.paths, &tried, &walked.overprints.overlying(), &options);
        // Two that go side by side are told as a pair.
        let groups: Vec<&CompanionGroup> = (found.groups.iter())
            .filter(|group| group.trackways.len() > 2)
            .collect();
        let summary = (walked.summary())
            .with("pairs", found.pairs.len())
            .with("groups", groups.len())
            .with("apart_m", walked.ground_m(found.apart_m));
        let mut features = vec![summary.telling(&found.surface)];
        features.extend(groups.iter().map(|group| of_group(&walked, group)));
        features.extend(
            found
                .pairs
                .iter()
                .map(|pair| of_pair(&walked, pair, "side by side")),
        );
        features.extend(
            found
                .opposite
                .iter()
                .map(|pair| of_pair(&walked, pair, "opposite ways")),
        );
        Ok(Answer {
            crs: Some(Crs::for_site(walked.index.crs())?),
            features,
            method: Method::new(
                "nearness and likeness of heading along paths, against the same paths laid down anew",
                METHOD_SOURCE,
            ),
            caution: COMPANIONS_CAUTION.to_owned(),
            picture: None,
        })
    }
}

fn of_group(walked: &Walked, group: &CompanionGroup) -> Feature {
    let lines = group.trackways.iter().filter_map(|label| walked.path(label));
    let lines = lines.map(|path| LineString::from_iter(path.line_m.iter().copied()));
    let lines: Geometry<f64> = MultiLineString::from_iter(lines).into();
    Feature::part("path", Some(lines))
        .with("kind", "group")
        .with("trackways", walked.ids(&group.trackways))
        .with("heading_deg", walked.azimuth_deg(group.heading_deg.to_radians()))
        .with("spacing_mean_m", walked.ground_m(group.spacing_mean_m))
        .with("spacing_cv", group.spacing_cv)
        .with("p_corrected_largest", group.p_corrected_largest)
}

pub(in crate::query) fn of_pair(walked: &Walked, pair: &Companion, kind: &str) -> Feature {
    Feature::part("path", line(&pair.line_m))
        .with("kind", kind)
        .with("trackways", walked.ids(&pair.trackways))
        .with("on_first_m", walked.ground_both_m(pair.on_first_m))
        .with("on_second_m", walked.ground_both_m(pair.on_second_m))
        .with("length_m", walked.ground_m(pair.length_m))
        .with("heading_difference_mean_deg", pair.heading_difference_mean_deg)
        .with(
            "heading_difference_largest_deg",
            pair.heading_difference_largest_deg,
        )
        .with("spacing_mean_m", walked.ground_m(pair.spacing_mean_m))
        .with("spacing_sd_m", walked.ground_m(pair.spacing_sd_m))
        .with("spacing_cv", pair.spacing_cv)
        .with("left", pair.left.as_ref().map(|label| walked.id(label)))
        .with("speed_ratio", pair.speed_ratio)
        .with("stride_ratio", pair.stride_ratio)
        .with("size_ratio", pair.foot_ratio)
        .with("crossings", pair.crossings)
        .with("evidence", evidence(pair))
        .telling(&pair.chance)
}

fn evidence(pair: &Companion) -> Value {
    json!(pair.evidence)
}
