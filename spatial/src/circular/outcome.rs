//! The result of a test, how its p was found, and why there may be none.

use std::fmt;

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};
use thiserror::Error;

/// A test's statistic and its p-value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Test {
    /// The statistic, as the test's own page defines it.
    pub statistic: f64,
    /// The probability, under the null hypothesis, of a statistic at least as extreme.
    pub p: Option<f64>,
    /// How `p` was found.
    pub p_method: PMethod,
}

/// How a p-value was found. Written as a phrase.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PMethod {
    /// From the exact null distribution, summed to six decimals for n = 3 and 4 and to nine or more above.
    Exact,
    /// By a saddlepoint approximation, where the exact value is too small to be summed.
    Saddlepoint,
    /// By a large-sample formula, with its small-sample correction where one is published.
    LargeSample,
    /// By the F distribution, an approximation that asks for concentrated groups of equal κ.
    FDistribution,
    /// By the χ² distribution, a large-sample approximation.
    ChiSquared,
    /// By simulated samples under the null hypothesis.
    MonteCarlo {
        /// How many samples.
        draws: u32,
        /// The seed they were drawn from.
        seed: u64,
    },
    /// By random arrangements of the group labels.
    Permutation {
        /// How many arrangements.
        draws: u32,
        /// The seed they were drawn from.
        seed: u64,
    },
    /// By all arrangements of the group labels.
    AllArrangements {
        /// How many there are.
        arrangements: u64,
    },
}

impl fmt::Display for PMethod {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Exact => f.write_str("exact distribution"),
            Self::Saddlepoint => f.write_str("saddlepoint approximation"),
            Self::LargeSample => f.write_str("large-sample approximation"),
            Self::FDistribution => f.write_str("F distribution"),
            Self::ChiSquared => f.write_str("chi-squared distribution"),
            Self::MonteCarlo { draws, seed } => write!(f, "Monte Carlo, {draws} draws, seed {seed}"),
            Self::Permutation { draws, seed } => {
                write!(f, "random permutations, {draws} draws, seed {seed}")
            }
            Self::AllArrangements { arrangements } => write!(f, "all {arrangements} permutations"),
        }
    }
}

impl Serialize for PMethod {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// Why a statistic of directions cannot be given.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum CircularError {
    /// A direction is not a finite number.
    #[error("direction {} is {value}: a finite number of degrees is needed", .position + 1)]
    NotFinite {
        /// Its place in the list, from 0.
        position: usize,
        /// What was given.
        value: f64,
    },
    /// The sample, or one of the groups, is too small.
    #[error("not enough data: n = {n}, at least {least} needed")]
    TooFew {
        /// How many there are.
        n: usize,
        /// How many there must be.
        least: usize,
    },
    /// A comparison of groups has fewer than two of them.
    #[error("not enough data: {groups} group(s), at least 2 needed")]
    TooFewGroups {
        /// How many there are.
        groups: usize,
    },
    /// All directions of each group are equal, so nothing can be measured against their spread.
    #[error("not enough data: no spread, all directions of each group are equal")]
    NoSpread,
    /// The directions cancel, so that they have no mean.
    #[error("no mean direction: the directions cancel")]
    NoMean,
    /// The sample is too spread, or too small, for an interval that is not the full circle.
    #[error("the mean direction is not determined: no 95 % interval short of the full circle")]
    MeanNotDetermined,
    /// Directions and axes cannot be compared.
    #[error("directions and axes cannot be compared with each other")]
    MixedKinds,
}

impl CircularError {
    /// Refuses a sample below the least size.
    pub(super) fn unless_at_least(n: usize, least: usize) -> Result<(), Self> {
        if n < least {
            return Err(Self::TooFew { n, least });
        }
        Ok(())
    }
}

/// A test as it is written: always `statistic`, `p` and `p_method`, the first two null where there is no
/// answer and the last then saying why.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// The test was made.
    Made(Test),
    /// It could not be made.
    NotMade(CircularError),
}

impl Outcome {
    /// The test, if it was made.
    #[must_use]
    pub fn test(&self) -> Option<&Test> {
        match self {
            Self::Made(test) => Some(test),
            Self::NotMade(_) => None,
        }
    }

    /// The p-value, if there is one.
    #[must_use]
    pub fn p(&self) -> Option<f64> {
        self.test().and_then(|test| test.p)
    }
}

impl From<Result<Test, CircularError>> for Outcome {
    fn from(result: Result<Test, CircularError>) -> Self {
        result.map_or_else(Self::NotMade, Self::Made)
    }
}

impl Serialize for Outcome {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Made(test) => test.serialize(serializer),
            Self::NotMade(why) => {
                let mut fields = serializer.serialize_struct("Test", 3)?;
                fields.serialize_field("statistic", &None::<f64>)?;
                fields.serialize_field("p", &None::<f64>)?;
                fields.serialize_field("p_method", &why.to_string())?;
                fields.end()
            }
        }
    }
}
