//! A print from the cells of its row: the one place where a sheet's words become the record,
//! whatever the sheet's format.

use super::cell::{self, Measure};
use super::column::{Column, Pair};
use super::place::Ground;
use super::words::Words;
use super::{Fault, Faults, radar};
use spatial::model::{Label, Limb, Print, Record, Remarks};
use std::sync::Arc;

/// The cells of a row by number of column; empty is unknown.
pub(super) type Cells<'c> = [&'c str; Column::COUNT];

/// The cells of one row, and what is wrong with them.
pub(super) struct Form<'f, 'c> {
    row: u64,
    cells: Cells<'c>,
    faults: &'f mut Faults,
    sound: bool,
}

impl<'f, 'c> Form<'f, 'c> {
    /// A row to be read.
    pub(super) fn new(row: u64, cells: Cells<'c>, faults: &'f mut Faults) -> Self {
        Self {
            row,
            cells,
            faults,
            sound: true,
        }
    }

    /// The place in the site's CRS that a pair of the row's values says.
    pub(super) fn place(&mut self, pair: Pair, ground: &Ground) -> Option<[f64; 2]> {
        let columns = pair.columns();
        let values = columns.map(|column| self.required(column, |text| cell::COORDINATE.read(text)));
        let [Some(first), Some(second)] = values else {
            return None;
        };
        let place = match pair {
            Pair::Projected => ground.check(first, second).map(|()| [first, second]),
            Pair::Local => ground.of_local([first, second]),
        };
        place
            .map_err(|expected| {
                let given = columns.map(|column| self.text(column)).join(", ");
                self.fault(&pair.names(), &given, expected);
            })
            .ok()
    }

    /// The surface's label and the print; `None` where the row has a fault, be it one of the place or
    /// of a further column that was noted before.
    pub(super) fn print(
        mut self,
        place: Option<[f64; 2]>,
        further: Vec<(Arc<str>, String)>,
        words: &mut Words,
    ) -> Option<(Label, Print)> {
        let surface = self.required(Column::Surface, cell::label);
        let label = self.required(Column::Print, cell::label);
        let length_m = self.required(Column::Length, |text| cell::SIZE.read(text));
        let azimuth_deg = self.measure(Column::Azimuth, cell::AZIMUTH);
        let record = self.optional(Column::Record, record);
        let depth_m = self.depth_m(record, &further);
        let print = Print {
            elevation_m: self.measure(Column::Elevation, cell::COORDINATE),
            position_sd_m: self.measure(Column::PositionSd, cell::SD_M),
            width_m: self.measure(Column::Width, cell::SIZE),
            depth_m,
            azimuth_deg: azimuth_deg.map(|azimuth| if azimuth == 360.0 { 0.0 } else { azimuth }),
            azimuth_sd_deg: self.measure(Column::AzimuthSd, cell::SD_DEG),
            side: self.optional(Column::Side, cell::side),
            limb: self.optional(Column::Limb, |text| cell::name(text, Limb::ALL, Limb::name)),
            record,
            digits: self.optional(Column::Digits, |text| cell::whole(text, 0..=10)),
            preservation: self.optional(Column::Preservation, preservation),
            morphotype: self.word(Column::Morphotype, words),
            field_trackway: self.optional(Column::Trackway, cell::label),
            field_order: self.optional(Column::Order, |text| cell::whole(text, 1..=u32::MAX)),
            observed_on: self.optional(Column::ObservedOn, cell::day),
            observer: self.word(Column::Observer, words),
            remarks: self.remarks(further),
            ..bare(label, place, length_m)?
        };
        if self.sound { Some((surface?, print)) } else { None }
    }

    /// Of a print its own depth, of an anomaly how deep it lies: as given, or from the time of a radar pulse.
    fn depth_m(&mut self, record: Option<Record>, further: &[(Arc<str>, String)]) -> Option<f64> {
        let measure = if record == Some(Record::Anomaly) {
            cell::BURIAL
        } else {
            cell::DEPTH
        };
        let given_m = self.measure(Column::Depth, measure);
        match radar::depth(record, given_m, further) {
            Ok(from_time_m) => given_m.or(from_time_m),
            Err((column, value, expected)) => {
                self.fault(column, &value, expected);
                None
            }
        }
    }

    /// Notes a fault of the row.
    pub(super) fn fault(&mut self, column: &str, value: &str, expected: String) {
        self.sound = false;
        self.faults
            .push(Fault::of_cell(self.row, column, value, expected));
    }

    fn text(&self, column: Column) -> &'c str {
        self.cells[column as usize].trim()
    }

    fn optional<T>(&mut self, column: Column, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        read(text)
            .map_err(|expected| self.fault(column.name(), text, expected))
            .ok()
    }

    fn required<T>(&mut self, column: Column, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        if self.text(column).is_empty() {
            self.fault(column.name(), "", "a value: every print needs one".to_owned());
        }
        self.optional(column, read)
    }

    fn measure(&mut self, column: Column, measure: Measure) -> Option<f64> {
        self.optional(column, |text| measure.read(text))
    }

    fn word(&self, column: Column, words: &mut Words) -> Option<Arc<str>> {
        let text = self.text(column);
        (!text.is_empty()).then(|| words.share(text))
    }

    fn remarks(&mut self, further: Vec<(Arc<str>, String)>) -> Option<Box<Remarks>> {
        let note = self.cells[Column::Note as usize];
        let remarks = Remarks {
            overlies: self.optional(Column::Overlies, cell::labels).unwrap_or_default(),
            depth_samples: self
                .optional(Column::DepthSamples, cell::depth_samples)
                .unwrap_or_default(),
            note: (!note.is_empty()).then(|| note.to_owned()),
            further,
        };
        (remarks != Remarks::default()).then(|| Box::new(remarks))
    }
}

/// A print with the required measures; `None` where one has a fault, which is noted by then.
fn bare(label: Option<Label>, place: Option<[f64; 2]>, length_m: Option<f64>) -> Option<Print> {
    let [easting_m, northing_m] = place?;
    Some(Print::new(label?, easting_m, northing_m, length_m?))
}

/// What was recorded; an anomaly may be called in full what it is.
fn record(text: &str) -> Result<Record, String> {
    if text.eq_ignore_ascii_case("subsurface anomaly") {
        return Ok(Record::Anomaly);
    }
    cell::name(text, Record::ALL, Record::name)
}

/// The grade is kept in single precision, and read in it: read through a longer number, it could be
/// rounded twice, and an exported grade would not come back as it was.
fn preservation(text: &str) -> Result<f32, String> {
    cell::PRESERVATION.read(text)?;
    text.parse().map_err(|_| "a grade of preservation".to_owned())
}
