//! A site as a Darwin Core archive (Darwin Core text guide, TDWG 2023): a core of occurrences, one for each print, its
//! description `meta.xml` and the dataset's `eml.xml`.
//!
//! The terms are those of the Darwin Core quick reference guide. A print in the rock is an observation there, not a specimen in a
//! collection, so `basisOfRecord` is `HumanObservation`. Places of a generalised site are the centre of its cell, and nothing is told that
//! would narrow it: no easting, elevation or orientation, and no order but that of labels.

use super::{ExportError, Exported, Source};
use crate::access::{CELL_M, cell_centre};
use crate::crs::Crs;
use crate::store::SurfaceSummary;
use quick_xml::escape::escape;
use serde_json::{Map, Value, json};
use spatial::frame::LonLat;
use spatial::index::SurfaceContents;
use spatial::model::{PlacePolicy, Print, Site};
use std::io::{Seek, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

/// The columns of the core and their terms.
const COLUMNS: [(&str, &str); 26] = [
    ("occurrenceID", DWC),
    ("basisOfRecord", DWC),
    ("occurrenceStatus", DWC),
    ("datasetName", DWC),
    ("eventDate", DWC),
    ("recordedBy", DWC),
    ("verbatimIdentification", DWC),
    ("country", DWC),
    ("locality", DWC),
    ("locationID", DWC),
    ("decimalLatitude", DWC),
    ("decimalLongitude", DWC),
    ("geodeticDatum", DWC),
    ("coordinateUncertaintyInMeters", DWC),
    ("verbatimCoordinates", DWC),
    ("verbatimCoordinateSystem", DWC),
    ("verbatimSRS", DWC),
    ("verbatimElevation", DWC),
    ("formation", DWC),
    ("earliestAgeOrLowestStage", DWC),
    ("occurrenceRemarks", DWC),
    ("dynamicProperties", DWC),
    ("dataGeneralizations", DWC),
    ("informationWithheld", DWC),
    ("license", DC),
    ("bibliographicCitation", DC),
];
const DWC: &str = "http://rs.tdwg.org/dwc/terms/";
const DC: &str = "http://purl.org/dc/terms/";

/// The uncertainty of a position where nobody has measured it, metres (common practice: what a tape from pegs gives).
const USUAL_UNCERTAINTY_M: f64 = 0.1;

/// What of a print's place goes out.
enum Place {
    /// The place itself.
    Exact,
    /// The centre of a cell.
    Cell { centre: LonLat, uncertainty_m: f64 },
}

/// Writes a site's prints; closed sites are not for publication.
///
/// # Errors
/// [`ExportError::Closed`], or when the store, the writer or PROJ fails.
pub fn darwin_core(from: Source<'_>, site: &Site, out: impl Write + Seek) -> Result<Exported, ExportError> {
    if site.policy == PlacePolicy::Closed {
        return Err(ExportError::Closed(site.slug.clone()));
    }
    let crs = Crs::for_site(site.crs)?;
    let place = place(from, site, &crs)?;
    let mut archive = ZipWriter::new(out);
    // Without the moment of writing the same record gives the same bytes.
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default());
    archive.start_file("meta.xml", options)?;
    archive.write_all(meta().as_bytes())?;
    archive.start_file("eml.xml", options)?;
    archive.write_all(eml(site).as_bytes())?;
    archive.start_file("occurrence.txt", options)?;
    let header: Vec<&str> = COLUMNS.iter().map(|(name, _)| *name).collect();
    writeln!(archive, "{}", header.join("\t"))?;
    let mut exported = Exported::default();
    for SurfaceSummary { id, .. } in from.surfaces(&site.slug)? {
        if let Some((contents, _)) = from.contents(&id)? {
            write_surface(&mut archive, site, &crs, &place, &contents)?;
            exported.prints += contents.prints.len() as u64;
        }
    }
    archive.finish()?;
    Ok(exported)
}

fn place(from: Source<'_>, site: &Site, crs: &Crs) -> Result<Place, ExportError> {
    if site.policy == PlacePolicy::Open {
        return Ok(Place::Exact);
    }
    let around = from
        .surfaces(&site.slug)?
        .filter_map(|one| one.bounds)
        .reduce(|[a, b], [c, d]| [[a[0].min(c[0]), a[1].min(c[1])], [b[0].max(d[0]), b[1].max(d[1])]]);
    let [lower, upper] = around.unwrap_or_default();
    let middle = [0, 1].map(|axis| f64::midpoint(lower[axis], upper[axis]));
    let centre = crs.to_lonlat(&[cell_centre(middle)])?;
    Ok(Place::Cell {
        centre: centre.first().copied().unwrap_or(LonLat {
            lon_deg: 0.0,
            lat_deg: 0.0,
        }),
        // From the centre to a corner, and what lies over the edge of the cell besides.
        uncertainty_m: (CELL_M / 2.0 * 2f64.sqrt() + reach(lower, upper)).ceil(),
    })
}

/// Half the diagonal of a box, rounded up to a kilometre: a finer number would tell how large the site is.
fn reach(lower: [f64; 2], upper: [f64; 2]) -> f64 {
    let half = (upper[0] - lower[0]).hypot(upper[1] - lower[1]) / 2.0;
    (half / 1_000.0).ceil() * 1_000.0
}

fn write_surface(
    out: &mut impl Write,
    site: &Site,
    crs: &Crs,
    place: &Place,
    contents: &SurfaceContents,
) -> Result<(), ExportError> {
    let positions: Vec<[f64; 2]> = contents
        .prints
        .iter()
        .map(|print| [print.easting_m, print.northing_m])
        .collect();
    for (print, at) in contents.prints.iter().zip(crs.to_lonlat(&positions)?) {
        let row = row(site, crs, place, contents, print, at);
        let cells: Vec<String> = COLUMNS
            .iter()
            .map(|(name, _)| row.get(*name).map(cell).unwrap_or_default())
            .collect();
        writeln!(out, "{}", cells.join("\t"))?;
    }
    Ok(())
}

