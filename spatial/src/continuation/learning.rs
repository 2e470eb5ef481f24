//! How habits are learnt from the standing trackways of a surface.

use super::calibrating::{Factors, missed, turned_aside};
use super::following::{follow, normalised};
use super::habits::{Habit, Habits, Normal, rotations_rad};
use super::plane::{length, minus};
use super::track::{Track, length_m, set_offset};
use crate::index::{PrintNo, SurfaceIndex};
use crate::sample::Sample;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Trackways by their kind.
type ByKind<'a> = BTreeMap<Option<&'a str>, Vec<&'a Vec<PrintNo>>>;

/// How many trackways the beliefs count for.
const BELIEF: f64 = 6.0;
/// How many trackways those of the whole surface count for among those of one kind.
const SURFACE: f64 = 4.0;
/// How many times as much the beliefs count where unsteadiness is learnt: a trackway tells little of it.
const UNSTEADY: f64 = 1.0;
/// How many trackways of a kind teach; more would only take time.
const MOST: usize = 200;
/// Shorter rows teach nothing of gaits.
const LEAST_FEET: usize = 5;

/// What trackways of one kind show.
#[derive(Debug, Clone, Default)]
struct Shown {
    pace: Sample,
    half_gauge: Sample,
    size: Sample,
    rotation: Sample,
    manus: [Sample; 3],
    with_manus: Sample,
    ln_densities: Vec<Vec<f64>>,
}

impl Habits {
    /// Learns from the standing trackways, of each kind from so many: each measure is drawn towards the belief before, as if
    /// that were the experience of some trackways more (empirical Bayes).
    ///
    /// Habits fit the trackways that taught them a little too well. So how wide the regions must be is seen in two halves:
    /// each is foretold by what the other one taught.
    pub fn learnt(index: &SurfaceIndex, trackways: &[Vec<PrintNo>]) -> Self {
        let mut by_kind: ByKind = BTreeMap::new();
        for prints in trackways {
            by_kind.entry(index.kind_of(prints)).or_default().push(prints);
        }
        let shares = shares(&by_kind);
        for prints in by_kind.values_mut() {
            *prints = some(prints);
        }
        let halves = [0, 1].map(|first| half(&by_kind, first));
        let missed = |one: usize| {
            missed(
                index,
                &Self::of_kinds(index, &halves[1 - one]),
                &all(&halves[one]),
            )
        };
        Self {
            shares,
            factors: Factors::of(&[missed(0), missed(1)].concat()),
            ..Self::of_kinds(index, &by_kind)
        }
    }

    /// Rows are read, gaits are learnt from them, and with these all is done once more.
    fn of_kinds(index: &SurfaceIndex, by_kind: &ByKind) -> Self {
        let mut habits = Self::untaught();
        for _ in 0..2 {
            let tracks: Vec<(Option<&str>, Vec<Track>)> = (by_kind.iter())
                .map(|(kind, trackways)| {
                    let reader = habits.reader(*kind);
                    let read = |prints: &&Vec<PrintNo>| Track::of(index, prints, false, &reader).ok();
                    (*kind, trackways.par_iter().filter_map(read).collect())
                })
                .collect();
            habits = Self::taught(index, &tracks);
        }
        habits.aside = turned_aside(index, &habits, &all(by_kind));
        habits
    }

    fn taught(index: &SurfaceIndex, by_kind: &[(Option<&str>, Vec<Track>)]) -> Self {
        let mut habits = Self::untaught();
        habits.count(by_kind.iter().flat_map(|(_, tracks)| tracks));
        habits.spreads(index, by_kind.iter().flat_map(|(_, tracks)| tracks));
        let shown: Vec<(Option<&str>, Shown)> = (by_kind.iter())
            .map(|(kind, tracks)| (*kind, habits.shown(index, tracks)))
            .collect();
        habits.all = learnt(&habits.all, BELIEF, shown.iter().map(|(_, shown)| shown));
        for (kind, shown) in shown {
            if let Some(kind) = kind {
                let habit = learnt(&habits.all, SURFACE, std::iter::once(&shown));
                habits.of_kind.insert(Arc::from(kind), habit);
            }
        }
        habits
    }

