//! The manus prints of a four-footed trackway, as far as they foretell further ones.

use super::habits::{Habit, Normal};
use super::likeness::Likeness;
use super::plane::minus;
use super::track::{Track, set_offset};
use crate::index::SurfaceIndex;
use crate::model::Limb;

/// Where manus prints stand, and what they look like.
#[derive(Debug, Clone)]
pub(super) struct Fore {
    /// Ahead of the pes along the way that the row is read in, and outward, metres.
    pub offset_m: [f64; 2],
    pub sd_m: f64,
    /// The probability that a set shows its manus.
    pub seen: f64,
    pub likeness: Likeness,
}

/// How many sets the habit counts for.
const BELIEF: f64 = 1.0;
/// Standard deviation of a manus about its constant offset, in pes lengths. Common practice: sets keep their form.
const KEEPS: f64 = 0.15;

impl Fore {
    /// That of a trackway which shows two manus prints or more.
    pub fn of(index: &SurfaceIndex, track: &Track, habit: &Habit, kind: Option<&str>) -> Option<Self> {
        if track.fore.len() < 2 {
            return None;
        }
        let offsets: Vec<[f64; 2]> = (track.fore.iter())
            .filter_map(|(step, no)| {
                let print = index.print(*no);
                let at = minus([print.easting_m, print.northing_m], track.origin);
                set_offset(track, *step, at, track.even_left)
            })
            .collect();
        let count = offsets.len() as f64;
        let drawn = |axis: usize, belief: Normal, sign: f64| {
            let sum: f64 = offsets.iter().map(|offset| offset[axis]).sum();
            (sum + BELIEF * sign * belief.mean * track.foot_m) / (count + BELIEF)
        };
        // Read backward, the manus stands behind.
        let ahead = if track.reversed { -1.0 } else { 1.0 };
        let prints: Vec<_> = track.fore.iter().map(|(_, no)| *no).collect();
        let likeness = Likeness::of(index, &prints, Limb::Manus, kind);
        Some(Self {
            offset_m: [drawn(0, habit.manus[0], ahead), drawn(1, habit.manus[1], 1.0)],
            sd_m: KEEPS * track.foot_m * (1.0 + 1.0 / count.max(1.0)).sqrt(),
            seen: ((count + 1.0) / (track.feet.len() as f64 + 2.0)).clamp(0.2, 0.9),
            likeness,
        })
    }
}
