//! Where paths meet, who walked together, who followed whom, and in which order they came.
//!
//! Paths always cross somewhere, so every finding is held against chance: the same paths laid down anew, each
//! in its own shape, over the ground that they share, with the headings that the surface prefers.
//!
//! | module | what it does |
//! | --- | --- |
//! | `path` | a standing trackway as a line along its middle |
//! | `crossings` | where two paths cross |
//! | `order` | which came first, by overprints |
//! | `companions`, `groups` | who walked side by side |
//! | `followers` | who went along another's line |
//! | `evidence`, `slides` | what speaks for one time |
//! | `stretch` | where two paths run side by side, measured |
//! | `pairs`, `beads` | all pairs beside the same paths by chance |
//! | `exposed`, `edge` | the rock as extents draw it, and where its edge cuts trackways off |
//! | `placing`, `preferred` | the same paths by chance, in headings that are preferred, cut off where the rock's edge cuts |
//! | `convergence` | where ways meet beyond what is seen of them |
//! | `corridors` | these ways, as the continuation foresees them |
//! | `raster`, `focus` | evidence of meeting, cell by cell; a meeting in continuous coordinates, with its ellipse |
//! | `dealing`, `anchors`, `settling`, `room`, `cut` | the same ways by chance, each in the place of another |
//! | `hull` | the ground that the paths show |
//! | `timeline` | relative times along paths, and who could have been somewhere together |
//! | `chance` | a statistic among those that chance gives, and false discoveries |

mod anchors;
mod beads;
mod chance;
mod companions;
mod convergence;
mod corridors;
mod crossings;
mod cut;
mod dealing;
mod edge;
mod evidence;
mod exposed;
mod focus;
mod followers;
mod groups;
mod hull;
mod order;
mod pairs;
mod path;
mod placing;
mod preferred;
mod raster;
mod room;
mod settling;
mod slides;
mod stretch;
mod supposed;
mod timeline;

pub use chance::{Chance, Quantiles};
pub use companions::{COMPANIONS_CAUTION, Companion, CompanionOptions, Companions, companions};
pub use convergence::{Approach, CONVERGENCE_CAUTION, Convergence, ConvergenceOptions, Focus, convergence};
pub use crossings::{CROSSINGS_CAUTION, Contact, Crossing, crossings};
pub use evidence::{Bearing, Evidence, EvidenceKind, Overlying};
pub use exposed::Exposed;
pub use followers::{FOLLOWERS_CAUTION, FollowOrder, Follower, FollowerOptions, Followers, followers};
pub use groups::CompanionGroup;
pub use order::{First, ORDER_CAUTION, Order, Overprints, Relation};
pub use pairs::{PairChance, PairTrials, SurfaceChance, Tried};
pub use path::{Path, SpeedRange};
pub use timeline::{Seconds, TIMELINE_CAUTION, Together, seconds_before, seconds_between, together};

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
#[cfg(test)]
mod pairs_tests;
