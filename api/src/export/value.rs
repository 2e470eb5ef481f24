//! What a print says in each column of a sheet.

use crate::intake::Column;
use serde_json::{Number, Value};
use spatial::model::{DepthSample, Label, Print, Remarks};

/// The value of a column; `Null` where it is unknown.
pub(super) fn value(surface: &Label, print: &Print, column: Column) -> Value {
    let remarks = print.remarks.as_deref();
    match column {
        Column::Surface => surface.as_str().into(),
        Column::Print => print.label.as_str().into(),
        Column::Easting => print.easting_m.into(),
        Column::Northing => print.northing_m.into(),
        Column::Length => print.length_m.into(),
        // A place goes out in the CRS, whichever way it came: the site's local grid may change.
        Column::LocalX | Column::LocalY => Value::Null,
        Column::Elevation => print.elevation_m.into(),
        Column::PositionSd => print.position_sd_m.into(),
        Column::Width => print.width_m.into(),
        Column::Depth => print.depth_m.into(),
        Column::Azimuth => print.azimuth_deg.into(),
        Column::AzimuthSd => print.azimuth_sd_deg.into(),
        Column::Side => print.side.map(|side| side.name()).into(),
        Column::Limb => print.limb.map(|limb| limb.name()).into(),
        Column::Morphotype => print.morphotype.as_deref().into(),
        Column::Digits => print.digits.into(),
        Column::Preservation => print.preservation.map(short).into(),
        Column::Record => print.record.map(|record| record.name()).into(),
        Column::Trackway => print.field_trackway.as_ref().map(Label::as_str).into(),
        Column::Order => print.field_order.into(),
        Column::ObservedOn => print.observed_on.map(|day| day.to_string()).into(),
        Column::Observer => print.observer.as_deref().into(),
        Column::Overlies => remarks.and_then(overlies).into(),
        Column::DepthSamples => remarks.and_then(depth_samples).into(),
        Column::Note => remarks.and_then(|remarks| remarks.note.as_deref()).into(),
    }
}

/// The further columns of a print.
pub(super) fn further(print: &Print) -> &[(std::sync::Arc<str>, String)] {
    print
        .remarks
        .as_deref()
        .map(|remarks| remarks.further.as_slice())
        .unwrap_or_default()
}

/// A number in single precision with its own few digits, not those of its double: 0.1, not 0.10000000149.
fn short(number: f32) -> Option<Number> {
    Number::from_f64(number.to_string().parse().ok()?)
}

fn overlies(remarks: &Remarks) -> Option<String> {
    let labels: Vec<_> = remarks.overlies.iter().map(Label::as_str).collect();
    (!labels.is_empty()).then(|| labels.join(" "))
}

fn depth_samples(remarks: &Remarks) -> Option<String> {
    let written: Vec<_> = remarks
        .depth_samples
        .iter()
        .map(
            |DepthSample {
                 along_m,
                 across_m,
                 depth_m,
             }| format!("{along_m}/{across_m}/{depth_m}"),
        )
        .collect();
    (!written.is_empty()).then(|| written.join(" "))
}
