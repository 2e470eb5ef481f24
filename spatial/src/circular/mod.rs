//! Statistics of directions: means, spreads, tests against uniformity, tests between groups.
//!
//! One statistic or test a file. A sample is taken once, as [`Directions`]; each test takes it and gives a
//! [`Test`], whose `p_method` says honestly how its p was found, or a [`CircularError`] that says why there
//! is none. [`Report`] puts all one-sample results together under the names of the interface.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `directions` | the sample, checked, folded and sorted; axes by doubling |
//! | `summary` | n, mean, R̄, variance, standard deviation, κ, interval of the mean |
//! | `concentration` | κ by maximum likelihood, and its correction for small samples |
//! | `mean_interval` | the 95 % interval of the mean direction |
//! | `rayleigh`, `v_test`, `rao_spacing`, `kuiper`, `watson_u2` | one sample against uniformity |
//! | `watson_williams`, `equal_concentration` | do groups share one mean; do they share one κ |
//! | `watson_two_sample`, `mardia_watson_wheeler` | do groups share one distribution |
//! | `pairs` | each two of several groups |
//! | `shape`, `mixture` | whether one mean direction makes sense at all |
//! | `outcome`, `report` | results as they are written |
//! | `chance`, `arrangements` | seeded Monte Carlo; permutations of group labels |
//! | `sorting` | azimuths in order, quickly |
//! | `bessel` | the Bessel functions that the rest stands on |
//!
//! Angles are degrees at every interface and radians inside. Random draws come only from the caller's
//! [`Chance`], in blocks that each have a stream of their own, so that the number of cores changes nothing.

mod arrangements;
mod bessel;
mod chance;
mod concentration;
mod directions;
mod equal_concentration;
mod kuiper;
mod mardia_watson_wheeler;
mod mean_interval;
mod mixture;
mod outcome;
mod pairs;
mod rao_spacing;
mod rayleigh;
mod report;
mod shape;
mod sorting;
mod summary;
mod v_test;
mod watson_two_sample;
mod watson_u2;
mod watson_williams;

pub use chance::Chance;
pub use concentration::{kappa, kappa_corrected};
pub use directions::{Directions, Kind};
pub use equal_concentration::equal_concentration;
pub use kuiper::kuiper;
pub use mardia_watson_wheeler::mardia_watson_wheeler;
pub use mean_interval::{MeanInterval, mean_interval};
pub use mixture::{Model, ModelFit, fit};
pub use outcome::{CircularError, Outcome, PMethod, Test};
pub use pairs::{PairTest, pairs};
pub use rao_spacing::rao_spacing;
pub use rayleigh::rayleigh;
pub use report::Report;
pub use shape::{Judgement, Shape, judge};
pub use summary::{Summary, summary};
pub use v_test::v_test;
pub use watson_two_sample::watson_two_sample;
pub use watson_u2::watson_u2;
pub use watson_williams::{WatsonWilliams, watson_williams};

#[cfg(test)]
mod laws_tests;
#[cfg(test)]
mod reference_tests;
