//! Surfaces simulated with known truth: to measure how well trackways are found, and to lay out scenes.
//!
//! [`Walker`] makes the prints of one animal from explicit measures. [`Scenario`] lets many walkers of
//! kinds drawn anew cross one surface (alone, in herds, in each other's tracks; straight, turning aside,
//! stopping), loses some of their prints, blurs the rest as a field party would, and gives the surface's
//! contents together with the truth. Everything is drawn from a seed. No two surfaces have the same kinds
//! of animals, so that a method cannot be fitted to them.
//!
//! The animals are invented. Their proportions lie within what is published; no kind here
//! stands for a named ichnotaxon.

mod blur;
mod breed;
mod course;
mod drawing;
mod hidden;
mod kind;
mod passers;
mod scenario;
mod surface;
mod walker;

pub use blur::Blur;
pub use course::Manner;
pub use kind::Kind;
pub use passers::Passers;
pub use scenario::{Amount, Scenario};
pub use surface::{Origin, Simulated};
pub use walker::{Footfall, Manus, Walker};
