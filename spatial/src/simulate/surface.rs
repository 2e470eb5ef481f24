//! A surface with many walkers, and the truth about each print.

use super::Scenario;
use super::drawing::Drawing;
use crate::index::SurfaceContents;

/// Where a print truly comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Origin {
    /// The trackway, from 0.
    pub trackway: u32,
    /// The step of the walk, from 0; a pes and a manus of one set share it.
    pub step: u32,
    /// Whether it is a manus.
    pub fore: bool,
}

/// A simulated surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// What a field party would hand in. Labels are shuffled: their order says nothing.
    pub contents: SurfaceContents,
    /// For each print, in the order of labels (which is that of [`crate::index::PrintNo`]): its origin, or `None` for a print of no trackway.
    pub truth: Vec<Option<Origin>>,
}

impl Scenario {
    /// Draws a surface. The same scenario and seed give the same surface.
    #[must_use]
    pub fn simulate(&self, seed: u64) -> Simulated {
        Drawing::new(self, seed).draw()
    }
}

#[cfg(test)]
#[path = "surface_tests.rs"]
mod tests;
