//! `convergence`: places where paths meet, with the odds against chance.

use super::walked::{METHOD_SOURCE, Walked, line, permutations, speed_of};
use crate::crs::Crs;
use crate::feature::Feature;
use crate::query::continuation::DIGGING_CAUTION;
use crate::query::hip::HipInput;
use crate::query::{Answer, Method, North, Query, Refusal, World, first_seed};
use geo::{LineString, Polygon};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::encounter::{
    Approach, CONVERGENCE_CAUTION, Convergence as Found, ConvergenceOptions, Focus, SpeedRange, Trials,
    convergence,
};
use spatial::model::ExtentKind;

pub(in crate::query) struct Convergence;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(in crate::query) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// Whether the trackways' origins are looked for, before their first prints, instead of where they lead.
    #[serde(default)]
    backward: bool,
    /// How far the trackways are followed, metres; 40 paces of the middle one where it is not given.
    #[schemars(range(min = 0.1, max = 100000), with = "f64", default)]
    reach_m: Option<f64>,
    /// The most places that are given.
    #[schemars(range(min = 1, max = 1000))]
    #[serde(default = "most")]
    most: u32,
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

fn most() -> u32 {
    20
}

impl Query for Convergence {
    const ID: &'static str = "convergence";
    const TITLE: &'static str = "Places where paths meet";
    const ABOUT: &'static str = "Where two or more trackways of a surface meet beyond their last prints, or where they came from: each place \
        with its 95 % ellipse, the trackways whose corridors hold it, how each comes to it and how fast it went, the extent that it \
        lies in, and how likely chance gives as much.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let walked = Walked::of(&input.surface, input.north, world)?;
        let options = ConvergenceOptions {
            backward: input.backward,
            reach_m: input.reach_m,
            most: input.most as usize,
            trials: Trials {
                permutations: input.permutations,
                seed: input.seed,
            },
        };
        let found = convergence(
            &walked.index,
            walked.index.surroundings(),
            &walked.paths,
            &options,
        );
        let speeds: Vec<Option<Speed>> = (walked.gaits(&input.hip, input.seed)?.iter())
            .map(|(_, gait)| Speed::of(gait, input.backward))
            .collect();
        let mut features = vec![summary(&walked, &found)];
        for (focus, rank) in found.foci.iter().zip(1..) {
            features.extend(of_focus(&walked, focus, rank, input.backward, &speeds));
        }
        let has_target = found.foci.iter().any(is_target);
        Ok(Answer {
            crs: Some(Crs::for_site(walked.index.crs())?),
            features,
            method: Method::new(
                "evidence of corridors that meet, against the same corridors in each other's places",
                METHOD_SOURCE,
            ),
            caution: [CONVERGENCE_CAUTION, if has_target { DIGGING_CAUTION } else { "" }]
                .join(" ")
                .trim_end()
                .to_owned(),
            picture: None,
        })
    }
}

/// How fast a trackway goes at the end that is followed.
#[derive(Debug, Clone, Copy)]
struct Speed {
    /// Of the last measured stride, or with origins of the first.
    at_end_m_s: Option<f64>,
    /// Of the trackway as a whole.
    whole: SpeedRange,
}

impl Speed {
    fn of(gait: &spatial::gait::Gait, backward: bool) -> Option<Self> {
        let mut measured = gait.steps.iter().filter_map(|step| step.speed_m_s);
        let at_end_m_s = if backward {
            measured.next()
        } else {
            measured.next_back()
        };
        Some(Self {
            at_end_m_s,
            whole: speed_of(gait)?,
        })
    }
}

fn summary(walked: &Walked, found: &Found) -> Feature {
    (walked.summary())
        .with("direction", found.direction.name())
        .with("reach_m", walked.ground_m(found.reach_m))
        .with("foci", found.foci.len())
        .with("fans", walked.ids(&found.fans))
        .telling(&found.strongest)
}

/// Whether nobody could see what lies there.
fn is_target(focus: &Focus) -> bool {
    focus.in_extent.kind != ExtentKind::Exposed
}

fn of_focus(
    walked: &Walked,
    focus: &Focus,
    rank: usize,
    backward: bool,
    speeds: &[Option<Speed>],
) -> Vec<Feature> {
    let members: Vec<Value> = (focus.members.iter())
        .map(|member| approach(walked, member, speeds[member.path]))
        .collect();
    let point = Feature::part("focus", Some(geo::Point::from(focus.position_m).into()))
        .with("rank", rank)
        .with(
            "trackways",
            walked.ids(focus.members.iter().map(|member| &member.trackway)),
        )
        .with("members", members)
        .with("sd_major_m", walked.ground_m(focus.sd_major_m))
        .with("sd_minor_m", walked.ground_m(focus.sd_minor_m))
        .with(
            "ellipse_azimuth_deg",
            walked
                .azimuth_deg(focus.ellipse_azimuth_deg.to_radians())
                .rem_euclid(180.0),
        )
        .with("in_extent", focus.in_extent.kind.name())
        .with(
            "extent",
            focus.in_extent.label.as_ref().map(|label| label.as_str()),
        )
        .with("target", is_target(focus));
    let ring = LineString::from_iter(focus.region_95_m.iter().copied());
    let region = Feature::part("region", Some(Polygon::new(ring, Vec::new()).into()))
        .with("rank", rank)
        .with("holds", 0.95)
        .with("radius_sd", focus.radius_95);
    let ways = focus.members.iter().filter_map(|member| {
        let line_m = &walked.paths[member.path].line_m;
        let end = if backward {
            line_m[0]
        } else {
            line_m[line_m.len() - 1]
        };
        Some(
            Feature::part("path", Some(line(&[end, focus.position_m])?))
                .with("rank", rank)
                .with("trackway", walked.id(&member.trackway)),
        )
    });
    [point.telling(&focus.chance), region]
        .into_iter()
        .chain(ways)
        .collect()
}

fn approach(walked: &Walked, member: &Approach, speed: Option<Speed>) -> Value {
    json!({
        "trackway": walked.id(&member.trackway),
        "azimuth_deg": walked.azimuth_deg(member.azimuth_deg.to_radians()),
        "distance_m": walked.ground_m(member.distance_m),
        "sd_across_m": walked.ground_m(member.sd_across_m),
        "deviation_sd": member.deviation_sd,
        "speed_m_s": speed.and_then(|speed| speed.at_end_m_s),
        "speed_whole_m_s": speed.map(|speed| speed.whole.speed_m_s),
        "speed_interval_m_s": speed.map(|speed| [speed.whole.low_m_s, speed.whole.high_m_s]),
        "prints": member.prints.iter().map(|no| walked.print_id(*no)).collect::<Vec<_>>(),
    })
}
