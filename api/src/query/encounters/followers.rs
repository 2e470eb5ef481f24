//! `followers`: trackways that go along another's line.

use super::walked::{METHOD_SOURCE, Walked, line, permutations};
use crate::crs::Crs;
use crate::feature::Feature;
use crate::query::{Answer, Method, North, Query, Refusal, World, first_seed};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use spatial::encounter::{FOLLOWERS_CAUTION, Follower, FollowerOptions, PairTrials, Trials, followers};

pub(in crate::query) struct Followers;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(in crate::query) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// Pairs with a larger p are not given.
    #[schemars(range(min = 0, max = 1))]
    #[serde(default = "up_to_p")]
    up_to_p: f64,
    /// The largest distance of the follower from the other's line, metres; four foot lengths where it is not given.
    #[schemars(range(min = 0.01, max = 1000), with = "f64", default)]
    off_m: Option<f64>,
    /// The largest difference of their headings, degrees.
    #[schemars(range(min = 1, max = 90))]
    #[serde(default = "turned_deg")]
    turned_deg: f64,
    /// How many times the trackways are laid down by chance.
    #[schemars(range(min = 19, max = 99999))]
    #[serde(default = "permutations")]
    permutations: u32,
    /// The seed of the random draws.
    #[serde(default = "first_seed")]
    seed: u64,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
}

fn up_to_p() -> f64 {
    FollowerOptions::default().up_to_p
}

fn turned_deg() -> f64 {
    FollowerOptions::default().turned_deg
}

impl Query for Followers {
    const ID: &'static str = "followers";
    const TITLE: &'static str = "Trackways that go along another's line";
    const ABOUT: &'static str = "Which trackways of a surface run along another's line in the same direction, from where they join it: how \
        closely and how far, which came later where prints overlie, whether the stride changes where it joins, and how likely chance \
        gives as much.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let walked = Walked::of(&input.surface, North::default(), world)?;
        let trials = Trials {
            permutations: input.permutations,
            seed: input.seed,
        };
        let tried = PairTrials::run(&walked.paths, walked.exposed.as_ref(), trials);
        let options = FollowerOptions {
            up_to_p: input.up_to_p,
            off_m: input.off_m,
            turned_deg: input.turned_deg,
            trials,
            ..FollowerOptions::default()
        };
        let found = followers(&walked.paths, &tried, &walked.overprints.overlying(), &options);
        let summary = (walked.summary())
            .with("pairs", found.pairs.len())
            .with("off_m", walked.ground_m(found.off_m));
        let mut features = vec![summary.telling(&found.surface)];
        features.extend(found.pairs.iter().map(|pair| of_pair(&walked, pair)));
        Ok(Answer {
            crs: Some(Crs::for_site(walked.index.crs())?),
            features,
            method: Method::new(
                "nearness to another's line, against the same paths laid down anew",
                METHOD_SOURCE,
            ),
            caution: FOLLOWERS_CAUTION.to_owned(),
            picture: None,
        })
    }
}

fn of_pair(walked: &Walked, pair: &Follower) -> Feature {
    let ground = |grid_m: Option<f64>| grid_m.map(|grid_m| walked.ground_m(grid_m));
    let feature = Feature::part("path", line(&pair.line_m))
        .with("kind", "follows")
        .with("follower", walked.id(&pair.follower))
        .with("leader", walked.id(&pair.leader))
        .with("order", pair.order.name())
        .with(
            "overprints",
            walked.overprint_ids(walked.overprints.by(&pair.follower, &pair.leader)),
        )
        .with(
            "overprints_against",
            walked.overprint_ids(walked.overprints.by(&pair.leader, &pair.follower)),
        )
        .with("seen_before", pair.seen_before)
        .with("on_follower_m", walked.ground_both_m(pair.on_follower_m))
        .with("on_leader_m", walked.ground_both_m(pair.on_leader_m))
        .with("offset_mean_m", walked.ground_m(pair.offset_mean_m))
        .with("offset_sd_m", walked.ground_m(pair.offset_sd_m))
        .with("heading_difference_mean_deg", pair.heading_difference_mean_deg)
        .with("stride_before_m", ground(pair.stride_before_m))
        .with("stride_along_m", ground(pair.stride_along_m))
        .with("stride_change_p", pair.stride_change_p);
    feature.telling(&pair.chance)
}
