//! The record out, so that taking it in again changes nothing.
//!
//! CSV holds the prints; GeoJSON holds the prints and the extents. Both are written surface by surface,
//! so that memory is bounded by the largest surface. GeoJSON's geometries are longitude and
//! latitude to 9 decimals (0.1 mm), as RFC 7946 has them; so that nothing is lost to that rounding, each
//! feature also has its exact coordinates in the site's CRS as properties: `easting_m` and `northing_m` of a print,
//! `projected` of an extent. The intake prefers these.

mod csv;
mod darwin_core;
mod format;
mod geojson;
mod geopackage;
mod value;

pub use self::csv::csv;
pub use self::geojson::geojson;
pub use darwin_core::darwin_core;
pub use format::ExportFormat;
pub use geopackage::geopackage;

use crate::catalogue::Catalogue;
use crate::crs::CrsFault;
use crate::store::{RecordStore, StoreError, SurfaceSummary};
use jiff::Timestamp;
use spatial::index::SurfaceContents;
use spatial::model::{Slug, SurfaceId};

/// How much was written.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Exported {
    /// How many prints.
    pub prints: u64,
    /// How many extents.
    pub extents: u64,
}

/// Why an export did not come to its end.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Coordinates cannot be transformed.
    #[error(transparent)]
    Crs(#[from] CrsFault),
    /// The file cannot be written.
    #[error("the export cannot be written")]
    Write(#[from] std::io::Error),
    /// The file of a GeoPackage failed.
    #[error("the GeoPackage cannot be written")]
    File(#[from] rusqlite::Error),
    /// The archive failed.
    #[error("the archive cannot be written")]
    Archive(#[from] zip::result::ZipError),
    /// A closed site is not for publication.
    #[error("the site {0} is closed; an archive for publication is made of open and generalised sites")]
    Closed(Slug),
    /// A surface was changed between two looks at it.
    #[error("surface {0} was changed while it was written; export again")]
    Changed(SurfaceId),
}

/// What is written: the record of a store, as it is or as it was at a moment.
#[derive(Clone, Copy)]
pub struct Source<'s> {
    store: &'s dyn RecordStore,
    moment: Option<Timestamp>,
}

impl<'s> Source<'s> {
    /// A store as it is.
    #[must_use]
    pub fn now(store: &'s dyn RecordStore) -> Self {
        Self { store, moment: None }
    }

    /// The store below a catalogue, as of the moment that the catalogue shows.
    fn of(catalogue: &'s Catalogue) -> Self {
        Self {
            store: catalogue.store(),
            moment: catalogue.moment(),
        }
    }

    /// The site's surfaces in order.
    fn surfaces(self, site: &Slug) -> Result<impl Iterator<Item = SurfaceSummary>, StoreError> {
        let all = match self.moment {
            None => self.store.surfaces()?,
            Some(moment) => self.store.listing_at(moment)?.1,
        };
        Ok(all.into_iter().filter(move |one| one.id.site == *site))
    }

    /// A surface, and a number that is another one when the surface has changed: what was at a moment no longer does.
    fn contents(self, id: &SurfaceId) -> Result<Option<(SurfaceContents, u64)>, StoreError> {
        match self.moment {
            None => self.store.contents(id),
            Some(moment) => {
                let then = self.store.contents_at(id, moment)?;
                Ok(then.map(|contents| (contents, 0)))
            }
        }
    }
}

#[cfg(test)]
mod tests;
