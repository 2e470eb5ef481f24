//! Simulated surfaces whose true trackways stand, some of them with an end cut off.

use crate::eval::{Class, index_of};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use spatial::continuation::Direction;
use spatial::index::{PrintNo, SurfaceContents, SurfaceIndex};
use spatial::model::{Basis, Label, Status, Trackway};
use spatial::simulate::Simulated;
use std::collections::{BTreeMap, BTreeSet};

/// The fewest main prints that a cut trackway keeps.
const KEPT: usize = 4;
/// The most main prints that are cut off.
const CUT: usize = 10;

/// The prints of one true trackway in walking order.
#[derive(Debug, Clone, Default)]
pub(super) struct Walked {
    /// Pes prints, or the only ones: step and place among the surface's prints.
    pub main: Vec<(u32, usize)>,
    /// Manus prints.
    pub fore: Vec<(u32, usize)>,
}

impl Walked {
    /// All prints in walking order, those of a set together.
    pub fn all(&self) -> Vec<(u32, usize)> {
        let tagged = |fore: bool| move |(step, print): &(u32, usize)| (*step, fore, *print);
        let mut all: Vec<_> = (self.main.iter().map(tagged(false)))
            .chain(self.fore.iter().map(tagged(true)))
            .collect();
        all.sort_unstable();
        all.into_iter().map(|(step, _, print)| (step, print)).collect()
    }
}

/// The true trackways of a surface.
pub(super) fn walked(simulated: &Simulated) -> BTreeMap<u32, Walked> {
    let mut all: BTreeMap<u32, Walked> = BTreeMap::new();
    for (print, origin) in simulated.truth.iter().enumerate() {
        if let Some(origin) = origin {
            let walked = all.entry(origin.trackway).or_default();
            let row = if origin.fore {
                &mut walked.fore
            } else {
                &mut walked.main
            };
            row.push((origin.step, print));
        }
    }
    for walked in all.values_mut() {
        // Where there are only manus prints, they are the row.
        if walked.main.is_empty() {
            std::mem::swap(&mut walked.main, &mut walked.fore);
        }
        walked.main.sort_unstable();
        walked.fore.sort_unstable();
    }
    all
}

/// What was cut off a trackway.
#[derive(Debug, Clone)]
pub(super) struct Cut {
    /// Which end.
    pub direction: Direction,
    /// The prints that it keeps, in walking order.
    pub kept: Vec<PrintNo>,
    /// Main prints cut off: how many paces beyond the last one kept, where they lie, and their number if they are in the index.
    pub hidden: Vec<(usize, [f64; 2], Option<PrintNo>)>,
    /// All prints cut off that are in the index, each with its paces beyond the last one kept.
    pub present: Vec<(usize, PrintNo)>,
}

/// A surface with cut trackways.
pub(super) struct CutSurface {
    pub index: SurfaceIndex,
    pub cuts: Vec<Cut>,
}

/// How a surface is cut.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cutting {
    /// The part of trackways that are cut, at one end each.
    pub part: f64,
    /// The part of cuts whose prints stay in the index, in no trackway.
    pub present: f64,
}

struct Plan {
    direction: Direction,
    kept: Vec<usize>,
    hidden: Vec<(usize, usize)>,
    all_hidden: Vec<(usize, usize)>,
    present: bool,
}

/// Draws a surface of a class and cuts its trackways.
pub(super) fn cut_surface(class: Class, prints: usize, seed: u64, cutting: Cutting) -> CutSurface {
    cut_simulated(class.scenario(prints).simulate(seed), seed, cutting)
}

/// Cuts the trackways of a surface.
pub(super) fn cut_simulated(simulated: Simulated, seed: u64, cutting: Cutting) -> CutSurface {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x5eed);
    let mut contents = simulated.contents.clone();
    let (mut plans, mut gone) = (Vec::new(), BTreeSet::new());
    let labels: Vec<Label> = contents.prints.iter().map(|print| print.label.clone()).collect();
    for (trackway, walked) in &walked(&simulated) {
        let mut kept: Vec<usize> = walked.all().into_iter().map(|(_, print)| print).collect();
        if let Some(plan) = plan(&mut rng, walked, cutting) {
            kept = plan.kept.clone();
            if !plan.present {
                gone.extend(plan.all_hidden.iter().map(|(_, print)| *print));
            }
            plans.push(plan);
        }
        let prints: Vec<Label> = kept.iter().map(|print| labels[*print].clone()).collect();
        contents.trackways.push(standing(&format!("T{trackway}"), prints));
    }
    let places: Vec<[f64; 2]> = (contents.prints.iter())
        .map(|print| [print.easting_m, print.northing_m])
        .collect();
    let contents = without(contents, &gone);
    let index = index_of(contents);
    let no = |print: usize| index.find(&labels[print]);
    let cuts = (plans.iter())
        .map(|plan| Cut {
            direction: plan.direction,
            kept: plan.kept.iter().filter_map(|print| no(*print)).collect(),
            hidden: (plan.hidden.iter())
                .map(|(paces, print)| (*paces, places[*print], no(*print)))
                .collect(),
            present: (plan.all_hidden.iter())
                .filter_map(|(paces, print)| Some((*paces, no(*print)?)))
                .collect(),
        })
        .collect();
    CutSurface { index, cuts }
}

/// An accepted trackway.
pub(super) fn standing(label: &str, prints: Vec<Label>) -> Trackway {
    Trackway {
        label: label.parse().expect("letters and digits are a label"),
        prints,
        basis: Basis::Field,
        status: Status::Accepted,
        probability: None,
        morphotype: None,
        note: None,
        judged_by: None,
        revision: 0,
    }
}

pub(super) fn without(mut contents: SurfaceContents, gone: &BTreeSet<usize>) -> SurfaceContents {
    let mut place = 0;
    contents.prints.retain(|_| {
        place += 1;
        !gone.contains(&(place - 1))
    });
    contents
}

fn plan(rng: &mut ChaCha8Rng, walked: &Walked, cutting: Cutting) -> Option<Plan> {
    let (chosen, present) = (rng.random_bool(cutting.part), rng.random_bool(cutting.present));
    let (after, wanted) = (rng.random_bool(0.5), rng.random_range(1..=CUT));
    let count = walked.main.len();
    if !chosen || count < KEPT + wanted {
        return None;
    }
    let mut main = walked.main.clone();
    if !after {
        main.reverse();
    }
    let last = main[count - 1 - wanted].0;
    let beyond = |step: u32| {
        let paces = if after {
            i64::from(step) - i64::from(last)
        } else {
            i64::from(last) - i64::from(step)
        };
        usize::try_from(paces).ok().filter(|paces| *paces > 0)
    };
    let all = walked.all();
    Some(Plan {
        direction: if after {
            Direction::After
        } else {
            Direction::Before
        },
        kept: all
            .iter()
            .filter(|(step, _)| beyond(*step).is_none())
            .map(|(_, print)| *print)
            .collect(),
        hidden: (main.iter())
            .filter_map(|(step, print)| Some((beyond(*step)?, *print)))
            .collect(),
        all_hidden: (all.iter())
            .filter_map(|(step, print)| Some((beyond(*step)?, *print)))
            .collect(),
        present,
    })
}
