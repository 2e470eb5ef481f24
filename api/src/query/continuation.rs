//! `continuation`: where an interrupted trackway should go on.

use super::{Answer, Method, North, Query, Refusal, World, targets};
use crate::catalogue::Indexed;
use crate::crs::Crs;
use crate::feature::{Feature, path};
use crate::plan;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::continuation::{
    CONTINUATION_CAUTION, Candidate, CandidateKind, ContinuationOptions, Direction, InExtent, Onward,
    PredictedStep, Target, Term, continue_trackway,
};
use spatial::frame::Factors;
use spatial::index::PrintNo;

pub(super) struct Continuation;

/// Said wherever it is told where to dig or to look with radar.
pub(super) const DIGGING_CAUTION: &str = "A prediction says where to look first, not that something is there. Digging, \
    sampling and ground radar need permits, licences and practised people in most places, and some ground is protected or \
    sacred: local rules and those who keep the place decide. At a ledge, cliff, quarry or river bank know the tide table \
    and the way out, keep away from loose or undercut rock, and never work alone.";

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(super) struct Input {
    /// The trackway, as in gannet-ledge:S2:T4.
    trackway: String,
    /// Which end is continued.
    #[serde(default)]
    direction: Ends,
    /// How many prints are predicted; where it is not given, as many as the ground that could hold the next one stays narrower than widest_m.
    #[schemars(range(min = 1, max = 100), with = "u32", default)]
    steps: Option<u32>,
    /// The length of the 95 % region beyond which no further print is predicted, metres.
    #[schemars(range(min = 0.1, max = 1000))]
    #[serde(default = "widest_m")]
    widest_m: f64,
    /// The side of the squares of ground that are ranked, metres.
    #[schemars(range(min = 0.05, max = 100))]
    #[serde(default = "square_m")]
    square_m: f64,
    /// The most candidates and the most squares that are given at each end.
    #[schemars(range(min = 1, max = 1000))]
    #[serde(default = "most")]
    most: u32,
    /// The north that azimuths are counted from.
    #[serde(default)]
    north: North,
    /// The CRS of the answer's coordinates, as in EPSG:25830; longitude and latitude where there is none.
    #[schemars(with = "String", default)]
    crs: Option<String>,
}

/// Which end of a trackway is continued.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
enum Ends {
    /// After its last print and before its first.
    #[default]
    Both,
    /// After its last print.
    After,
    /// Before its first print.
    Before,
}

fn widest_m() -> f64 {
    ContinuationOptions::default().widest_m
}

fn square_m() -> f64 {
    ContinuationOptions::default().square_m
}

fn most() -> u32 {
    50
}

impl Query for Continuation {
    const ID: &'static str = "continuation";
    const TITLE: &'static str = "Where a trackway should go on";
    const ABOUT: &'static str = "Before the first print of a trackway and after its last: each next print with the ground that holds it \
        with 50 % and with 95 %, the corridor around them, the prints and trackways that could continue it with their \
        probabilities and that of none of these, and the squares of ground where digging or radar would find most.";
    const HAS_PICTURE: bool = true;
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let (index, no) = world.trackway(&input.trackway)?;
        let trackway = &index.trackways()[no];
        let prints = index.prints_of(trackway);
        let found = continue_trackway(&index, index.surroundings(), &prints, &options(input))
            .map_err(|fault| Refusal::Unfit(format!("{} cannot be continued: {fault}.", input.trackway)))?;
        let ends: Vec<&Onward> = [(&found.after, Ends::After), (&found.before, Ends::Before)]
            .into_iter()
            .filter(|(_, end)| input.direction == Ends::Both || input.direction == *end)
            .map(|(onward, _)| onward)
            .collect();
        let at = ends.first().map_or(0, |onward| onward.from);
        let print = index.print(at);
        let factors = world.factors(&[[print.easting_m, print.northing_m]], &index)?[0];
        let told = Told {
            index: &index,
            factors,
            north: input.north,
        };
        let features = ends.iter().flat_map(|onward| told.features(onward)).collect();
        let overlay = targets::overlay(&index, trackway, &ends);
        let picture = plan::onward_of(world.catalogue(), index.clone(), overlay)?;
        Ok(Answer {
            crs: Some(Crs::for_site(index.crs())?),
            features,
            method: Method::new(
                "a trackway's own gait carried on, shrunk to that of its kind on the surface",
                "this program's documentation of the module continuation; correlated random walks after Kareiva & Shigesada (1983), \
                 Oecologia 56:234-238 (from memory)",
            ),
            caution: format!("{CONTINUATION_CAUTION} {DIGGING_CAUTION}"),
            picture: Some(picture),
        })
    }
}

fn options(input: &Input) -> ContinuationOptions {
    ContinuationOptions {
        steps: input.steps.map(|steps| steps as usize),
        widest_m: input.widest_m,
        square_m: input.square_m,
        most: input.most as usize,
        ..ContinuationOptions::default()
    }
}

/// The words of the answer.
struct Told<'a> {
    index: &'a Indexed,
    factors: Factors,
    north: North,
}

