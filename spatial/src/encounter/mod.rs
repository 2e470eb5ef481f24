//! Where paths meet, who walked together, who followed whom, and in which order they came.
//!
//! Paths always cross somewhere, so every finding is held against chance: the same paths laid down anew, each
//! in its own shape, over the ground that they share, with the headings that the surface prefers ([`placing`]).
//!
//! | module | what it does |
//! | --- | --- |
//! | `companions`, `groups` | who walked side by side |
//! | `followers` | who went along another's line |
//! | `evidence`, `slides` | what speaks for one time |
//! | `pairs`, `beads` | all pairs beside the same paths by chance |
//! | `stretch` | where two paths run side by side, measured |
//! | `path` | a standing trackway as a line along its middle |
//! | `lanes` | the same paths by chance, each along another's line |
//! | `placing` | the same paths by chance |
//! | `chance` | a statistic among those that chance gives, and false discoveries |
//! | `crossings` | where two paths cross |
//! | `order` | which came first, by overprints |

mod beads;
mod chance;
mod companions;
mod crossings;
mod evidence;
mod followers;
mod groups;
mod lanes;
mod order;
mod pairs;
mod path;
mod placing;
mod slides;
mod stretch;

pub use chance::{Chance, Quantiles};
pub use companions::{COMPANIONS_CAUTION, Companion, CompanionOptions, Companions, companions};
pub use crossings::{CROSSINGS_CAUTION, Contact, Crossing, crossings};
pub use evidence::{Bearing, Evidence, EvidenceKind, Overlying};
pub use followers::{FOLLOWERS_CAUTION, FollowOrder, Follower, FollowerOptions, Followers, followers};
pub use groups::CompanionGroup;
pub use order::{First, ORDER_CAUTION, Order, Overprints, Relation};
pub use pairs::{PairChance, PairTrials, SurfaceChance, Tried};
pub use path::{Path, SpeedRange};

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
mod pairs_tests;
