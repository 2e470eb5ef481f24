//! One record of a collection, whatever its kind.

use crate::catalogue::{Indexed, SurfaceEntry};
use crate::crs::{Crs, CrsFault};
use crate::feature::{
    Cell, EXTENT, Field, Kind, OutputCrs, PRINT, SITE, SURFACE, Scope, SiteRow, TRACKWAY, path,
};
use geo::{Geometry, Point, Rect};
use jiff::civil::Date;
use serde::ser::{Serialize, SerializeMap, Serializer};
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::{Label, Trackway};
use std::sync::Arc;

/// A property of a collection.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What kind of value it has.
    pub kind: Kind,
    /// What it means.
    pub about: &'static str,
}

impl Column {
    /// Whether a request can filter by it: it has one plain value.
    #[must_use]
    pub fn is_queryable(&self) -> bool {
        self.kind != Kind::Json
    }
}

/// A surface in memory with its ids as texts.
#[derive(Debug)]
pub struct OnSurface {
    /// The surface.
    pub index: Arc<Indexed>,
    /// Its ids.
    pub scope: Scope,
}

/// One record of a collection; cheap to copy about, since what it shows is shared.
#[derive(Debug, Clone)]
pub enum Member {
    /// A site.
    Site(Arc<(Scope, SiteRow)>),
    /// A surface.
    Surface(Arc<Scope>, Arc<SurfaceEntry>),
    /// An extent, by its place in its surface's list.
    Extent(Arc<OnSurface>, usize),
    /// A print, by its number.
    Print(Arc<OnSurface>, PrintNo),
    /// A trackway, by its place in its surface's list.
    Trackway(Arc<OnSurface>, usize),
}

impl Member {
    /// Its id.
    #[must_use]
    pub fn id(&self) -> String {
        let on = |on: &OnSurface, label: &Label| format!("{}:{label}", on.scope.surface);
        match self {
            Self::Site(site) => site.0.site.clone(),
            Self::Surface(scope, _) => scope.surface.clone(),
            Self::Extent(place, no) => on(place, &place.index.extents()[*no].label),
            Self::Print(place, no) => on(place, &place.index.print(*no).label),
            Self::Trackway(place, no) => on(place, &place.index.trackways()[*no].label),
        }
    }

    /// The revision of its record.
    #[must_use]
    pub fn revision(&self) -> u32 {
        match self {
            Self::Site(site) => site.1.site.revision,
            Self::Surface(_, entry) => entry.summary.surface.revision,
            Self::Extent(place, no) => place.index.extents()[*no].revision,
            Self::Print(place, no) => place.index.print(*no).revision,
            Self::Trackway(place, no) => place.index.trackways()[*no].revision,
        }
    }

    /// The EPSG code of the CRS that its geometry is in.
    #[must_use]
    pub fn code(&self) -> u32 {
        match self {
            Self::Site(site) => site.1.site.crs,
            Self::Surface(_, entry) => entry.site.crs,
            Self::Extent(place, _) | Self::Print(place, _) | Self::Trackway(place, _) => place.index.crs(),
        }
    }

    /// The CRS that its geometry is in.
    ///
    /// # Errors
    /// When the CRS is not known to this version of the CRS database.
    pub fn crs(&self) -> Result<Arc<Crs>, CrsFault> {
        Crs::for_site(self.code())
    }

    /// Its geometry in its site's CRS; `None` where it has none.
    #[must_use]
    pub fn geometry(&self) -> Option<Geometry<f64>> {
        match self {
            Self::Site(site) => site.1.bounds.map(|[lower, upper]| {
                Point::new(
                    f64::midpoint(lower[0], upper[0]),
                    f64::midpoint(lower[1], upper[1]),
                )
                .into()
            }),
            Self::Surface(_, entry) => entry
                .summary
                .bounds
                .map(|[lower, upper]| Rect::new(lower, upper).to_polygon().into()),
            Self::Extent(place, no) => Some(place.index.extents()[*no].polygon.clone().into()),
            Self::Print(place, no) => {
                let print = place.index.print(*no);
                Some(Point::new(print.easting_m, print.northing_m).into())
            }
            Self::Trackway(place, no) => line(&place.index, &place.index.trackways()[*no]),
        }
    }

