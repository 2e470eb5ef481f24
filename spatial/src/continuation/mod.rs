//! Where a trackway goes on, and which trackways are one across a gap.
//!
//! [`continue_trackway`] follows a trackway to its last print and predicts the next ones, and does the same from its first
//! print backward. It says what lies there that could continue it, how probable that is against "none of these", and in which
//! squares of ground hidden prints are worth looking for. [`link_ends`] weighs all ends of a surface together and proposes which
//! of them belong to one trackway. Both use [`Surroundings`], which are read of a surface once.
//!
//! | file | what it holds | source |
//! | --- | --- | --- |
//! | `options` | how far to look, what is seen on which ground, faults | common practice for what is seen |
//! | `limbs` | pes or manus, by name, length and order | hidden Markov chain |
//! | `reading` | how many paces lie between prints, and which foot is which: a beam search with the motion below | this program's own |
//! | `track` | a trackway laid out in either direction | |
//! | `motion` | midline, heading, pace, half gauge and steady turn, from print to print | correlated random walk, extended Kalman filter |
//! | `following` | the same under 96 kinds of unsteadiness at once, weighed by how well they foretell the prints | mixture (textbook) |
//! | `habits`, `learning` | gaits and unsteadiness of each morphotype; how they are learnt from the standing trackways | empirical Bayes |
//! | `ahead` | the next steps, of animals that go on as before and of those that turn aside: mixture, ellipse, radii of the 50 % and 95 % regions | |
//! | `calibrating` | whether these hold what they should on the surface's own trackways, each half foretold by what the other one taught | split conformal prediction |
//! | `steps` | one way on, with all that is known of it | |
//! | `corridor` | one polygon around the 95 % regions | |
//! | `foreseen` | the middle of the way far ahead, without regions or candidates | |
//! | `ground` | extents, and the probability that a print there is seen | common practice |
//! | `candidates`, `ends`, `likeness`, `fore`, `terminal` | what lies in the way, weighed by Bayes' rule | |
//! | `targets` | squares of ground | |
//! | `links`, `assignment` | all ends of a surface solved together | shortest augmenting paths; belief propagation |
//! | `surroundings`, `sizes` | what is read of a surface once | |
//! | `plane` | vectors and spreads | |
//!
//! # How
//! A foot stands at m ± w across the heading θ; at each pace θ takes a steady turn ω and a random one, the pace v drifts, and the
//! midline m goes on by v and a random part. How large these are is not known of a trackway of some ten prints, so many
//! values are followed at once; each is weighed by the density of the prints under it and by how common it is among the
//! surface's trackways. The next print's law is the mixture of their predictions, each a Student's t, since paces have heavy
//! tails. Its covariance grows with each pace; the ellipses' radii are those that hold 50 and 95 % of the mixture.
//!
//! A candidate's weight is P(its step is the first that is seen) · the density of its place / the density of such prints there ·
//! the likelihood ratios of its looks, and of what lies beyond it. "None of these" weighs P(no step is seen): the trackway ends
//! (as often as trackways of the surface do), or goes on unseen. On open ground a step without a print is rarely one that was
//! made, so absence speaks; under cover it says nothing.
//!
//! A surface that has no exposed extent is held open wherever no other extent lies, as far as prints lie.
mod ahead;
mod answer;
mod assignment;
mod calibrating;
mod candidates;
mod corridor;
mod ends;
mod following;
mod fore;
mod foreseen;
mod ground;
mod habits;
mod learning;
mod likeness;
mod limbs;
mod links;
mod motion;
mod options;
pub(crate) mod plane;
mod reading;
mod sizes;
mod steps;
mod surroundings;
mod targets;
mod terminal;
mod track;

pub use answer::{
    Candidate, CandidateKind, Continuation, Direction, Link, Onward, PredictedStep, Target, Term,
};
pub use foreseen::{Foreseen, foreseen};
pub use ground::InExtent;
pub use links::link_ends;
pub use options::{ContinuationFault, ContinuationOptions, Seen};
pub use surroundings::Surroundings;

use crate::index::{PrintNo, SurfaceIndex};
use steps::onward;

/// Said wherever a continuation is given.
pub const CONTINUATION_CAUTION: &str = "The prediction holds if the animal went on as it had come. It does not know of water, \
    slopes or other animals that turned it aside, and its regions are those of trackways that stand on this surface.";

/// Predicts where a trackway goes on after its last print and before its first, and weighs what lies there.
///
/// `trackway` holds its prints in walking order, manus prints included; it need not be one that stands. Only the surface around the
/// predicted steps is read.
///
/// # Units
/// Metres on the grid, degrees from grid north.
///
/// # Errors
/// Fewer than three prints of one limb kind at different places, prints that lead nowhere, prints that are not there or twice
/// there, options that make no sense.
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

#[cfg(test)]
mod laws_tests;
#[cfg(test)]
#[path = "continuation_tests.rs"]
mod tests;
