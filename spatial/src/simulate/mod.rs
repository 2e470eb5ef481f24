//! Surfaces simulated with known truth: to measure how well trackways are found, and to lay out scenes.
//!
//! [`Walker`] makes the prints of one animal from explicit measures. [`Scenario`] lets many walkers of
//! several kinds cross one surface, loses some of their prints, blurs the rest as a field party would,
//! and gives the surface's contents together with the truth. Everything is drawn from a seed.
//!
//! The animals are invented. Their proportions lie within what is common in the trade; no kind here
//! stands for a named ichnotaxon.

mod blur;
mod kind;
mod scenario;
mod surface;
mod walker;

pub use blur::Blur;
pub use kind::Kind;
pub use scenario::Scenario;
pub use surface::{Origin, Simulated};
pub use walker::{Footfall, Manus, Walker};