    /// The day of its record, where records of its kind have one and it is known.
    #[must_use]
    pub fn day(&self) -> Option<Date> {
        match self {
            Self::Extent(place, no) => place.index.extents()[*no].surveyed_on,
            Self::Print(place, no) => place.index.print(*no).observed_on,
            Self::Site(_) | Self::Surface(..) | Self::Trackway(..) => None,
        }
    }

    /// Whether the property at this place of its collection's columns has this value.
    #[must_use]
    pub fn is(&self, column: usize, text: &str) -> bool {
        self.cell(column).is(text)
    }

    /// Its geometry in a CRS, x before y and not rounded; `None` where it has none.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn place(&self, crs: &OutputCrs) -> Result<Option<Geometry<f64>>, CrsFault> {
        match (self, crs) {
            // The index holds each print's longitude and latitude already.
            (Self::Print(surface, no), OutputCrs::Crs84) => {
                let place = surface.index.place(*no);
                Ok(Some(Point::new(place.lon_deg, place.lat_deg).into()))
            }
            _ => {
                let geometry = self.geometry();
                let moved = geometry.map(|geometry| crs.moved(&*self.crs()?, &geometry));
                moved.transpose()
            }
        }
    }

    /// The property at this place of its collection's columns.
    #[must_use]
    pub fn cell(&self, column: usize) -> Cell<'_> {
        fn of<'a, R>(fields: &[Field<R>], column: usize, scope: &'a Scope, record: &'a R) -> Cell<'a> {
            fields
                .get(column)
                .map_or(Cell::Unknown, |field| (field.cell)(scope, record))
        }
        match self {
            Self::Site(site) => of(SITE, column, &site.0, &site.1),
            Self::Surface(scope, entry) => of(SURFACE, column, scope, entry),
            Self::Extent(place, no) => of(EXTENT, column, &place.scope, &place.index.extents()[*no]),
            Self::Print(place, no) => of(PRINT, column, &place.scope, place.index.print(*no)),
            Self::Trackway(place, no) => of(TRACKWAY, column, &place.scope, &place.index.trackways()[*no]),
        }
    }
}

/// The line through a trackway's prints; `None` where fewer than two of them are on the surface.
fn line(index: &SurfaceIndex, trackway: &Trackway) -> Option<Geometry<f64>> {
    let prints = trackway
        .prints
        .iter()
        .filter_map(|label| index.find(label))
        .map(|no| index.print(no));
    path(&prints.collect::<Vec<_>>())
}

/// A member's properties, in the order of its collection's columns.
pub struct Properties<'a>(pub &'a Member);

impl Serialize for Properties<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        fn all<R, M: SerializeMap>(
            map: &mut M,
            fields: &[Field<R>],
            scope: &Scope,
            record: &R,
        ) -> Result<(), M::Error> {
            fields
                .iter()
                .try_for_each(|field| map.serialize_entry(field.name, &(field.cell)(scope, record)))
        }
        let mut map = serializer.serialize_map(None)?;
        match self.0 {
            Member::Site(site) => all(&mut map, SITE, &site.0, &site.1)?,
            Member::Surface(scope, entry) => all(&mut map, SURFACE, scope, &**entry)?,
            Member::Extent(place, no) => all(&mut map, EXTENT, &place.scope, &place.index.extents()[*no])?,
            Member::Print(place, no) => all(&mut map, PRINT, &place.scope, place.index.print(*no))?,
            Member::Trackway(place, no) => {
                all(&mut map, TRACKWAY, &place.scope, &place.index.trackways()[*no])?
            }
        }
        map.end()
    }
}
