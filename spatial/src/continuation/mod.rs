//! Where a trackway goes on.
mod ahead;
mod answer;
mod assignment;
mod calibrating;
mod candidates;
mod corridor;
mod following;
mod fore;
mod ground;
mod habits;
mod likeness;
mod links;
mod limbs;
mod motion;
mod options;
mod plane;
mod reading;
mod sizes;
mod steps;
mod surroundings;
mod targets;
mod terminal;
mod track;

pub use answer::{Candidate, CandidateKind, Continuation, Direction, Link, Onward, PredictedStep, Target, Term};
pub use ground::InExtent;
pub use links::link_ends;
pub use options::{ContinuationFault, ContinuationOptions, Seen};
pub use surroundings::Surroundings;

use crate::index::{PrintNo, SurfaceIndex};
use steps::onward;

/// Predicts.
pub fn continue_trackway(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    trackway: &[PrintNo],
    options: &ContinuationOptions,
) -> Result<Continuation, ContinuationFault> {
    options.check()?;
    check(index, trackway)?;
    let way = |direction| onward(index, surroundings, trackway, direction, options);
    Ok(Continuation {
        after: way(Direction::After)?,
        before: way(Direction::Before)?,
    })
}

fn check(index: &SurfaceIndex, trackway: &[PrintNo]) -> Result<(), ContinuationFault> {
    if let Some(no) = trackway.iter().find(|no| **no as usize >= index.prints().len()) {
        return Err(ContinuationFault::NoPrint(*no));
    }
    let mut sorted = trackway.to_vec();
    sorted.sort_unstable();
    match sorted.windows(2).find(|pair| pair[0] == pair[1]) {
        Some(pair) => Err(ContinuationFault::Twice(index.print(pair[0]).label.clone())),
        None => Ok(()),
    }
}
