//! The definition of a CRS in well-known text.

use super::{CrsFault, transform};
use proj::wkt::{WktOptions, WktVersion};

/// The definition of `EPSG:code` in the older well-known text (OGC 01-009), which GeoPackage asks for.
///
/// # Errors
/// When PROJ has none.
pub(super) fn wkt1(definition: &str) -> Result<String, CrsFault> {
    let named = definition.to_owned();
    transform::where_kept(move || {
        let failed =
            |error: String| CrsFault::NotTransformed(format!("{named} has no well-known text: {error}"));
        let crs = transform::builder()?
            .proj(&named)
            .map_err(|error| failed(error.to_string()))?;
        crs.as_wkt(Some(WktVersion::Wkt1_Gdal), None::<WktOptions>)
            .map_err(|error| failed(error.to_string()))
    })
}
