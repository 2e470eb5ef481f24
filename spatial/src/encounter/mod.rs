//! Where paths meet, who walked together, who followed whom, and in which order they came.
//!
//! Paths always cross somewhere, so every finding is held against chance: the same paths laid down anew, each
//! in its own shape, over the ground that they share, with the headings that the surface prefers ([`placing`]).
//!
//! | module | what it does |
//! | --- | --- |
//! | `path` | a standing trackway as a line along its middle |
//! | `placing` | the same paths by chance |
//! | `convergence` | where ways meet beyond what is seen of them |
//! | `corridors` | these ways, as the continuation foresees them |
//! | `raster` | evidence of meeting, cell by cell |
//! | `focus` | a meeting in continuous coordinates, with its ellipse |
//! | `sideways` | the same ways by chance |
//! | `hull` | the ground that the paths show |
//! | `timeline` | relative times along paths, and who could have been somewhere together |
//! | `chance` | a statistic among those that chance gives, and false discoveries |

mod chance;
mod convergence;
mod corridors;
mod focus;
mod hull;
mod path;
mod placing;
mod raster;
mod sideways;
mod timeline;

pub use chance::{Chance, Quantiles};
pub use convergence::{Approach, CONVERGENCE_CAUTION, Convergence, ConvergenceOptions, Focus, convergence};
pub use path::Path;
pub use timeline::{Seconds, Speed, TIMELINE_CAUTION, Together, seconds_before, seconds_between, together};

/// How a finding is held against chance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trials {
    /// How many times the paths are laid down by chance.
    pub permutations: u32,
    /// Where random draws start.
    pub seed: u64,
}

impl Default for Trials {
    fn default() -> Self {
        Self {
            permutations: 999,
            seed: 1,
        }
    }
}

#[cfg(test)]
mod convergence_tests;