    /// How many prints are missing inside, and how often trackways end.
    fn count<'a>(&mut self, tracks: impl Iterator<Item = &'a Track>) {
        let (mut seen, mut missing, mut paces, mut ends) = (0.0, 0.0, 0.0, 0.0);
        for track in tracks {
            for pair in track.feet.windows(2) {
                let between = f64::from(pair[1].step - pair[0].step - 1);
                paces += between + 1.0;
                seen += 1.0;
                // Wide gaps are hidden ground, not prints that were overlooked.
                missing += if between <= 2.0 { between } else { 0.0 };
            }
            ends += 1.0;
        }
        self.missing = ((missing + 50.0 * self.missing) / (seen + missing + 50.0)).clamp(0.02, 0.4);
        self.ends = ((ends + 20.0 * self.ends) / (paces + 20.0)).clamp(0.01, 0.2);
    }

    fn spreads<'a>(&mut self, index: &SurfaceIndex, tracks: impl Iterator<Item = &'a Track>) {
        let (mut sizes, mut shapes, mut azimuths) = <(Sample, Sample, Sample)>::default();
        for track in tracks {
            let prints = || track.feet.iter().map(|foot| index.print(foot.no));
            sizes.add_deviations(prints().map(|print| length_m(print).ln()));
            let shape = prints().filter_map(|print| Some((print.width_m? / length_m(print)).ln()));
            shapes.add_deviations(shape);
            azimuths.add_deviations(rotations_rad(index, track).into_iter());
        }
        let about_zero = |sample: Sample, sd: f64| drawn(sample, Normal { mean: 0.0, sd }, 60.0).sd;
        self.size_sd = about_zero(sizes, self.size_sd);
        self.shape_sd = about_zero(shapes, self.shape_sd);
        self.azimuth_sd_rad = about_zero(azimuths, self.azimuth_sd_rad);
    }

    fn shown(&self, index: &SurfaceIndex, tracks: &[Track]) -> Shown {
        let each: Vec<_> = (tracks.par_iter())
            .filter(|track| track.feet.len() >= LEAST_FEET)
            .map(|track| {
                let ln_densities: Vec<f64> = (self.kinds.iter())
                    .map(|kind| follow(track, &self.all, kind).1)
                    .collect();
                (track, ln_densities)
            })
            .collect();
        let mut shown = Shown::default();
        for (track, ln_densities) in each {
            shown.ln_densities.push(ln_densities);
            shown.track(index, track);
        }
        shown
    }
}

/// The part of the trackways of a known kind that are of each.
fn shares(by_kind: &ByKind) -> BTreeMap<Arc<str>, f64> {
    let known =
        || (by_kind.iter()).filter_map(|(kind, prints)| Some((Arc::from((*kind)?), prints.len() as f64)));
    let count: f64 = known().map(|(_, count)| count).sum();
    known().map(|(kind, of_kind)| (kind, of_kind / count)).collect()
}

/// Every second trackway of each kind.
fn half<'a>(by_kind: &ByKind<'a>, first: usize) -> ByKind<'a> {
    let every_second =
        |prints: &Vec<&'a Vec<PrintNo>>| prints.iter().skip(first).step_by(2).copied().collect();
    by_kind
        .iter()
        .map(|(kind, prints)| (*kind, every_second(prints)))
        .collect()
}

/// All trackways, kind by kind.
fn all<'a>(by_kind: &ByKind<'a>) -> Vec<&'a Vec<PrintNo>> {
    by_kind.values().flatten().copied().collect()
}

/// An even choice of at most [`MOST`].
fn some<'a, T>(tracks: &[&'a T]) -> Vec<&'a T> {
    let every = tracks.len().div_ceil(MOST).max(1);
    tracks.iter().step_by(every).copied().collect()
}

