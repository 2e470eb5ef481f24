//! Trackways that go along another's line.

use super::Trials;
use super::edge::with_edge;
use super::evidence::{Overlying, treads};
use super::pairs::{PairChance, PairTrials, SurfaceChance, Tried};
use super::path::{Path, between_rad};
use super::stretch::{Bounds, Stretch};
use crate::model::{Label, named};
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use serde::Serialize;
use std::collections::BTreeSet;

/// Said wherever followers are given.
pub const FOLLOWERS_CAUTION: &str = with_edge!(
    "A trackway that runs along another's line may have been made minutes or days later, or \
    before it: only prints that lie over others tell an order, and nothing here tells a lag. Animals keep to one path \
    without heeding each other, so that a line used by many is a path first and a pursuit last. Where no overlying prints \
    are recorded, the one of which the greater part lies along the other's line is called the follower."
);

/// The fewest steps before and after the join that can be compared.
const FEWEST_STEPS: usize = 4;

named!(
    /// What is known of which came first.
    FollowOrder {
        /// Prints of the follower lie over the leader's.
        Later = "follower_later",
        /// Prints of each lie over the other's: at about one time.
        AboutOneTime = "about_one_time",
        /// No overlying prints are recorded.
        Unknown = "order_unknown",
    }
);

/// What counts as following.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FollowerOptions {
    /// Pairs are told whose p is this at most.
    pub up_to_p: f64,
    /// The largest distance of the follower from the leader's line, metres; `None` takes four foot lengths.
    pub off_m: Option<f64>,
    /// The largest difference of their headings, degrees.
    pub turned_deg: f64,
    /// The shortest stretch, metres; `None` takes two strides of the follower.
    pub least_stretch_m: Option<f64>,
    /// How the change of stride is tested.
    pub trials: Trials,
}

impl Default for FollowerOptions {
    fn default() -> Self {
        Self {
            up_to_p: 0.05,
            off_m: None,
            turned_deg: 40.0,
            least_stretch_m: None,
            trials: Trials::default(),
        }
    }
}

/// A trackway that goes along another's line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Follower {
    /// The one that goes along the line.
    pub follower: Label,
    /// The one whose line it is.
    pub leader: Label,
    /// Which came first, as far as prints that lie over others tell.
    pub order: FollowOrder,
    /// How many prints of the follower lie over prints of the leader, and the other way round.
    pub overlying_prints: [u32; 2],
    /// Where the follower joins the line; easting and northing, metres.
    pub joins_at_m: [f64; 2],
    /// Whether the follower is recorded before it joins; otherwise its trackway begins on the line.
    pub seen_before: bool,
    /// From where to where along the follower, metres from its first print.
    pub on_follower_m: [f64; 2],
    /// From where to where along the leader.
    pub on_leader_m: [f64; 2],
    /// The line half way between the two.
    pub line_m: Vec<[f64; 2]>,
    /// How far the follower keeps off the leader's line, metres; to the right is positive.
    pub offset_mean_m: f64,
    /// The standard deviation of that.
    pub offset_sd_m: f64,
    /// The mean difference of their headings, degrees.
    pub heading_difference_mean_deg: f64,
    /// The follower's mean stride before it joins.
    pub stride_before_m: Option<f64>,
    /// Its mean stride along the line.
    pub stride_along_m: Option<f64>,
    /// The probability of as large a difference, were its steps in random order; `None` for fewer than four steps on
    /// either side.
    pub stride_change_p: Option<f64>,
    /// How the two stand against chance.
    pub chance: PairChance,
}

/// All trackways of a surface that go along another's line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Followers {
    /// The one with the smallest p first; each two trackways once.
    pub pairs: Vec<Follower>,
    /// The surface as a whole; `None` for fewer than two paths.
    pub surface: Option<SurfaceChance>,
    /// The largest distance off the line that was looked at, metres.
    pub off_m: f64,
}

/// Tells trackways that go along another's line, with what stands against chance ([`PairTrials::run`] of the same paths).
#[must_use]
pub fn followers(
    paths: &[Path],
    trials: &PairTrials,
    overlying: &[Overlying],
    options: &FollowerOptions,
) -> Followers {
    let off_m = options.off_m.unwrap_or(trials.behind_m);
    let mut told: BTreeSet<[usize; 2]> = BTreeSet::new();
    let mut pairs = Vec::new();
    for tried in &trials.behind {
        if tried.chance.chance.p > options.up_to_p {
            break;
        }
        let [one, other] = tried.paths;
        if !told.insert([one.min(other), one.max(other)]) {
            continue;
        }
        let [over, under] = treads(overlying, &paths[one].trackway, &paths[other].trackway);
        // The one above came later, whatever the lines suggest.
        let tried = if over == 0 && under > 0 {
            reversed(trials, tried)
        } else {
            *tried
        };
        pairs.extend(measured(paths, &tried, overlying, off_m, options));
    }
    Followers {
        pairs,
        surface: trials.surface_behind,
        off_m,
    }
}

