//! A plan of a surface: its picture as SVG, in the surface's own projected coordinates.
//!
//! The plan is made from the record alone. It knows no projection, store or request: whoever calls
//! hands over the surface, its names, and what the projection does at the surface's middle. The same
//! input gives the same bytes.
//!
//! Each file draws one thing. All lengths inside are pixels of the page (1600 wide, if a [`View`] does not say otherwise) unless a
//! name ends in `_m`; `y` grows downwards on the page, northings grow upwards.

mod clip;
mod counts;
mod extents;
mod grid;
mod ground;
mod here;
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
mod view;
mod window;

pub use onward::{Onward, Square, Step, onward_svg};
pub use view::{NARROWEST, USUAL_WIDTH, View, WIDEST};

use crate::catalogue::{Catalogue, Indexed, ReadFault};
use crate::collection::Bbox;
use crate::crs::Crs;
use crate::problem::Problem;
use spatial::frame::Factors;
use spatial::index::SurfaceIndex;
use spatial::model::SurfaceId;
use std::sync::Arc;

/// What a plan is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct PlanInput<'a> {
    /// The surface.
    pub index: &'a Indexed,
    /// The name of its site.
    pub site_name: &'a str,
    /// Whether that CRS has the northing before the easting.
    pub northing_first: bool,
    /// The site's projected CRS in words, such as `ETRS89 / UTM zone 30N (EPSG:25830)`.
    pub crs_name: &'a str,
    /// Convergence and scale at the surface's middle, where they are known.
    pub factors: Option<Factors>,
    /// A caption that readers must see, such as that the data is invented.
    pub note: Option<&'a str>,
}

/// Draws a surface or a part of it: prints to scale, extents, trackways, grid ticks, scale bar, norths and legend.
///
/// The answer is one `svg` element without script, style sheet or outside font, fit to stand alone or
/// inside an HTML page. Its ids start with the surface's id. It says for programs what its map shows: `data-crs` with the
/// order of its axes in `data-axes` (`E N` or `N E`), `data-window` (west, south, east and north, metres) and `data-frame` (left, top, width and height of the map on the page).
#[must_use]
pub fn plan_svg(input: &PlanInput, view: &View) -> String {
    page::Page::of(input, view).svg()
}

/// Draws a surface of a catalogue by the text of its id; the part of it in a box, or all of it.
///
/// # Errors
/// When there is no such surface, it cannot be read, or the box and the width make no page.
pub fn of_surface(
    catalogue: &Catalogue,
    id: &str,
    bbox: Option<&Bbox>,
    width: Option<f64>,
) -> Result<String, Problem> {
    let missing = || ReadFault::missing("surface", id);
    let surface: SurfaceId = id.parse().map_err(|_| missing())?;
    let index = catalogue.index(&surface)?;
    let crs = Crs::for_site(index.crs()).map_err(ReadFault::from)?;
    let part = bbox.map(|bbox| bbox.box_on(&crs).ok_or(NO_BOX));
    let view = part
        .transpose()
        .and_then(|part| View::new(part, width))
        .map_err(Problem::bad_request)?;
    Ok(plan_svg(&Names::of(catalogue, &index)?.input(&index), &view))
}

const NO_BOX: &str =
    "bbox: expected a box where the surface's CRS is defined, on one side of the antimeridian.";

/// What draws where trackways of a surface should go on.
///
/// # Errors
/// When the surface or its CRS cannot be read.
pub fn onward_of(
    catalogue: &Catalogue,
    index: Arc<Indexed>,
    onward: Onward<'static>,
) -> Result<Box<dyn FnOnce() -> String + Send>, ReadFault> {
    let names = Names::of(catalogue, &index)?;
    Ok(Box::new(move || onward_svg(&names.input(&index), &onward)))
}

/// What a plan must be told that the index does not know.
struct Names {
    site: String,
    crs: String,
    northing_first: bool,
    factors: Option<Factors>,
}

impl Names {
    fn of(catalogue: &Catalogue, index: &SurfaceIndex) -> Result<Self, ReadFault> {
        let listing = catalogue.listing()?;
        let entry = listing.surface(index.id());
        let entry = entry.ok_or_else(|| ReadFault::missing("surface", index.id()))?;
        let crs = entry.crs()?;
        let middle = index
            .bounds()
            .map(|[a, b]| [f64::midpoint(a[0], b[0]), f64::midpoint(a[1], b[1])]);
        let place = middle.map(|middle| crs.to_lonlat(&[middle])).transpose()?;
        Ok(Self {
            site: entry.site.name.clone(),
            crs: format!("{} ({})", crs.name, crs.authority_code()),
            northing_first: crs.northing_first,
            factors: place.and_then(|place| crs.factors(place[0])),
        })
    }

    fn input<'a>(&'a self, index: &'a Indexed) -> PlanInput<'a> {
        PlanInput {
            index,
            site_name: &self.site,
            crs_name: &self.crs,
            northing_first: self.northing_first,
            factors: self.factors,
            note: index.surface().note.as_deref(),
        }
    }
}