impl Shown {
    fn track(&mut self, index: &SurfaceIndex, track: &Track) {
        let count = track.feet.len() as f64;
        let leaning = track.leaning_m().abs() / (count - 2.0).max(1.0) / 2.0;
        // Midline length: the way between feet of one side, so that the gauge does not lengthen it.
        let walked: f64 = (track.feet.windows(3))
            .map(|trio| {
                let paces = f64::from(trio[2].step - trio[0].step);
                length(minus(trio[2].place, trio[0].place)) / paces
            })
            .sum::<f64>()
            / (count - 2.0).max(1.0);
        self.pace.add((walked.max(1e-3) / track.foot_m).ln());
        self.half_gauge.add(leaning / track.foot_m);
        self.size.add(track.foot_m.ln());
        let rotations = rotations_rad(index, track);
        if !rotations.is_empty() {
            self.rotation
                .add(rotations.iter().sum::<f64>() / rotations.len() as f64);
        }
        self.with_manus.add(f64::from(u8::from(track.fore.len() >= 2)));
        let outward = track.even_left;
        for (step, no) in &track.fore {
            let print = index.print(*no);
            let at = minus([print.easting_m, print.northing_m], track.origin);
            if let Some([ahead, out]) = set_offset(track, *step, at, outward) {
                self.manus[0].add(ahead / track.foot_m);
                self.manus[1].add(out / track.foot_m);
                self.manus[2].add((length_m(print) / track.foot_m).ln());
            }
        }
    }
}

/// What was seen, as if `weight` values of the belief had been seen too.
fn drawn(seen: Sample, belief: Normal, weight: f64) -> Normal {
    let (mean, variance) = seen.drawn_to(belief.mean, belief.sd, weight);
    let sd = variance.max(1e-4).sqrt();
    Normal { mean, sd }
}

/// A belief, and what was shown.
fn learnt<'a>(belief: &Habit, weight: f64, shown: impl Iterator<Item = &'a Shown> + Clone) -> Habit {
    let all = |part: fn(&Shown) -> Sample| shown.clone().map(part).fold(Sample::default(), Sample::with);
    let manus = [all(|s| s.manus[0]), all(|s| s.manus[1]), all(|s| s.manus[2])];
    let with = all(|s| s.with_manus);
    let ln_densities: Vec<&Vec<f64>> = shown.clone().flat_map(|shown| &shown.ln_densities).collect();
    Habit {
        pace: drawn(all(|s| s.pace), belief.pace, weight),
        half_gauge: drawn(all(|s| s.half_gauge), belief.half_gauge, weight),
        size: drawn(all(|s| s.size), belief.size, weight),
        rotation_rad: drawn(all(|s| s.rotation), belief.rotation_rad, weight),
        manus: [0, 1, 2].map(|part| drawn(manus[part], belief.manus[part], weight)),
        with_manus: (with.sum + weight * belief.with_manus) / (with.count + weight),
        weights: mixing(&belief.weights, UNSTEADY * weight, &ln_densities),
    }
}

/// How often each kind of unsteadiness is met: the weights under which the trackways shown are most probable, drawn to the
/// belief.
///
/// # References
/// Expectation and maximisation for the weights of a mixture with a Dirichlet belief (textbook).
fn mixing(belief: &[f64], weight: f64, ln_densities: &[&Vec<f64>]) -> Vec<f64> {
    let mut weights = belief.to_vec();
    for _ in 0..12 {
        let mut sums: Vec<f64> = belief.iter().map(|part| part * weight).collect();
        for densities in ln_densities {
            let ln: Vec<f64> = (densities.iter().zip(&weights))
                .map(|(density, weight)| density + weight.max(1e-12).ln())
                .collect();
            for (sum, part) in sums.iter_mut().zip(normalised(&ln)) {
                *sum += part;
            }
        }
        let all = weight + ln_densities.len() as f64;
        weights = sums.into_iter().map(|sum| sum / all).collect();
    }
    weights
}
