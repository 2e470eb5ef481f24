//! The prints and extents of a site as a GeoJSON FeatureCollection.

use super::{ExportError, Exported, Source, value};
use crate::crs::Crs;
use crate::intake::Column;
use crate::store::SurfaceSummary;
use geo::LineString;
use geojson::feature::Id;
use geojson::{Feature, FeatureWriter, Geometry};
use serde_json::{Map, Value, json};
use spatial::frame::LonLat;
use spatial::index::SurfaceContents;
use spatial::model::{Extent, Print, Slug};
use std::io::Write;

/// Writes the prints and extents of a site as GeoJSON (RFC 7946).
///
/// # Errors
/// When the store, the writer or PROJ fails.
pub fn geojson(from: Source<'_>, site: &Slug, out: impl Write) -> Result<Exported, ExportError> {
    let mut exported = Exported::default();
    let mut collection = FeatureWriter::from_writer(out);
    for SurfaceSummary { id, .. } in from.surfaces(site)? {
        let Some((contents, _)) = from.contents(&id)? else {
            continue;
        };
        let crs = Crs::find(contents.crs)?;
        for extent in &contents.extents {
            let feature = extent_feature(&contents, extent, &crs)?;
            collection.write_feature(&feature).map_err(write_error)?;
        }
        let positions: Vec<[f64; 2]> = contents
            .prints
            .iter()
            .map(|print| [print.easting_m, print.northing_m])
            .collect();
        for (print, place) in contents.prints.iter().zip(crs.to_lonlat(&positions)?) {
            let feature = print_feature(&contents, print, place);
            collection.write_feature(&feature).map_err(write_error)?;
        }
        exported.prints += contents.prints.len() as u64;
        exported.extents += contents.extents.len() as u64;
    }
    collection.finish().map_err(write_error)?;
    collection.flush().map_err(write_error)?;
    Ok(exported)
}

fn print_feature(contents: &SurfaceContents, print: &Print, place: LonLat) -> Feature {
    let mut properties = Map::new();
    for column in Column::ALL {
        let value = value::value(&contents.id.label, print, *column);
        if !value.is_null() {
            properties.insert(column.name().to_owned(), value);
        }
    }
    for (name, value) in value::further(print) {
        properties.insert(name.to_string(), value.as_str().into());
    }
    feature(
        format!("{}:{}", contents.id, print.label),
        Geometry::new_point(rounded(place)),
        properties,
    )
}

fn extent_feature(contents: &SurfaceContents, extent: &Extent, crs: &Crs) -> Result<Feature, ExportError> {
    let rings = || std::iter::once(extent.polygon.exterior()).chain(extent.polygon.interiors());
    let mut properties = Map::new();
    properties.insert("surface".to_owned(), contents.id.label.as_str().into());
    properties.insert("extent".to_owned(), extent.label.as_str().into());
    properties.insert("kind".to_owned(), extent.kind.name().into());
    if let Some(day) = extent.surveyed_on {
        properties.insert("surveyed_on".to_owned(), day.to_string().into());
    }
    properties.insert("projected".to_owned(), rings().map(positions).collect());
    let corners: Vec<[f64; 2]> = rings().flatten().map(|corner| [corner.x, corner.y]).collect();
    let mut places = crs.to_lonlat(&corners)?.into_iter().map(rounded);
    let outline: Vec<Vec<[f64; 2]>> = rings()
        .map(|ring| places.by_ref().take(ring.0.len()).collect())
        .collect();
    Ok(feature(
        format!("{}:{}", contents.id, extent.label),
        Geometry::new_polygon(outline),
        properties,
    ))
}

fn positions(ring: &LineString) -> Value {
    ring.coords().map(|corner| json!([corner.x, corner.y])).collect()
}

fn feature(id: String, geometry: Geometry, properties: Map<String, Value>) -> Feature {
    Feature {
        id: Some(Id::String(id)),
        geometry: Some(geometry),
        properties: Some(properties),
        ..Feature::default()
    }
}

/// To 9 decimals of a degree, 0.1 mm.
fn rounded(place: LonLat) -> [f64; 2] {
    const PARTS: f64 = 1e9;
    [place.lon_deg, place.lat_deg].map(|degrees| (degrees * PARTS).round() / PARTS)
}

fn write_error(error: geojson::Error) -> ExportError {
    ExportError::Write(std::io::Error::other(error))
}
