//! Whether the regions hold what they should on the surface's own trackways, and by how much to widen or narrow them.

use super::ahead::{Ahead, HELD};
use super::following::{follow_all, normalised};
use super::habits::{ASIDE, Habits};
use super::plane::{Vector, minus, plus};
use super::steps::mean_position_m2;
use super::track::Track;
use crate::index::{PrintNo, SurfaceIndex};
use rayon::prelude::*;
use std::ops::RangeInclusive;

/// Steps up to this one are looked at.
const STEPS: i32 = 10;
/// The first steps, later ones and far ones are looked at apart: the last of each, and the step that its factor is of.
const PARTS: [(i32, f64); 3] = [(2, 1.0), (5, 4.0), (STEPS, 8.0)];
/// How many trackways the model itself counts for, for the 50 % and the 95 % region.
const BELIEF: [f64; 2] = [4.0, 8.0];
/// How far the prints of one trackway go astray together: the correlation ρ within it. So chosen that the regions hold what they
/// should on simulated surfaces (`stridebed-eval-onward`).
const ALIKE: f64 = 0.25;
/// The rates at which animals turn aside that are thought of, and how sure the one held beforehand is.
const RATES: [f64; 7] = [0.0006, 0.00125, 0.0025, 0.005, 0.01, 0.02, 0.04];
const RATE_SD: f64 = 1.0;
/// A trackway keeps at least so many feet.
const KEPT: usize = 4;

/// Factors of the radii of the 50 % and the 95 % region, for each of [`PARTS`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Factors([[f64; 2]; 3]);

impl Default for Factors {
    fn default() -> Self {
        Self([[1.0; 2]; 3])
    }
}

impl Factors {
    /// The factors at a step, counted from 1: those of the parts on both sides of it, mixed.
    pub fn at(&self, step: usize) -> [f64; 2] {
        let step = (step as f64).clamp(PARTS[0].1, PARTS[2].1);
        let part = usize::from(step > PARTS[1].1);
        let (from, to) = (PARTS[part].1, PARTS[part + 1].1);
        let share = (step - from) / (to - from);
        [0, 1].map(|region| (1.0 - share) * self.0[part][region] + share * self.0[part + 1][region])
    }

    /// Of how far hidden prints lie; what foretold them must not have been learnt from their trackways.
    ///
    /// # Formula
    /// Split conformal prediction: the factor is the quantile p (n + 1) / n of (distance over predicted radius) over what was
    /// hidden, its logarithm drawn to zero as if some trackways had agreed with the model (Vovk, Gammerman & Shafer 2005,
    /// Algorithmic Learning in a Random World; from memory). Prints of one trackway go astray together: of m each, n counts
    /// 1 + (m − 1) ρ times less (the design effect of Kish 1965, Survey Sampling; from memory).
    pub fn of(missed: &[Missed]) -> Self {
        let firsts = [1, PARTS[0].0 + 1, PARTS[1].0 + 1];
        Self([0, 1, 2].map(|part| factors(missed, firsts[part]..=PARTS[part].0)))
    }
}

/// The hidden prints of one trackway: each with its step, and its distance over the radii of the regions.
pub(super) type Missed = Vec<(i32, [f64; 2])>;

/// Cuts the ends of trackways off, predicts them by what is held of gaits, and sees how far the hidden prints lie.
pub(super) fn missed(index: &SurfaceIndex, habits: &Habits, trackways: &[&Vec<PrintNo>]) -> Vec<Missed> {
    (trackways.par_iter().enumerate())
        .filter_map(|(number, prints)| hidden(index, habits, prints, number % 2 == 1))
        .map(ratios)
        .collect()
}

