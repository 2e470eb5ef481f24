//! A site as a GeoPackage (OGC 12-128r18, version 1.3): one layer a kind of record, in the site's own CRS.

mod blob;
mod layer;
mod schema;

use super::{ExportError, Exported};
use crate::catalogue::{Catalogue, ReadFault};
use crate::collection::{Collection, Selection};
use crate::crs::Crs;
use jiff::Timestamp;
use layer::Layer;
use rusqlite::{Connection, params};
use spatial::model::Site;
use std::path::Path;

/// Features that are in memory at once.
const PAGE: usize = 10_000;

/// Writes a site into a new file: surfaces, extents, prints and trackways as the catalogue shows them, with every property as a
/// column and a spatial index for each layer.
///
/// # Errors
/// When the store, the file or PROJ fails, or the catalogue does not show the site.
pub fn geopackage(catalogue: &Catalogue, site: &Site, path: &Path) -> Result<Exported, ExportError> {
    let crs = Crs::for_site(site.crs)?;
    let mut conn = Connection::open(path)?;
    schema::begin(&conn)?;
    schema::add_crs(&conn, &crs, &crs.wkt1()?)?;
    // The moment of what it shows: the same record gives the same file where it is asked for as of one moment.
    let at = catalogue.moment().unwrap_or_else(Timestamp::now);
    let mut exported = Exported::default();
    for collection in [
        Collection::Surfaces,
        Collection::Extents,
        Collection::Prints,
        Collection::Trackways,
    ] {
        let writing = conn.transaction()?;
        let written = write_layer(&writing, catalogue, site, collection, crs.code, at)?;
        writing.commit()?;
        match collection {
            Collection::Prints => exported.prints = written,
            Collection::Extents => exported.extents = written,
            _ => {}
        }
    }
    schema::end(&conn)?;
    conn.close().map_err(|(_, error)| error)?;
    Ok(exported)
}

fn write_layer(
    conn: &Connection,
    catalogue: &Catalogue,
    site: &Site,
    collection: Collection,
    code: u32,
    at: Timestamp,
) -> Result<u64, ExportError> {
    let mut layer = Layer::begin(conn, collection, code)?;
    let selection = Selection {
        site: Some(site.slug.clone()),
        ..Selection::all(collection)
    };
    let mut after: Option<String> = None;
    loop {
        let page = selection.page(catalogue, after.as_deref(), PAGE).map_err(read)?;
        for member in page.members.iter() {
            layer.put(&member)?;
        }
        after = page.members.last().map(|member| member.id());
        if !page.more {
            break;
        }
    }
    let (count, bounds) = layer.end()?;
    let [[west, south], [east, north]] = match bounds {
        Some([[west, south], [east, north]]) => [[Some(west), Some(south)], [Some(east), Some(north)]],
        None => [[None; 2]; 2],
    };
    let moment = at.strftime("%Y-%m-%dT%H:%M:%S.000Z").to_string();
    conn.execute(
        schema::SUM_UP,
        params![collection.id(), moment, west, south, east, north],
    )?;
    Ok(count)
}

fn read(fault: ReadFault) -> ExportError {
    match fault {
        ReadFault::Store(error) => ExportError::Store(error),
        ReadFault::Crs(fault) => ExportError::Crs(fault),
        other => ExportError::Write(std::io::Error::other(other.to_string())),
    }
}
