//! Whether the regions hold what they should on the surface's own trackways, and by how much to widen or narrow them.

use super::ahead::{Ahead, HELD};
use super::following::follow_all;
use super::habits::Habits;
use super::plane::minus;
use super::steps::mean_position_m2;
use super::track::Track;
use crate::index::{PrintNo, SurfaceIndex};
use rayon::prelude::*;

/// Steps up to this one are looked at, the first ones and the later ones apart.
const STEPS: i32 = 10;
const LATER: f64 = 4.0;
/// How many trackways the model itself counts for, for the 50 % and the 95 % region.
const BELIEF: [f64; 2] = [15.0, 30.0];
/// A trackway keeps at least so many feet.
const KEPT: usize = 4;

/// Factors of the radii of the 50 % and the 95 % region: for the first step, and for the later ones.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Factors {
    first: [f64; 2],
    later: [f64; 2],
}

impl Default for Factors {
    fn default() -> Self {
        Self {
            first: [1.0; 2],
            later: [1.0; 2],
        }
    }
}

impl Factors {
    /// The factors at a step, counted from 1.
    pub fn at(&self, step: usize) -> [f64; 2] {
        let part = ((step as f64 - 1.0) / (LATER - 1.0)).clamp(0.0, 1.0);
        [0, 1].map(|region| self.first[region] + part * (self.later[region] - self.first[region]))
    }

    /// Cuts the ends of trackways off, predicts them, and sees how far the hidden prints lie.
    ///
    /// # Formula
    /// Split conformal prediction: the factor is the quantile of (distance over predicted radius) over what was hidden,
    /// its logarithm drawn to zero as if some trackways had agreed with the model. (Vovk, Gammerman & Shafer 2005,
    /// Algorithmic Learning in a Random World; from memory.)
    pub fn of(index: &SurfaceIndex, habits: &Habits, trackways: &[&Vec<PrintNo>]) -> Self {
        let hidden: Vec<Vec<(i32, [f64; 2])>> = (trackways.par_iter().enumerate())
            .map(|(number, prints)| hidden(index, habits, prints, number % 2 == 1))
            .filter(|hidden| !hidden.is_empty())
            .collect();
        let factors = |of: &(dyn Fn(i32) -> bool + Sync)| {
            let near = hidden
                .iter()
                .filter(|hidden| hidden.iter().any(|(step, _)| of(*step)));
            let count = near.count() as f64;
            [0, 1].map(|region| {
                let mut ratios: Vec<f64> = (hidden.iter().flatten())
                    .filter(|(step, _)| of(*step))
                    .map(|(_, ratios)| ratios[region])
                    .collect();
                if ratios.is_empty() {
                    return 1.0;
                }
                ratios.sort_unstable_by(f64::total_cmp);
                let place = (HELD[region] * ratios.len() as f64) as usize;
                let seen = ratios[place.min(ratios.len() - 1)].clamp(0.3, 4.0);
                // The habits were learnt from the same trackways, so that they fit these a little too well.
                let fit = if seen < 1.0 { 0.3 } else { 1.1 };
                (fit * seen.ln() * count / (count + BELIEF[region])).exp()
            })
        };
        Self {
            first: factors(&|step| step <= 2),
            later: factors(&|step| step > 2),
        }
    }
}

/// The prints cut off one end of a trackway: each with its step and its distance over the radii of the regions.
fn hidden(index: &SurfaceIndex, habits: &Habits, prints: &[PrintNo], reversed: bool) -> Vec<(i32, [f64; 2])> {
    let kind = index.kind_of(prints);
    let reader = habits.reader(kind);
    let Ok(whole) = Track::of(index, prints, reversed, &reader) else {
        return Vec::new();
    };
    let count = whole.feet.len();
    if count < KEPT + 2 {
        return Vec::new();
    }
    let kept = KEPT.max(count / 2).max(count.saturating_sub(8));
    let last = whole.feet[kept - 1];
    let mut shown = whole.prints.clone();
    shown.truncate(1 + shown.iter().position(|no| *no == last.no).unwrap_or(0));
    // It was laid out in the way that it is read in; laying it out again turns it once more.
    if reversed {
        shown.reverse();
    }
    let Ok(track) = Track::of(index, &shown, reversed, &reader) else {
        return Vec::new();
    };
    let nodes = follow_all(&track, habits.of(kind), &habits.kinds);
    let stages: Vec<_> = Ahead::from(nodes, mean_position_m2(&track), Factors::default())
        .take(STEPS as usize)
        .collect();
    let moved = minus(whole.origin, track.origin);
    let of_foot = |foot: &super::track::Foot| {
        let step = foot.step - last.step;
        let stage = stages.get(usize::try_from(step - 1).ok()?)?;
        let off = [0, 1].map(|axis| foot.place[axis] + moved[axis] - stage.mean[axis]);
        let radius = stage.axes.distance_2(off).sqrt();
        Some((step, stage.radii.map(|held| radius / held)))
    };
    whole.feet[kept..].iter().filter_map(of_foot).collect()
}
