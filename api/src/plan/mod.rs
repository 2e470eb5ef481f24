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
mod kinds;
mod labels;
mod legend;
mod midlines;
mod north;
mod onward;
mod outlines;
mod page;
mod print_key;
mod prints;
mod scale_bar;
#[cfg(test)]
mod tests;
mod title;
mod window;

pub use onward::{Onward, Square, Step, onward_svg};

use crate::catalogue::{Catalogue, ReadFault};
use spatial::frame::Factors;
use spatial::index::SurfaceIndex;
use spatial::model::SurfaceId;

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

/// Draws a surface of a catalogue by the text of its id.
///
/// # Errors
/// When there is no such surface, or it cannot be read.
pub fn of_surface(catalogue: &Catalogue, id: &str) -> Result<String, ReadFault> {
    let missing = || ReadFault::missing("surface", id);
    let surface: SurfaceId = id.parse().map_err(|_| missing())?;
    let listing = catalogue.listing()?;
    let entry = listing.surface(&surface).ok_or_else(missing)?;
    let index = catalogue.index_of(entry)?;
    let crs = entry.crs()?;
    let middle = index
        .bounds()
        .map(|[a, b]| [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])]);
    let place = middle.map(|middle| crs.to_lonlat(&[middle])).transpose()?;
    Ok(plan_svg(&PlanInput {
        index: &index,
        site_name: &entry.site.name,
        crs_name: &format!("{} ({})", crs.name, crs.authority_code()),
        factors: place.and_then(|place| crs.factors(place[0])),
        note: index.surface().note.as_deref(),
    }))
}
