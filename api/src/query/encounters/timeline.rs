//! `timeline`: relative times along paths, and whether two animals could have been at one place together.

use super::walked::{METHOD_SOURCE, Walked, line, permutations};
use crate::crs::Crs;
use crate::feature::Feature;
use crate::query::hip::HipInput;
use crate::query::{Answer, Method, North, Query, Refusal, World, first_seed};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use spatial::encounter::{
    Approach, Companion, CompanionOptions, ConvergenceOptions, Focus, PairTrials, Path, Seconds, SpeedRange,
    TIMELINE_CAUTION, Trials, companions, convergence, seconds_before, seconds_between, together,
};
use spatial::gait::SPEED_CAUTION;

pub(in crate::query) struct Timeline;

#[derive(Debug, Serialize, Deserialize, JsonSchema)]
pub(in crate::query) struct Input {
    /// The surface, as in gannet-ledge:S2.
    surface: String,
    /// Places where trackways meet and pairs side by side are asked for a common time up to this p.
    #[schemars(range(min = 0, max = 1))]
    #[serde(default = "up_to_p")]
    up_to_p: f64,
    #[serde(flatten)]
    hip: HipInput,
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
    0.05
}

impl Query for Timeline {
    const ID: &'static str = "timeline";
    const TITLE: &'static str = "Times along trackways";
    const ABOUT: &'static str = "How long each trackway of a surface took from print to print at its speed, and, for places where trackways \
        meet and for pairs side by side, whether two animals could have been there together if they shared a time. Nothing on a rock \
        tells that they did.";
    type Input = Input;

    fn crs(input: &Input) -> Option<&str> {
        input.crs.as_deref()
    }

    fn answer(input: &Input, world: &World<'_>) -> Result<Answer, Refusal> {
        let walked = Walked::of(&input.surface, North::default(), world)?;
        let gaits = walked.gaits(&input.hip, input.seed)?;
        let walked = walked.with_speeds(&gaits);
        let trials = Trials {
            permutations: input.permutations,
            seed: input.seed,
        };
        let mut features: Vec<Feature> = walked.paths.iter().map(|path| of_path(&walked, path)).collect();
        let without = walked.paths.iter().filter(|path| path.speed.is_none());
        let summary =
            (walked.summary()).with("without_speed", walked.ids(without.map(|path| &path.trackway)));
        let options = ConvergenceOptions {
            trials,
            ..ConvergenceOptions::default()
        };
        let foci = convergence(
            &walked.index,
            walked.index.surroundings(),
            &walked.paths,
            &options,
        )
        .foci;
        let foci = foci.iter().filter(|focus| focus.chance.p <= input.up_to_p);
        features.extend(foci.flat_map(|focus| at_focus(&walked, focus)));
        let options = CompanionOptions {
            up_to_p: input.up_to_p,
            ..CompanionOptions::default()
        };
        let tried = PairTrials::run(&walked.paths, walked.exposed.as_ref(), trials);
        let pairs = companions(&walked.paths, &tried, &walked.overprints.overlying(), &options).pairs;
        features.extend(pairs.iter().filter_map(|pair| beside(&walked, pair)));
        features.insert(0, summary);
        Ok(Answer {
            crs: Some(Crs::for_site(walked.index.crs())?),
            features,
            method: Method::new(
                "distance over speed along the trackways, with 95 % intervals",
                METHOD_SOURCE,
            ),
            caution: format!("{TIMELINE_CAUTION} {SPEED_CAUTION}"),
            picture: None,
        })
    }
}

/// Seconds from the first print to each further one of the main row.
fn of_path(walked: &Walked, path: &Path) -> Feature {
    let speed = path.speed.and_then(|speed| on_grid(walked, speed));
    // Counted from the end backwards by the science; a reader wants them from the first print on.
    let before = speed.and_then(|speed| seconds_before(path, 0.0, 0.0, &speed));
    let whole = before.as_ref().and_then(|times| times.first().copied());
    let since = before
        .zip(whole)
        .map(|(times, whole)| times.iter().map(|time| whole.s - time.s).collect::<Vec<_>>());
    Feature::part("trackway", line(&path.line_m))
        .with_id(walked.id(&path.trackway))
        .with("trackway", walked.id(&path.trackway))
        .with("speed_m_s", path.speed.map(|speed| speed.speed_m_s))
        .with(
            "speed_interval_m_s",
            path.speed.map(|speed| vec![speed.low_m_s, speed.high_m_s]),
        )
        .with("length_m", walked.ground_m(path.length_m()))
        .with("takes", json!(whole))
        .with(
            "prints",
            path.prints
                .iter()
                .map(|no| walked.print_id(*no))
                .collect::<Vec<_>>(),
        )
        .with("since_first_s", since)
}

