//! `scene`: what happened on a surface, in statements that can be defended.

mod animals;
mod meetings;
mod statement;
mod ways;

use super::encounters::walked::{METHOD_SOURCE, Walked, permutations};
use super::hip::HipInput;
use super::{Answer, Method, North, Query, Refusal, World, first_seed};
use crate::crs::Crs;
use crate::feature::Feature;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use spatial::encounter::Trials;
use spatial::model::Status;
use statement::{Statement, Strength, counted};

pub(super) struct Scene;

/// Said with every scene.
const SCENE_CAUTION: &str = "Each statement stands on its own evidence and assumption, and no more of a story follows from \
    several than each says. All rest on the trackways as they stand: where these are proposals that nobody accepted, so do the \
    statements. Tracks tell an order only where one lies over another, and never an hour.";

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
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

impl Input {
    fn trials(&self) -> Trials {
        Trials {
            permutations: self.permutations,
            seed: self.seed,
        }
    }

    /// The inputs that further queries about the same surface share.
    fn asked(&self) -> Vec<(&'static str, String)> {
        vec![("surface", self.surface.clone())]
    }

    /// The same with those of the draws.
    fn drawn(&self) -> Vec<(&'static str, String)> {
        let mut asked = self.asked();
        asked.push(("permutations", self.permutations.to_string()));
        asked.push(("seed", self.seed.to_string()));
        asked
    }
}

impl Query for Scene {
    const ID: &'static str = "scene";
    const TITLE: &'static str = "What happened on a surface";
    const ABOUT: &'static str = "One account of a surface: how many animals of which kinds, which way and how fast they went, where one changed \
        its gait, who went side by side, who went along whose line, where paths meet, and what came first. Each statement gives its \
        evidence, how sure it is, and the assumption that it needs; weak ones say that they are weak.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let walked = Walked::of(&input.surface, input.north, world)?;
        let gaits = walked.gaits(&input.hip, input.seed)?;
        let walked = walked.with_speeds(&gaits);
        let mut statements = vec![standing(&walked, input)];
        statements.extend(animals::individuals(&walked, input)?);
        statements.extend(ways::headings(&walked, input)?);
        statements.extend(ways::gaits(&walked, &gaits, input));
        statements.extend(meetings::side_by_side(&walked, input));
        statements.extend(meetings::foci(&walked, input));
        statements.extend(meetings::order(&walked, input));
        let weak = statements
            .iter()
            .filter(|one| one.strength == Strength::Weak)
            .count();
        let summary = (walked.summary())
            .with("statements", statements.len())
            .with("weak", weak);
        let told = statements
            .into_iter()
            .zip(1..)
            .map(|(statement, rank)| statement.feature(rank));
        let mut features: Vec<Feature> = told.collect();
        features.push(summary);
        Ok(Answer {
            crs: Some(Crs::for_site(walked.index.crs())?),
            features,
            method: Method::new("statements of the other queries, gathered", METHOD_SOURCE),
            caution: SCENE_CAUTION.to_owned(),
            picture: None,
        })
    }
}

/// What all others rest on.
fn standing(walked: &Walked, input: &Input) -> Statement {
    let standing = walked.index.standing_trackways();
    let proposed = standing
        .iter()
        .filter(|trackway| trackway.status == Status::Proposed)
        .count();
    let accepted = standing.len() - proposed;
    let prints: usize = standing.iter().map(|trackway| trackway.prints.len()).sum();
    let says = match (standing.len(), proposed) {
        (0, _) => "No trackway stands on this surface yet: its prints are not grouped.".to_owned(),
        (_, 0) => format!(
            "{} of {prints} prints stand here, all accepted.",
            counted(accepted, "trackway", "trackways")
        ),
        (all, _) => format!(
            "{} of {prints} prints stand here, {accepted} of them accepted and {proposed} only proposed: what is said of those \
             waits for someone who looks at the rock.",
            counted(all, "trackway", "trackways")
        ),
    };
    let strength = if proposed == 0 && accepted > 0 {
        Strength::Strong
    } else {
        Strength::Moderate
    };
    Statement::new(
        "trackways",
        strength,
        says,
        "A trackway is what somebody or a score took for one animal's prints.",
    )
    .by_query("grouping", &input.asked())
}
