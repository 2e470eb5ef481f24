//! One record from one GeoJSON feature, by the rules of a sheet.

use super::batch::Batch;
use super::take::read;
use super::{Fault, Faults, IntakeError, North, SheetFormat};
use crate::crs::Crs;
use serde_json::{Value, json};
use spatial::model::{Extent, Label, Print, Site};

/// What a feature of a sheet says.
#[derive(Debug, Clone, PartialEq)]
pub enum Single {
    /// A print, and the label of its surface.
    Print(Label, Box<Print>),
    /// An extent, and the label of its surface.
    Extent(Label, Extent),
}

/// Reads a feature as a sheet's only one. `crs` names the CRS of its geometry, x before y; `None` is longitude and latitude.
///
/// # Errors
/// [`IntakeError::Faults`] with every fault, and as [`super::check_sheet`].
pub fn read_single(site: &Site, feature: Value, crs: Option<&str>) -> Result<Single, IntakeError> {
    let crs = crs.map(|name| json!({ "type": "name", "properties": { "name": name } }));
    // A sheet is read as it comes: how to read the features must stand before them.
    let sheet = json!({ "type": "FeatureCollection", "crs": crs, "features": [feature] });
    let text = sheet.to_string();
    let mut all = Batch::default();
    let mut take = |batch: Batch| {
        all.prints.extend(batch.prints);
        all.extents.extend(batch.extents);
        Ok(())
    };
    let own = Crs::for_site(site.crs)?;
    let (faults, _) = read(
        SheetFormat::GeoJson,
        text.as_bytes(),
        site,
        &own,
        North::Grid,
        &mut take,
    )?;
    match (faults.is_empty(), all.prints.pop(), all.extents.pop()) {
        (true, Some(print), _) => Ok(Single::Print(print.surface, Box::new(print.print))),
        (true, None, Some(extent)) => Ok(Single::Extent(extent.surface, extent.extent)),
        (true, None, None) => Err(IntakeError::Faults(Faults::one(Fault::of_sheet("a feature")))),
        (false, ..) => Err(IntakeError::Faults(without_rows(faults))),
    }
}

/// The same faults without the number of the only feature.
pub(crate) fn without_rows(faults: Faults) -> Faults {
    let faults_of = faults
        .faults
        .into_iter()
        .map(|fault| Fault { row: None, ..fault });
    Faults {
        faults: faults_of.collect(),
        total: faults.total,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site() -> Site {
        Site::new("cove".parse().unwrap(), 25830)
    }

    fn print(geometry: Value, length_m: Value) -> Value {
        let properties = json!({ "surface": "S1", "print": "P1", "length_m": length_m, "glue": "resin" });
        json!({ "type": "Feature", "geometry": geometry, "properties": properties })
    }

    #[test]
    fn a_print_in_another_crs_comes_to_the_sites() {
        let point = json!({ "type": "Point", "coordinates": [480_000.0, 4_790_000.0] });
        let read = read_single(&site(), print(point, json!(0.3)), Some("EPSG:25830")).unwrap();
        let Single::Print(surface, print) = read else {
            panic!()
        };
        assert_eq!((surface.as_str(), print.easting_m), ("S1", 480_000.0));
        assert_eq!(print.remarks.unwrap().further[0].1, "resin");
    }

    #[test]
    fn every_fault_is_told_without_a_row() {
        let point = json!({ "type": "Point", "coordinates": [0.0, 91.0] });
        let refused = read_single(&site(), print(point, json!("long")), None);
        let Err(IntakeError::Faults(faults)) = refused else {
            panic!("{refused:?}")
        };
        assert!(!faults.is_empty());
        assert!(faults.faults.iter().all(|fault| fault.row.is_none()));
    }
}