impl Told<'_> {
    fn features(&self, onward: &Onward) -> Vec<Feature> {
        let direction = onward.direction;
        let mut features = vec![self.summary(onward)];
        features.extend(
            onward
                .candidates
                .iter()
                .zip(1..)
                .map(|(one, rank)| self.candidate(one, direction, rank)),
        );
        features.extend(
            onward
                .targets
                .iter()
                .zip(1..)
                .map(|(target, rank)| self.target(target, direction, rank)),
        );
        features.extend(onward.steps.iter().map(|step| self.predicted(step)));
        features.extend(onward.steps.iter().flat_map(|step| self.regions(step)));
        features.push(
            Feature::part("corridor", Some(onward.corridor.clone().into()))
                .with("direction", direction.name()),
        );
        features
    }

    fn summary(&self, onward: &Onward) -> Feature {
        Feature::part("summary", None)
            .with("direction", onward.direction.name())
            .with("from", self.print_id(onward.from))
            .with("limb", onward.limb.name())
            .with("steps", onward.steps.len())
            .with("candidates", onward.candidates.len())
            .with("none_of_these", onward.none_of_these)
    }

    fn predicted(&self, step: &PredictedStep) -> Feature {
        Feature::part("predicted", Some(geo::Point::from(step.position_m).into()))
            .with("step", step.step)
            .with("direction", step.direction.name())
            .with("sd_major_m", self.factors.ground_m(step.sd_major_m))
            .with("sd_minor_m", self.factors.ground_m(step.sd_minor_m))
            .with(
                "ellipse_azimuth_deg",
                self.north
                    .from_grid(step.ellipse_azimuth_deg, self.factors)
                    .rem_euclid(180.0),
            )
            .with("in_extent", in_extent(&step.in_extent))
            .with("extent", extent(&step.in_extent))
            .with("side", step.side.map(|side| side.name()))
            .with(
                "azimuth_deg",
                self.north.from_grid(step.azimuth_deg, self.factors),
            )
            .with("seen", step.seen)
            .with("hidden", step.hidden)
    }

    fn regions(&self, step: &PredictedStep) -> [Feature; 2] {
        [
            (0.5, &step.region_50, step.radius_50),
            (0.95, &step.region_95, step.radius_95),
        ]
        .map(|(holds, region, radius)| {
            Feature::part("region", Some(region.clone().into()))
                .with("step", step.step)
                .with("direction", step.direction.name())
                .with("holds", holds)
                .with("radius_sd", radius)
        })
    }

    fn candidate(&self, candidate: &Candidate, direction: Direction, rank: usize) -> Feature {
        let feature = match &candidate.kind {
            CandidateKind::Print { print, manus } => self
                .at_print(*print)
                .with("kind", "print")
                .with("print", self.print_id(*print))
                .with("manus", manus.map(|no| self.print_id(no))),
            CandidateKind::Manus { print } => self
                .at_print(*print)
                .with("kind", "manus")
                .with("print", self.print_id(*print)),
            CandidateKind::Trackway {
                label,
                print,
                reversed,
            } => {
                let standing = self
                    .index
                    .trackways()
                    .iter()
                    .find(|trackway| trackway.label == *label);
                let prints = standing
                    .map(|trackway| self.index.prints_of(trackway))
                    .unwrap_or_default();
                let prints: Vec<_> = prints.iter().map(|no| self.index.print(*no)).collect();
                Feature::part("candidate", path(&prints))
                    .with("kind", "trackway")
                    .with("trackway", format!("{}:{label}", self.index.id()))
                    .with("print", self.print_id(*print))
                    .with("reversed", *reversed)
            }
        };
        feature
            .with("direction", direction.name())
            .with("rank", rank)
            .with("probability", candidate.probability)
            .with("step", candidate.step)
            .with("missing", candidate.missing)
            .with("distance_m", self.factors.ground_m(candidate.distance_m))
            .with("side_fits", candidate.side_fits)
            .with("in_corridor", candidate.in_corridor)
            .with("terms", terms(&candidate.terms))
    }

    fn target(&self, target: &Target, direction: Direction, rank: usize) -> Feature {
        Feature::part("target", Some(target.square.clone().into()))
            .with("direction", direction.name())
            .with("rank", rank)
            .with("probability", target.probability)
            .with("expected_prints", target.expected_prints)
            .with("nearest_step", target.nearest_step)
            .with("in_extent", in_extent(&target.in_extent))
            .with("extent", extent(&target.in_extent))
    }

    fn at_print(&self, no: PrintNo) -> Feature {
        let print = self.index.print(no);
        Feature::part(
            "candidate",
            Some(geo::Point::new(print.easting_m, print.northing_m).into()),
        )
    }

    fn print_id(&self, no: PrintNo) -> String {
        format!("{}:{}", self.index.id(), self.index.print(no).label)
    }
}

fn in_extent(found: &InExtent) -> &'static str {
    found.kind.name()
}

fn extent(found: &InExtent) -> Option<&str> {
    found.label.as_ref().map(|label| label.as_str())
}

/// What speaks for and against, each term in natural logarithms of odds.
pub(super) fn terms(terms: &[Term]) -> Value {
    terms
        .iter()
        .map(|term| json!({ "what": term.what, "log_odds": term.log_odds }))
        .collect()
}
