//! The run: surfaces of a class, each given to every method.

use super::calibration::{directions, links, wholes};
use super::{Agreement, Calibration, Class, assignment_chains, nearest_chains};
use serde::Serialize;
use spatial::frame::LonLat;
use spatial::grouping::{GroupingOptions, group};
use spatial::index::{SurfaceContents, SurfaceIndex};
use std::convert::Infallible;
use std::time::Instant;

/// A mean over surfaces with its standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Mean {
    /// The mean.
    pub mean: f64,
    /// The standard deviation of single surfaces.
    pub sd: f64,
}

/// One method on the surfaces of one class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MethodReport {
    /// The method's name.
    pub method: &'static str,
    /// See [`Agreement`].
    pub precision: Mean,
    /// See [`Agreement`].
    pub recall: Mean,
    /// See [`Agreement`].
    pub f1: Mean,
    /// See [`Agreement`].
    pub order: Mean,
    /// See [`Agreement`].
    pub direction: Mean,
    /// Seconds for one surface.
    pub seconds: Mean,
}

/// All methods on one class, and the calibration of the grouping's probabilities there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassReport {
    /// The class.
    pub class: Class,
    /// How many surfaces, and prints on each.
    pub surfaces: usize,
    /// Prints on each, on average.
    pub prints: f64,
    /// The grouping first, then the baselines.
    pub methods: Vec<MethodReport>,
    /// Links.
    pub links: Calibration,
    /// Directions of trackways.
    pub directions: Calibration,
    /// Whole trackways.
    pub wholes: Calibration,
}

/// Simulates the surfaces of a class from successive seeds and gives each to the grouping and the baselines.
#[must_use]
pub fn evaluate(class: Class, prints: usize, surfaces: usize, first_seed: u64) -> ClassReport {
    let mut agreements: [Vec<(Agreement, f64)>; 3] = Default::default();
    let (mut link_cases, mut direction_cases, mut whole_cases) = (Vec::new(), Vec::new(), Vec::new());
    let mut all_prints = 0;
    for seed in (first_seed..).take(surfaces) {
        let simulated = class.scenario(prints).simulate(seed);
        let index = index_of(simulated.contents);
        let truth = simulated.truth;
        all_prints += truth.len();
        let (grouping, seconds) =
            timed(|| group(&index, &GroupingOptions::default()).expect("nothing is told"));
        let groups: Vec<_> = grouping
            .trackways
            .iter()
            .map(|trackway| trackway.prints.clone())
            .collect();
        agreements[0].push((Agreement::of(&groups, &truth), seconds));
        link_cases.extend(links(&grouping, &truth));
        direction_cases.extend(directions(&grouping, &truth));
        whole_cases.extend(wholes(&grouping, &truth));
        let (chains, seconds) = timed(|| nearest_chains(&index));
        agreements[1].push((Agreement::of(&chains, &truth), seconds));
        let (chains, seconds) = timed(|| assignment_chains(&index));
        agreements[2].push((Agreement::of(&chains, &truth), seconds));
    }
    let names = ["grouping", "nearest neighbours", "linear assignment"];
    ClassReport {
        class,
        surfaces,
        prints: all_prints as f64 / surfaces.max(1) as f64,
        methods: names
            .into_iter()
            .zip(&agreements)
            .map(|(name, all)| method(name, all))
            .collect(),
        links: Calibration::of(&link_cases),
        directions: Calibration::of(&direction_cases),
        wholes: Calibration::of(&whole_cases),
    }
}

/// The index of a simulated surface, all at one place of the globe: grouping reads no longitudes.
#[must_use]
pub fn index_of(contents: SurfaceContents) -> SurfaceIndex {
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    let index = SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()]));
    index.expect("simulated labels and positions are sound")
}

fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let start = Instant::now();
    let result = work();
    (result, start.elapsed().as_secs_f64())
}

fn method(name: &'static str, all: &[(Agreement, f64)]) -> MethodReport {
    let mean = |value: fn(&(Agreement, f64)) -> f64| {
        let count = all.len().max(1) as f64;
        let mean = all.iter().map(value).sum::<f64>() / count;
        let variance =
            all.iter().map(|one| (value(one) - mean).powi(2)).sum::<f64>() / (count - 1.0).max(1.0);
        Mean {
            mean,
            sd: variance.sqrt(),
        }
    };
    MethodReport {
        method: name,
        precision: mean(|one| one.0.precision),
        recall: mean(|one| one.0.recall),
        f1: mean(|one| one.0.f1),
        order: mean(|one| one.0.order),
        direction: mean(|one| one.0.direction),
        seconds: mean(|one| one.1),
    }
}