/// A speed over the ground as one over the grid, on which distances are counted here.
fn on_grid(walked: &Walked, speed: SpeedRange) -> Option<SpeedRange> {
    let scale = walked.ground_m(1.0);
    (scale > 0.0).then(|| SpeedRange {
        speed_m_s: speed.speed_m_s / scale,
        low_m_s: speed.low_m_s / scale,
        high_m_s: speed.high_m_s / scale,
    })
}

/// A focus with the time that each trackway needs to it from its last print, and each two of them.
fn at_focus(walked: &Walked, focus: &Focus) -> Vec<Feature> {
    let times: Vec<(&Approach, Option<Seconds>)> = (focus.members.iter())
        .map(|member| (member, to_go(walked, member, focus)))
        .collect();
    let told: Vec<Value> = (times.iter())
        .map(|(member, time)| json!({ "trackway": walked.id(&member.trackway), "to_go": time }))
        .collect();
    let point = Feature::part("focus", Some(geo::Point::from(focus.position_m).into()))
        .with(
            "trackways",
            walked.ids(focus.members.iter().map(|member| &member.trackway)),
        )
        .with("p", focus.chance.p)
        .with("times", told)
        .with("assumes", "both made their last prints at one moment");
    let mut features = vec![point];
    for (place, (one, first)) in times.iter().enumerate() {
        for (other, second) in &times[place + 1..] {
            if let (Some(first), Some(second)) = (first, second) {
                let statement = both(
                    walked,
                    [&one.trackway, &other.trackway],
                    [first, second],
                    "the place where they meet",
                    "last prints",
                );
                features.push(statement);
            }
        }
    }
    features
}

fn to_go(walked: &Walked, member: &Approach, focus: &Focus) -> Option<Seconds> {
    let speed = on_grid(walked, walked.paths[member.path].speed?)?;
    seconds_between(member.distance_m, focus.sd_major_m, &speed)
}

/// Two that walk side by side: the time that each needs for the stretch.
fn beside(walked: &Walked, pair: &Companion) -> Option<Feature> {
    let [one, other] = [(0, pair.on_first_m), (1, pair.on_second_m)].map(|(no, [from, to])| {
        let speed = on_grid(walked, walked.path(&pair.trackways[no])?.speed?)?;
        seconds_between((to - from).max(0.0), 0.0, &speed)
    });
    let (first, second) = (one?, other?);
    let [a, b] = &pair.trackways;
    let mut feature = both(
        walked,
        [a, b],
        [&first, &second],
        "the end of the stretch that they share",
        "first prints on it",
    );
    feature.geometry = line(&pair.line_m);
    Some(feature)
}

fn both(
    walked: &Walked,
    labels: [&spatial::model::Label; 2],
    [first, second]: [&Seconds; 2],
    place: &str,
    from: &str,
) -> Feature {
    let found = together(first, second);
    let [one, other] = labels;
    let could = if found.could {
        "could have been"
    } else {
        "were hardly"
    };
    let says = format!(
        "If {one} and {other} made their {from} at one moment, they {could} at {place} together: {:.1} s against {:.1} s, a difference \
         of {:.1} s (95 % interval {:.1} to {:.1}).",
        first.s, second.s, found.longer_s.s, found.longer_s.lower_s, found.longer_s.upper_s
    );
    Feature::part("statement", None)
        .with("about", "timeline")
        .with("says", says)
        .with("strength", "weak")
        .with("trackways", walked.ids(labels))
        .with("could", found.could)
        .with("longer", json!(found.longer_s))
        .with(
            "evidence",
            json!([{
                "query": "gait",
                "href": format!("/queries/gait?surface={}", walked.index.id()),
                "title": "gait, from which the speeds come",
            }]),
        )
        .with("caution", TIMELINE_CAUTION)
}
