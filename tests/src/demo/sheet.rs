//! Findings as a field sheet: CSV, a row a print, rounded as a party writes it down.

use spatial::angle::fold_deg;
use spatial::model::{DepthSample, Label, Print, Remarks};

/// A column's name, and what it says of a print; empty where that is unknown.
type Column = (&'static str, fn(&Print) -> String);

/// How many of the columns every sheet has.
const REQUIRED: usize = 4;

/// The columns after `surface`; the required ones first.
const COLUMNS: [Column; 24] = [
    ("print", |p| p.label.to_string()),
    ("easting_m", |p| metres(p.easting_m)),
    ("northing_m", |p| metres(p.northing_m)),
    ("length_m", |p| metres(p.length_m)),
    ("elevation_m", |p| known(p.elevation_m, metres)),
    ("position_sd_m", |p| known(p.position_sd_m, metres)),
    ("width_m", |p| known(p.width_m, metres)),
    ("depth_m", |p| known(p.depth_m, metres)),
    ("azimuth_deg", |p| {
        known(p.azimuth_deg, |deg| fold_deg(deg.round()).to_string())
    }),
    ("azimuth_sd_deg", |p| {
        known(p.azimuth_sd_deg, |deg| deg.to_string())
    }),
    ("side", |p| known(p.side, |side| side.to_string())),
    ("limb", |p| known(p.limb, |limb| limb.to_string())),
    ("morphotype", |p| {
        known(p.morphotype.as_ref(), ToString::to_string)
    }),
    ("digits", |p| known(p.digits, |digits| digits.to_string())),
    ("preservation", |p| {
        known(p.preservation, |grade| grade.to_string())
    }),
    ("record", |p| known(p.record, |record| record.to_string())),
    ("trackway", |p| known(p.field_trackway.as_ref(), Label::to_string)),
    ("order", |p| known(p.field_order, |order| order.to_string())),
    ("observed_on", |p| known(p.observed_on, |day| day.to_string())),
    ("observer", |p| known(p.observer.as_ref(), ToString::to_string)),
    ("overlies", |p| {
        remark(p, |remarks| list(&remarks.overlies, Label::to_string))
    }),
    ("depth_samples", |p| {
        remark(p, |remarks| list(&remarks.depth_samples, depth_sample))
    }),
    ("note", |p| {
        remark(p, |remarks| remarks.note.clone().unwrap_or_default())
    }),
    ("photo", |p| remark(p, |remarks| further(remarks, "photo"))),
];

/// The text of a sheet of these surfaces; a column that no print fills is left out, unless it is required.
#[must_use]
pub fn csv<'a>(surfaces: impl IntoIterator<Item = (&'a Label, &'a [Print])>) -> String {
    let rows = surfaces
        .into_iter()
        .flat_map(|(label, prints)| prints.iter().map(move |print| (label, print)));
    let rows: Vec<(&Label, &Print)> = rows.collect();
    let is_filled = |column: &Column| rows.iter().any(|(_, print)| !(column.1)(print).is_empty());
    let (required, optional) = COLUMNS.split_at(REQUIRED);
    let columns: Vec<&Column> = required
        .iter()
        .chain(optional.iter().filter(|column| is_filled(column)))
        .collect();
    let mut sheet = csv::Writer::from_writer(Vec::new());
    let header = std::iter::once("surface").chain(columns.iter().map(|(name, _)| *name));
    sheet.write_record(header).expect("memory takes every row");
    for (label, print) in rows {
        let cells = std::iter::once(label.to_string()).chain(columns.iter().map(|(_, cell)| cell(print)));
        sheet
            .write_record(cells)
            .expect("memory takes every row, and all have one length");
    }
    let bytes = sheet.into_inner().expect("memory takes every row");
    String::from_utf8(bytes).expect("all cells are UTF-8")
}

/// To the millimetre, as a total station gives it.
fn metres(length_m: f64) -> String {
    format!("{length_m:.3}")
}

fn known<T>(value: Option<T>, text: impl Fn(T) -> String) -> String {
    value.map_or_else(String::new, text)
}

fn remark(print: &Print, text: impl Fn(&Remarks) -> String) -> String {
    known(print.remarks.as_deref(), text)
}

fn list<T>(values: &[T], text: impl Fn(&T) -> String) -> String {
    values.iter().map(text).collect::<Vec<_>>().join(" ")
}

/// `along/across/depth`.
fn depth_sample(sample: &DepthSample) -> String {
    [sample.along_m, sample.across_m, sample.depth_m]
        .map(metres)
        .join("/")
}

fn further(remarks: &Remarks, name: &str) -> String {
    let found = remarks.further.iter().find(|(column, _)| &**column == name);
    found.map_or_else(String::new, |(_, cell)| cell.clone())
}