/// One print by term.
fn row(
    site: &Site,
    crs: &Crs,
    place: &Place,
    contents: &SurfaceContents,
    print: &Print,
    at: LonLat,
) -> Map<String, Value> {
    let remarks = print.remarks.as_deref();
    let row = json!({
        "occurrenceID": format!("{}:{}", contents.id, print.label),
        "basisOfRecord": "HumanObservation",
        "occurrenceStatus": "present",
        "datasetName": site.name,
        "eventDate": print.observed_on.map(|day| day.to_string()),
        "recordedBy": print.observer,
        "verbatimIdentification": print.morphotype,
        "country": site.country,
        "locality": site.name,
        "geodeticDatum": "EPSG:4326",
        "formation": site.formation,
        "earliestAgeOrLowestStage": site.age,
        "license": site.licence,
        "bibliographicCitation": site.citation,
    });
    let Value::Object(mut row) = row else {
        return Map::new();
    };
    let mut measures = json!({
        "length_m": print.length_m,
        "width_m": print.width_m,
        "depth_m": print.depth_m,
        "side": print.side.map(|side| side.name()),
        "limb": print.limb.map(|limb| limb.name()),
        "record": print.record.map(|record| record.name()),
        "preservation": print.preservation.and_then(|grade| grade.to_string().parse::<f64>().ok()),
    });
    let more = match place {
        Place::Exact => {
            measures["azimuth_deg"] = json!(print.azimuth_deg);
            json!({
                "locationID": contents.id,
                "decimalLatitude": rounded(at.lat_deg),
                "decimalLongitude": rounded(at.lon_deg),
                "coordinateUncertaintyInMeters": print.position_sd_m.map_or(USUAL_UNCERTAINTY_M, |sd| (sd * 2.0).max(0.01)),
                "verbatimCoordinates": format!("{} {}", print.easting_m, print.northing_m),
                "verbatimCoordinateSystem": "easting northing",
                "verbatimSRS": crs.authority_code(),
                "verbatimElevation": print.elevation_m.map(|metres| format!("{metres} m")),
                "occurrenceRemarks": remarks.and_then(|remarks| remarks.note.clone()),
            })
        }
        Place::Cell {
            centre,
            uncertainty_m,
        } => json!({
            "locationID": site.slug,
            "decimalLatitude": (centre.lat_deg * 100.0).round() / 100.0,
            "decimalLongitude": (centre.lon_deg * 100.0).round() / 100.0,
            "coordinateUncertaintyInMeters": uncertainty_m + 1_000.0,
            "dataGeneralizations": format!("Coordinates are those of the centre of a {} km cell of {} that the site lies in.", CELL_M / 1e3, crs.authority_code()),
            "informationWithheld": "Place, elevation and orientation of each print; ask the steward of the site.",
        }),
    };
    if let Value::Object(more) = more {
        row.extend(more);
    }
    if let Value::Object(measures) = &mut measures {
        measures.retain(|_, value| !value.is_null());
    }
    row.insert("dynamicProperties".to_owned(), measures.to_string().into());
    row
}

/// To 9 decimals of a degree, 0.1 mm.
fn rounded(degrees: f64) -> f64 {
    (degrees * 1e9).round() / 1e9
}

/// A value as a cell: no tab and no line end may stand in it.
fn cell(value: &Value) -> String {
    let text = match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    };
    text.replace(|letter: char| letter.is_control(), " ")
}

/// What the archive holds (Darwin Core text guide, section 2).
fn meta() -> String {
    let fields: Vec<String> = COLUMNS
        .iter()
        .enumerate()
        .map(|(no, (name, vocabulary))| format!("    <field index=\"{no}\" term=\"{vocabulary}{name}\"/>"))
        .collect();
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<archive xmlns=\"http://rs.tdwg.org/dwc/text/\" metadata=\"eml.xml\">\n  \
         <core encoding=\"UTF-8\" fieldsTerminatedBy=\"\\t\" linesTerminatedBy=\"\\n\" fieldsEnclosedBy=\"\" ignoreHeaderLines=\"1\" \
         rowType=\"{DWC}Occurrence\">\n    <files><location>occurrence.txt</location></files>\n    <id index=\"0\"/>\n{}\n  \
         </core>\n</archive>\n",
        fields.join("\n")
    )
}

/// The dataset (Ecological Metadata Language 2.2.0), as much as a site's record tells.
fn eml(site: &Site) -> String {
    let text = |text: &str| escape(text.replace(|letter: char| letter.is_control(), " ")).into_owned();
    let steward = text(site.steward.as_deref().unwrap_or("not told"));
    let told = |name: &str, value: &Option<String>| {
        value
            .as_ref()
            .map(|value| format!("    <{name}><para>{}</para></{name}>\n", text(value)))
            .unwrap_or_default()
    };
    let party = |name: &str| format!("    <{name}><organizationName>{steward}</organizationName></{name}>\n");
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<eml:eml xmlns:eml=\"https://eml.ecoinformatics.org/eml-2.2.0\" \
         packageId=\"{}\" system=\"stridebed\">\n  <dataset>\n    <title>{}</title>\n{}{}{}{}  </dataset>\n</eml:eml>\n",
        site.slug,
        text(&site.name),
        party("creator"),
        told(
            "abstract",
            &Some(format!(
                "Fossil footprints of {}, as they were recorded in the rock.",
                site.name
            ))
        ),
        told("intellectualRights", &site.licence),
        party("contact"),
    )
}
