//! A plan of a surface: its picture as SVG, in the surface's own projected coordinates.
//!
//! The plan is made from the record alone. It knows no projection, store or request: whoever calls
//! hands over the surface, its names, and what the projection does at the surface's middle. The same
//! input gives the same bytes.
//!
//! Each file draws one thing. All lengths inside are pixels of a page that is 1600 wide, unless a
//! name ends in `_m`; `y` grows downwards on the page, northings grow upwards.

mod counts;
mod extents;
mod grid;
mod ground;
mod ink;
mod kinds;
mod labels;
mod legend;
mod midlines;
mod north;
mod outlines;
mod page;
mod print_key;
mod prints;
mod scale_bar;
#[cfg(test)]
mod tests;
mod title;
mod window;

use spatial::frame::Factors;
use spatial::index::SurfaceIndex;

/// What a plan is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct PlanInput<'a> {
    /// The surface.
    pub index: &'a SurfaceIndex,
    /// The name of its site.
    pub site_name: &'a str,
    /// The site's projected CRS in words, such as `ETRS89 / UTM zone 30N (EPSG:25830)`.
    pub crs_name: &'a str,
    /// Convergence and scale at the surface's middle, where they are known.
    pub factors: Option<Factors>,
    /// A caption that readers must see, such as that the data is invented.
    pub note: Option<&'a str>,
}

/// Draws a surface: prints to scale, extents, trackways, grid ticks, scale bar, norths and legend.
///
/// The answer is one `svg` element without script, style sheet or outside font, fit to stand alone or
/// inside an HTML page. Its ids start with the surface's id.
#[must_use]
pub fn plan_svg(input: &PlanInput) -> String {
    page::Page::of(input).svg()
}
