//! The formats that a site is written in, and the one way to write any of them.

use super::{ExportError, Exported, Source, csv, darwin_core, geojson, geopackage};
use crate::catalogue::Catalogue;
use spatial::model::Site;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// What a site is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportFormat {
    /// The prints as a field sheet.
    Csv,
    /// The prints and the extents as GeoJSON.
    GeoJson,
    /// All layers in one file for mapping programs.
    GeoPackage,
    /// A Darwin Core archive, for publication.
    DarwinCore,
}

impl ExportFormat {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Csv, Self::GeoJson, Self::GeoPackage, Self::DarwinCore];

    /// Its name at every interface.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::GeoJson => "geojson",
            Self::GeoPackage => "gpkg",
            Self::DarwinCore => "dwca",
        }
    }

    /// The one of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|format| format.name() == name)
    }

    /// Its media type.
    #[must_use]
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Csv => "text/csv",
            Self::GeoJson => "application/geo+json",
            Self::GeoPackage => "application/geopackage+sqlite3",
            Self::DarwinCore => "application/zip",
        }
    }

    /// What a file of a site in it is called.
    #[must_use]
    pub fn file_name(self, site: &Site) -> String {
        match self {
            Self::DarwinCore => format!("{}-dwca.zip", site.slug),
            other => format!("{}.{}", site.slug, other.name()),
        }
    }

    /// Writes a site that the catalogue shows whole into an empty file, as of the moment that the catalogue shows. The site's policy
    /// is that of now, as `Catalogue::site_seen_whole` gives it.
    ///
    /// # Errors
    /// When the store, the file or PROJ fails; [`ExportError::Closed`] for a closed site as a Darwin Core archive.
    pub fn write(self, catalogue: &Catalogue, site: &Site, path: &Path) -> Result<Exported, ExportError> {
        if self == Self::GeoPackage {
            return geopackage(catalogue, site, path);
        }
        let from = Source::of(catalogue);
        let mut out = BufWriter::new(File::create(path)?);
        let exported = match self {
            Self::Csv => csv(from, &site.slug, &mut out)?,
            Self::GeoJson => geojson(from, &site.slug, &mut out)?,
            Self::DarwinCore | Self::GeoPackage => darwin_core(from, site, &mut out)?,
        };
        out.flush()?;
        Ok(exported)
    }
}
