//! Do the 50 % and 95 % regions hold what they should?

use super::cut::{CutSurface, Cutting, cut_surface};
use crate::eval::Class;
use geo::{Contains, Point};
use serde::Serialize;
use spatial::continuation::{ContinuationOptions, Direction, Surroundings, continue_trackway};

/// The steps that are looked at.
pub const STEPS: usize = 10;

/// How often the hidden prints of one step lay in their regions.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Coverage {
    /// The step; 0 is all together.
    pub step: usize,
    /// How many prints.
    pub prints: usize,
    /// How many in the 50 % region.
    pub in_50: usize,
    /// How many in the 95 % region.
    pub in_95: usize,
}

impl Coverage {
    /// The parts in the two regions.
    #[must_use]
    pub fn parts(&self) -> [f64; 2] {
        [self.in_50, self.in_95].map(|count| count as f64 / self.prints.max(1) as f64)
    }
}

/// Every trackway of so many surfaces is cut at one end; the hidden prints are taken out.
#[must_use]
pub fn coverage(class: Class, prints: usize, surfaces: usize, first_seed: u64) -> Vec<Coverage> {
    let cutting = Cutting {
        part: 1.0,
        present: 0.0,
    };
    let mut steps = none();
    for seed in (first_seed..).take(surfaces) {
        add(&mut steps, &cut_surface(class, prints, seed, cutting));
    }
    steps
}

pub(super) fn none() -> Vec<Coverage> {
    (0..=STEPS)
        .map(|step| Coverage {
            step,
            ..Coverage::default()
        })
        .collect()
}

pub(super) fn add(steps: &mut [Coverage], surface: &CutSurface) {
    let surroundings = Surroundings::of(&surface.index);
    let options = ContinuationOptions {
        steps: Some(STEPS),
        ..ContinuationOptions::default()
    };
    for cut in &surface.cuts {
        let Ok(found) = continue_trackway(&surface.index, &surroundings, &cut.kept, &options) else {
            continue;
        };
        let onward = if cut.direction == Direction::After {
            found.after
        } else {
            found.before
        };
        for (paces, place, _) in &cut.hidden {
            let Some(step) = onward.steps.get(paces - 1) else {
                continue;
            };
            let at = Point::from(*place);
            for of in [0, *paces] {
                steps[of].prints += 1;
                steps[of].in_50 += usize::from(step.region_50.contains(&at));
                steps[of].in_95 += usize::from(step.region_95.contains(&at));
            }
        }
    }
}
