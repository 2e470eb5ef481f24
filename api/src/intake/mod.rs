//! Field sheets in: read in a stream, checked row by row, and taken whole or not at all.
//!
//! A sheet is CSV or GeoJSON; both become cells by name of column, and one form turns a row's cells
//! into a print or into faults. One thread reads while the other stores, in batches, so that memory
//! does not grow with the sheet. Places come in the site's CRS or in its local grid, and are kept in the CRS.
//! Azimuths of another north are turned to grid north, which the record has, on the way.
//!
//! Outer spaces of a cell do not count, but in notes and in further columns, which are kept as they
//! came. `side` may be `left`, `right`, `L` or `R`; letter case does not matter in it, in `limb` and in
//! `record`.

mod batch;
mod cell;
mod column;
mod control;
mod csv_sheet;
mod extent;
mod fault;
mod feature;
mod feature_stream;
mod form;
mod geojson_sheet;
mod header;
mod locate;
mod north;
mod opening;
mod place;
mod radar;
mod records;
mod single;
mod take;
mod turning;
mod words;

pub(crate) use column::Column;
pub use control::{control_points, parse_control_point};
pub use fault::{Fault, Faults};
pub use north::{NoTurn, North, NorthFault, Sighting, Turn};
pub(crate) use single::without_rows;
pub use single::{Single, read_single};
pub(crate) use take::listed;
pub use take::{Checked, Report, check_sheet, take_sheet};
pub use turning::Turned;

use crate::crs::CrsFault;
use crate::store::StoreError;
use std::path::Path;

/// What a sheet is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SheetFormat {
    /// CSV (RFC 4180), UTF-8, with a header row.
    Csv,
    /// A GeoJSON FeatureCollection (RFC 7946).
    GeoJson,
}

impl SheetFormat {
    /// By the ending of a file's name: `.csv` or `.txt`, `.geojson` or `.json`, in any letter case.
    #[must_use]
    pub fn of_file(path: &Path) -> Option<Self> {
        match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
            "csv" | "txt" => Some(Self::Csv),
            "geojson" | "json" => Some(Self::GeoJson),
            _ => None,
        }
    }

    /// By a media type, its parameters (such as `charset`) left aside.
    #[must_use]
    pub fn of_media_type(media_type: &str) -> Option<Self> {
        let essence = media_type.split(';').next().unwrap_or_default().trim();
        match essence.to_ascii_lowercase().as_str() {
            "text/csv" => Some(Self::Csv),
            "application/geo+json" | "application/json" => Some(Self::GeoJson),
            _ => None,
        }
    }
}

/// How to take a sheet.
#[derive(Clone, Copy, Default)]
pub struct SheetOptions<'p> {
    /// Told from time to time how many bytes of the sheet have been read and stored.
    pub progress: Option<&'p dyn Fn(u64)>,
    /// The north that the sheet's azimuths are counted from.
    pub north: North,
}

/// Why a sheet was not taken.
#[derive(Debug, thiserror::Error)]
pub enum IntakeError {
    /// The sheet has faults; nothing was stored.
    #[error(transparent)]
    Faults(Faults),
    /// The sheet cannot be read to its end.
    #[error("the sheet cannot be read")]
    Read(#[source] std::io::Error),
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The site's CRS cannot be used.
    #[error(transparent)]
    Crs(#[from] CrsFault),
}

#[cfg(test)]
mod control_tests;
#[cfg(test)]
mod fuzz_tests;
#[cfg(test)]
mod geojson_tests;
#[cfg(test)]
mod local_tests;
#[cfg(test)]
pub(crate) mod shelf;
#[cfg(test)]
mod tests;
