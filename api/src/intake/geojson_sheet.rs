//! A sheet in GeoJSON (RFC 7946): Points are prints, Polygons are extents.

use super::batch::{Batches, Stop};
use super::column::{Column, Pair};
use super::extent;
use super::feature::{self, Feature};
use super::feature_stream::{self, Broken, Listener};
use super::form::{Cells, Form};
use super::locate::Locator;
use super::place::Ground;
use super::words::Words;
use super::{Fault, Faults};
use crate::crs::Crs;
use crate::store::SheetPrint;
use geojson::GeometryValue;
use serde_json::Value;
use std::io::Read;

/// Reads a sheet to its end and hands its prints and extents on; gives its faults.
///
/// # Errors
/// When the reader or PROJ fails, or nobody wants the records.
pub(super) fn read(
    reader: impl Read,
    crs: &Crs,
    ground: Ground,
    batches: Batches<'_>,
) -> Result<Faults, Stop> {
    let mut sheet = Sheet {
        locator: Locator::new(crs, ground),
        batches,
        words: Words::default(),
        faults: Faults::default(),
        waiting: Vec::new(),
        read: 0,
        placed: 0,
    };
    match feature_stream::read(reader, &mut sheet) {
        Ok(0) => sheet.faults.push(Fault::of_sheet(
            "a feature for each print: the collection is empty",
        )),
        Ok(_) => {}
        Err(Broken::Stop(stop)) => return Err(stop),
        Err(Broken::Sheet(fault)) => sheet.faults.push(fault),
    }
    sheet.finish()
}

struct Sheet<'s, 't> {
    locator: Locator<'s>,
    batches: Batches<'t>,
    words: Words,
    faults: Faults,
    /// Prints whose places are still those of their geometries; PROJ transforms many in one call
    /// far faster than each for itself.
    waiting: Vec<SheetPrint>,
    read: u64,
    /// How far the document had been read when the waiting prints were last placed.
    placed: u64,
}

impl Listener for Sheet<'_, '_> {
    fn crs(&mut self, crs: &Value) -> Result<(), Fault> {
        self.locator.take_crs(crs)
    }

    fn feature(&mut self, no: u64, feature: Value, read: u64) -> Result<(), Stop> {
        self.read = read;
        let feature = match Feature::new(no, feature) {
            Ok(feature) => feature,
            Err(fault) => {
                self.faults.push(fault);
                return Ok(());
            }
        };
        if feature.is_extent() {
            if let Some(extent) = extent::read(&feature, &self.locator, &mut self.faults)? {
                self.batches.extent(extent, read)?;
            }
            return Ok(());
        }
        self.print(&feature)
    }
}

impl Sheet<'_, '_> {
    fn print(&mut self, feature: &Feature) -> Result<(), Stop> {
        if !feature.is_sound(&mut self.faults) {
            return Ok(());
        }
        let mut texts = feature.texts();
        let point = point(feature);
        if let Some(&[_, _, elevation_m, ..]) = point
            && texts[Column::Elevation as usize].is_empty()
        {
            texts[Column::Elevation as usize] = elevation_m.to_string().into();
        }
        let cells: Cells<'_> = feature::cells(&texts);
        let is_given = |column: &Column| !cells[*column as usize].trim().is_empty();
        let pairs = Pair::ALL.map(|pair| pair.columns().iter().any(is_given));
        let ground = self.locator.ground();
        let mut form = Form::new(feature.no, cells, &mut self.faults);
        let place = match (pairs, point) {
            ([true, true], _) => {
                form.fault(&Pair::all_names(), "", Pair::ONE.to_owned());
                None
            }
            ([true, false], _) => form.place(Pair::Projected, ground),
            ([false, true], _) => form.place(Pair::Local, ground),
            (_, Some(&[x, y, ..])) => Some([x, y]),
            _ => {
                let expected =
                    "a Point, or the properties easting_m and northing_m, or local_x_m and local_y_m";
                form.fault("geometry", "", expected.to_owned());
                None
            }
        };
        let further = feature.further(&mut self.words);
        let Some((surface, print)) = form.print(place, further, &mut self.words) else {
            return Ok(());
        };
        let print = SheetPrint {
            row: feature.no,
            surface,
            print,
        };
        if pairs.contains(&true) {
            return self.batches.print(print, self.read);
        }
        self.waiting.push(print);
        if self.waiting.len() < Batches::FULL && self.read - self.placed < Batches::FULL_BYTES {
            return Ok(());
        }
        self.place_waiting()
    }

    fn place_waiting(&mut self) -> Result<(), Stop> {
        self.placed = self.read;
        let given: Vec<[f64; 2]> = self
            .waiting
            .iter()
            .map(|waiting| [waiting.print.easting_m, waiting.print.northing_m])
            .collect();
        let places = self.locator.locate(&given)?;
        for ((mut waiting, place), [x, y]) in self.waiting.drain(..).zip(places).zip(given) {
            match place {
                Ok([easting_m, northing_m]) => {
                    (waiting.print.easting_m, waiting.print.northing_m) = (easting_m, northing_m);
                    self.batches.print(waiting, self.read)?;
                }
                Err(expected) => {
                    let value = format!("{x}, {y}");
                    self.faults
                        .push(Fault::of_cell(waiting.row, "geometry", &value, expected));
                }
            }
        }
        Ok(())
    }

    fn finish(mut self) -> Result<Faults, Stop> {
        self.place_waiting()?;
        self.batches.finish(self.read)?;
        Ok(self.faults)
    }
}

/// The numbers of a Point; `None` where it has fewer than two.
fn point(feature: &Feature) -> Option<&[f64]> {
    match &feature.geometry {
        Some(GeometryValue::Point { coordinates }) if coordinates.len() >= 2 => Some(coordinates.as_slice()),
        _ => None,
    }
}