/// The same two with the roles changed; out of the strongest, its own p is not known and the first's is kept.
fn reversed(trials: &PairTrials, tried: &Tried) -> Tried {
    let [one, other] = tried.paths;
    let found = trials.behind.iter().find(|tried| tried.paths == [other, one]);
    Tried {
        paths: [other, one],
        chance: found.map_or(tried.chance, |found| found.chance),
    }
}

fn measured(
    paths: &[Path],
    tried: &Tried,
    overlying: &[Overlying],
    off_m: f64,
    options: &FollowerOptions,
) -> Option<Follower> {
    let [follower, leader] = tried.paths.map(|no| &paths[no]);
    let bounds = Bounds {
        apart_m: off_m,
        turned_rad: options.turned_deg.to_radians(),
        same_way: true,
    };
    let stretch = Stretch::longest(follower, leader, bounds)?;
    let two_strides_m = || 2.0 * follower.stride_m().unwrap_or(0.0);
    if stretch.length_m() < options.least_stretch_m.unwrap_or_else(two_strides_m) {
        return None;
    }
    let on_follower_m = stretch.along_one_m();
    let overlying_prints = treads(overlying, &follower.trackway, &leader.trackway);
    let (offset_mean_m, offset_sd_m) = stretch.mean_sd(|place| -place.right_m);
    let (turn_rad, _) = stretch.mean_sd(|place| between_rad(0.0, place.turn_rad));
    let (before, along) = steps_about(follower, on_follower_m);
    Some(Follower {
        follower: follower.trackway.clone(),
        leader: leader.trackway.clone(),
        order: match overlying_prints {
            [0, 0] => FollowOrder::Unknown,
            [_, 0] | [0, _] => FollowOrder::Later,
            _ => FollowOrder::AboutOneTime,
        },
        overlying_prints,
        joins_at_m: stretch.places[0].at,
        seen_before: on_follower_m[0] > follower.stride_m().unwrap_or(0.0),
        on_follower_m,
        on_leader_m: stretch.along_other_m(),
        line_m: stretch.line_m(),
        offset_mean_m,
        offset_sd_m,
        heading_difference_mean_deg: turn_rad.to_degrees(),
        stride_before_m: mean(&before).map(|half_m| 2.0 * half_m),
        stride_along_m: mean(&along).map(|half_m| 2.0 * half_m),
        stride_change_p: change_p(&before, &along, options.trials),
        chance: tried.chance,
    })
}

/// Half strides before a stretch and along it.
fn steps_about(path: &Path, [from_m, to_m]: [f64; 2]) -> (Vec<f64>, Vec<f64>) {
    let (mut before, mut along) = (Vec::new(), Vec::new());
    for (legs, half_m) in path.walked_m.windows(2).zip(&path.half_strides_m) {
        let middle_m = (legs[0] + legs[1]) / 2.0;
        if middle_m < from_m {
            before.push(*half_m);
        } else if middle_m <= to_m {
            along.push(*half_m);
        }
    }
    (before, along)
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// The part of random orders of all steps in which the two parts' means differ at least as much.
fn change_p(before: &[f64], along: &[f64], trials: Trials) -> Option<f64> {
    if before.len().min(along.len()) < FEWEST_STEPS {
        return None;
    }
    let mut all: Vec<f64> = before.iter().chain(along).copied().collect();
    let differ = |all: &[f64]| Some((mean(&all[..before.len()])? - mean(&all[before.len()..])?).abs());
    let seen = differ(&all)?;
    let mut rng = ChaCha8Rng::seed_from_u64(trials.seed);
    let mut as_large = 1u32;
    for _ in 0..trials.permutations {
        all.shuffle(&mut rng);
        // The same steps summed in another order differ in the last digits.
        as_large += u32::from(differ(&all)? >= seen * (1.0 - 1e-9));
    }
    Some(f64::from(as_large) / f64::from(trials.permutations + 1))
}
