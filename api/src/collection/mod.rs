//! The five collections of records, and selections from them: filtered, in a total order, by page.

mod bbox;
mod cursor;
mod filter;
mod interval;
mod member;
mod members;
mod selection;
mod written;

pub use bbox::Bbox;
pub use filter::{Filter, GEOMETRY, Language};
pub use interval::Interval;
pub use member::{Column, Member, OnSurface};
pub use members::{Members, Run};
pub use selection::{Page, Selection};
pub use written::{FeatureOf, write_run};

use crate::feature::{EXTENT, Field, PRINT, SITE, SURFACE, TRACKWAY};
use spatial::model::{PrintId, Slug, SurfaceId};

/// A collection of records of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Collection {
    /// All sites.
    Sites,
    /// All surfaces of all sites.
    Surfaces,
    /// All extents of all surfaces.
    Extents,
    /// All prints of all surfaces.
    Prints,
    /// All trackways of all surfaces.
    Trackways,
}

impl Collection {
    /// Every collection, in the order in which they are listed.
    pub const ALL: [Self; 5] = [
        Self::Sites,
        Self::Surfaces,
        Self::Extents,
        Self::Prints,
        Self::Trackways,
    ];

    /// The collection with this id.
    #[must_use]
    pub fn find(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|collection| collection.id() == id)
    }

    /// Its id.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::Sites => "sites",
            Self::Surfaces => "surfaces",
            Self::Extents => "extents",
            Self::Prints => "prints",
            Self::Trackways => "trackways",
        }
    }

    /// The name of one record of it.
    #[must_use]
    pub fn singular(self) -> &'static str {
        self.id().trim_end_matches('s')
    }

    /// Whether a text has the form of an id of one of its records; a record with it need not exist.
    #[must_use]
    pub fn may_have(self, id: &str) -> bool {
        match self {
            Self::Sites => id.parse::<Slug>().is_ok(),
            Self::Surfaces => id.parse::<SurfaceId>().is_ok(),
            Self::Extents | Self::Prints | Self::Trackways => id.parse::<PrintId>().is_ok(),
        }
    }

    /// Its title.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Sites => "Sites",
            Self::Surfaces => "Surfaces",
            Self::Extents => "Extents",
            Self::Prints => "Prints",
            Self::Trackways => "Trackways",
        }
    }

    /// What it holds.
    #[must_use]
    pub fn about(self) -> &'static str {
        match self {
            Self::Sites => {
                "Localities under one steward, each with one projected CRS; drawn as the middle of its surfaces."
            }
            Self::Surfaces => "Bedding planes of sites; drawn as the box around their prints and extents.",
            Self::Extents => "Parts of surfaces that are exposed, covered, eroded or unmapped on a date.",
            Self::Prints => {
                "Footprints, or their natural casts, undertracks or subsurface anomalies; drawn as their centres."
            }
            Self::Trackways => {
                "Prints of one animal in walking order; drawn as the line through the prints of its hind feet."
            }
        }
    }

    /// Its properties.
    #[must_use]
    pub fn columns(self) -> Vec<Column> {
        fn of<R>(fields: &[Field<R>]) -> Vec<Column> {
            fields
                .iter()
                .map(|field| Column {
                    name: field.name,
                    kind: field.kind,
                    about: field.about,
                })
                .collect()
        }
        match self {
            Self::Sites => of(SITE),
            Self::Surfaces => of(SURFACE),
            Self::Extents => of(EXTENT),
            Self::Prints => of(PRINT),
            Self::Trackways => of(TRACKWAY),
        }
    }

    /// The properties that a request can filter by: all that have one plain value.
    pub fn queryables(self) -> impl Iterator<Item = Column> {
        self.columns().into_iter().filter(Column::is_queryable)
    }

    /// The kind of geometry that its records have, in the words of GeoJSON and lower case.
    #[must_use]
    pub fn geometry(self) -> &'static str {
        match self {
            Self::Sites | Self::Prints => "point",
            Self::Surfaces | Self::Extents => "polygon",
            Self::Trackways => "linestring",
        }
    }

    /// Whether its records have a time.
    #[must_use]
    pub fn has_time(self) -> bool {
        matches!(self, Self::Extents | Self::Prints)
    }
}

#[cfg(test)]
mod tests;
