//! A plan to take into the field: where trackways should go on, and where to dig or to look with radar.
//!
//! The page is 1000 wide where a whole plan is 1600, and stands at the same size: so the letters of a plan come out
//! large enough to be read outdoors. Set to 190 mm, the width of an A4 page within margins, the smallest
//! letters that a field party must read, 13, are 7 pt.

mod head;
mod key;
mod numbers;
mod page;
mod scene;
mod squares;
mod steps;
mod table;
#[cfg(test)]
mod tests;
mod words;

use super::PlanInput;
use geo::Polygon;
use spatial::model::Label;

/// What is laid over a plan: where one or more trackways should go on. Coordinates are eastings and
/// northings in the surface's own grid, metres.
#[derive(Debug, Clone)]
pub struct Onward<'a> {
    /// The heading of the page, such as `Where gannet-ledge:S2:T4 should go on`.
    pub heading: String,
    /// What whoever digs must know first; set whole, at the foot of the page.
    pub caution: &'a str,
    /// The trackways that should go on, drawn stronger than the others. A label that the surface does
    /// not have is passed over.
    pub trackways: Vec<Label>,
    /// Where the way on should lie.
    pub corridors: Vec<Polygon<f64>>,
    /// The predicted prints, from the nearest on. Where a number is not above the one before, the
    /// steps of another way on begin.
    pub steps: Vec<Step>,
    /// What to dig or to survey with radar, the most probable first; the places in this order are the ranks.
    pub squares: Vec<Square>,
    /// Recorded prints that could be the next.
    pub candidates: Vec<[f64; 2]>,
}

/// A predicted print.
#[derive(Debug, Clone)]
pub struct Step {
    /// How many prints on it is, 1 for the next one.
    pub number: usize,
    /// Where it should be.
    pub at: [f64; 2],
    /// Where it lies with a probability of 50 %.
    pub region_50: Polygon<f64>,
    /// Where it lies with a probability of 95 %.
    pub region_95: Polygon<f64>,
}

/// A place to dig or to survey with radar.
#[derive(Debug, Clone)]
pub struct Square {
    /// Its outline.
    pub outline: Polygon<f64>,
    /// Its probability, 0 to 1.
    pub probability: f64,
    /// The extent that it lies in: `covered`, `eroded`, `unmapped` or `exposed`.
    pub in_extent: String,
}

/// Draws the part of a surface where trackways should go on, with squares to look in, a table of
/// them, and the caution.
///
/// The map shows the corridors, the squares, the predicted prints and candidates, and the last paces of the
/// trackways; what of the surface lies there is drawn as in [`plan_svg`](super::plan_svg). The answer is one
/// `svg` element that stands alone or inside an HTML page; its ids start with `onward`, the surface's
/// id and the trackways' labels. The same input gives the same bytes.
#[must_use]
pub fn onward_svg(input: &PlanInput, onward: &Onward) -> String {
    page::Page::of(input, onward).svg()
}
