//! How well encounters are told from chance, measured on simulated surfaces.
//!
//! Two questions are asked: are the p spread evenly where animals do not heed each other ([`pairs_by_chance`] on all
//! [`grounds`]), and how often are animals found that walk together or follow ([`power`])? Both are asked of places where
//! ways meet, too ([`convergence`]).

pub mod convergence;
pub mod grounds;
mod pairs;
mod power;
mod uniform;

pub use pairs::{PairsByChance, pairs_by_chance};
pub use power::{PLANTS, Plant, Power, power};
pub use uniform::{Family, Uniform};
