//! Extents: which parts of a surface can be seen.

use super::{Label, named};
use jiff::civil::Date;

named!(
    /// What can be seen of a part of a surface.
    ExtentKind {
        /// The surface lies open: a print that is not there was never made or did not last.
        Exposed = "exposed",
        /// Rock or sediment lies on it: prints may be below.
        Covered = "covered",
        /// The surface is gone: prints can no more be found.
        Eroded = "eroded",
        /// Nobody has looked.
        Unmapped = "unmapped",
    }
);

/// A polygon of a surface with one kind of exposure on a date, in the site's projected coordinates.
#[derive(Debug, Clone, PartialEq)]
pub struct Extent {
    /// The label on the surface.
    pub label: Label,
    /// What can be seen there.
    pub kind: ExtentKind,
    /// The outline with its holes; easting and northing, metres.
    pub polygon: geo::Polygon<f64>,
    /// The day it was surveyed.
    pub surveyed_on: Option<Date>,
    /// The revision of this record, counted from 1; 0 while it is not stored.
    pub revision: u32,
}