/// The factors of both regions for some steps.
fn factors(missed: &[Missed], steps: RangeInclusive<i32>) -> [f64; 2] {
    let mut near = missed.to_vec();
    for ratios in &mut near {
        ratios.retain(|(step, _)| steps.contains(step));
    }
    near.retain(|ratios| !ratios.is_empty());
    [0, 1].map(|region| {
        let mut ratios: Vec<f64> = near.iter().flatten().map(|(_, ratios)| ratios[region]).collect();
        ratios.sort_unstable_by(f64::total_cmp);
        if ratios.is_empty() {
            return 1.0;
        }
        let (count, of_all) = (near.len() as f64, ratios.len() as f64);
        let worth = of_all / (1.0 + ALIKE * (of_all / count - 1.0));
        let place = HELD[region] * (worth + 1.0) / worth * of_all;
        let seen = ratios[(place.ceil() as usize).clamp(1, ratios.len()) - 1];
        let trust = count / (count + BELIEF[region]);
        (trust * seen.clamp(0.3, 4.0).ln()).exp()
    })
}

/// A trackway with the prints of one end cut off: what is foretold, and where they lie, each with its step.
struct Hidden {
    ahead: Ahead,
    feet: Vec<(i32, Vector)>,
}

fn hidden(index: &SurfaceIndex, habits: &Habits, prints: &[PrintNo], reversed: bool) -> Option<Hidden> {
    let kind = index.kind_of(prints);
    let reader = habits.reader(kind);
    let whole = Track::of(index, prints, reversed, &reader).ok()?;
    let count = whole.feet.len();
    if count < KEPT + 2 {
        return None;
    }
    let kept = KEPT.max(count / 2).max(count.saturating_sub(STEPS as usize));
    let last = whole.feet[kept - 1];
    let mut shown = whole.prints.clone();
    shown.truncate(1 + shown.iter().position(|no| *no == last.no).unwrap_or(0));
    // It was laid out in the way that it is read in; laying it out again turns it once more.
    if reversed {
        shown.reverse();
    }
    let track = Track::of(index, &shown, reversed, &reader).ok()?;
    let nodes = follow_all(&track, habits.of(kind), &habits.kinds);
    let moved = minus(whole.origin, track.origin);
    let feet = whole.feet[kept..].iter();
    Some(Hidden {
        ahead: Ahead::from(nodes, mean_position_m2(&track), habits.aside),
        feet: feet
            .map(|foot| (foot.step - last.step, plus(foot.place, moved)))
            .filter(|(step, _)| (1..=STEPS).contains(step))
            .collect(),
    })
}

/// How far the hidden prints of a trackway lie.
fn ratios(hidden: Hidden) -> Missed {
    let ahead = hidden.ahead.with_regions(Factors::default());
    let stages: Vec<_> = ahead.take(STEPS as usize).collect();
    let of_foot = |(step, place): (i32, Vector)| {
        let stage = &stages[step as usize - 1];
        let radius = stage.axes.distance_2(minus(place, stage.mean)).sqrt();
        (step, stage.radii.map(|held| radius / held))
    };
    hidden.feet.into_iter().map(of_foot).collect()
}

/// Hides the ends of trackways, and sees how often what an animal did there was not to be foretold: the probability that
/// it turns aside at a pace.
///
/// # Formula
/// The mean of the posterior distribution over [`RATES`], given the last hidden print of each trackway; beforehand ln of the
/// rate is normal about [`ASIDE`] with [`RATE_SD`].
pub(super) fn turned_aside(index: &SurfaceIndex, habits: &Habits, trackways: &[&Vec<PrintNo>]) -> f64 {
    let last: Vec<(i32, [f64; 2])> = (trackways.par_iter().enumerate())
        .filter_map(|(number, prints)| {
            let mut hidden = hidden(index, habits, prints, number % 2 == 1)?;
            let (step, place) = hidden.feet.pop()?;
            let stage = hidden.ahead.nth(step as usize - 1)?;
            Some((step, stage.densities_apart(place)))
        })
        .collect();
    let ln_weight = |rate: &f64| {
        let seen = last.iter().map(|(step, [steady, aside])| {
            let still = (1.0 - rate).powi(*step);
            (still * steady + (1.0 - still) * aside)
                .max(f64::MIN_POSITIVE)
                .ln()
        });
        seen.sum::<f64>() - 0.5 * ((rate / ASIDE).ln() / RATE_SD).powi(2)
    };
    let weights = normalised(&RATES.iter().map(ln_weight).collect::<Vec<f64>>());
    weights
        .iter()
        .zip(RATES)
        .map(|(weight, rate)| weight * rate)
        .sum()
}
