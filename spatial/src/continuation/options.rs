//! What the caller may choose, and what cannot be continued.

use crate::model::Label;

/// How far to look, and what to hold of the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContinuationOptions {
    /// How many steps are predicted each way, 1 to 100; `None` goes on until the 95 % region is wider than `widest_m`.
    pub steps: Option<usize>,
    /// The length of the 95 % region beyond which no further step is predicted, metres.
    pub widest_m: f64,
    /// Side of the squares of ground, metres.
    pub square_m: f64,
    /// The most candidates and the most squares that are given each way.
    pub most: usize,
    /// The widest gap across which ends are linked, metres.
    pub widest_gap_m: f64,
    /// Links less probable than this are not given.
    pub least_probability: f64,
    /// The probability that a print which was made is seen, by kind of ground.
    pub seen: Seen,
}

/// The probability that a print which was made is seen, by kind of ground.
///
/// Common practice: on open ground most are, less so the poorer the ground; under cover, where the surface is gone and where
/// nobody looked next to none, but for those that cuts and cores, radar and chance show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// On exposed ground; `None` takes the surface's own trackways for it.
    pub exposed: Option<f64>,
    /// Under cover.
    pub covered: f64,
    /// Where the surface is gone.
    pub eroded: f64,
    /// Where nobody has looked: an extent of that kind, ground outside all extents of a surface that has exposed ones, and
    /// ground beyond the outermost prints.
    pub unmapped: f64,
}

impl Default for ContinuationOptions {
    fn default() -> Self {
        Self {
            steps: None,
            widest_m: 3.0,
            square_m: 1.0,
            most: 50,
            widest_gap_m: 12.0,
            least_probability: 0.05,
            seen: Seen {
                exposed: None,
                covered: 0.03,
                eroded: 0.02,
                unmapped: 0.1,
            },
        }
    }
}

/// The most steps that are predicted.
pub(super) const MOST_STEPS: usize = 100;

/// Why a trackway cannot be continued.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ContinuationFault {
    /// Too few prints of one limb kind at different places.
    #[error(
        "only {0} prints of one limb kind lie at different places: three at least are needed to see how an animal goes on"
    )]
    TooFew(usize),
    /// The prints lead nowhere.
    #[error("the prints lead nowhere: the last lie where the first lie")]
    NoWay,
    /// A print has no place.
    #[error("print {0} has no position that could be one: expected finite eastings and northings")]
    Position(Label),
    /// A number of a print that the surface does not have.
    #[error("the surface has no print number {0}")]
    NoPrint(u32),
    /// A print that is given twice.
    #[error("print {0} is given twice")]
    Twice(Label),
    /// An option makes no sense.
    #[error("{name} is {value}: expected {expected}")]
    Option {
        /// The option.
        name: &'static str,
        /// What was given.
        value: f64,
        /// What it can be.
        expected: &'static str,
    },
}

impl ContinuationOptions {
    /// Refuses what makes no sense.
    pub(super) fn check(&self) -> Result<(), ContinuationFault> {
        let metres = |value: f64| (0.001..=1e4).contains(&value);
        let part = |value: f64| (0.0..1.0).contains(&value);
        let steps = self.steps.unwrap_or(1);
        let parts = "0 to 1, 1 itself excluded";
        let checks = [
            (
                "steps",
                steps as f64,
                (1..=MOST_STEPS).contains(&steps),
                "1 to 100",
            ),
            (
                "widest_m",
                self.widest_m,
                metres(self.widest_m),
                "0.001 to 10000 metres",
            ),
            (
                "square_m",
                self.square_m,
                (0.05..=1e4).contains(&self.square_m),
                "0.05 to 10000 metres",
            ),
            (
                "widest_gap_m",
                self.widest_gap_m,
                metres(self.widest_gap_m),
                "0.001 to 10000 metres",
            ),
            (
                "least_probability",
                self.least_probability,
                part(self.least_probability),
                parts,
            ),
            (
                "exposed",
                self.seen.exposed.unwrap_or(0.5),
                part(self.seen.exposed.unwrap_or(0.5)),
                parts,
            ),
            ("covered", self.seen.covered, part(self.seen.covered), parts),
            ("eroded", self.seen.eroded, part(self.seen.eroded), parts),
            ("unmapped", self.seen.unmapped, part(self.seen.unmapped), parts),
        ];
        match checks.into_iter().find(|(_, _, sound, _)| !sound) {
            Some((name, value, _, expected)) => Err(ContinuationFault::Option {
                name,
                value,
                expected,
            }),
            None => Ok(()),
        }
    }
}
