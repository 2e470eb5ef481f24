//! Azimuths of a sheet, turned to grid north batch by batch once its prints have their places.

use super::batch::{Batch, Stop};
use super::north::{NoTurn, North, Sighting, Turn};
use super::{Column, Fault, Faults};
use crate::crs::Crs;
use crate::store::SheetPrint;
use serde::Serialize;
use spatial::angle::fold_deg;
use spatial::frame::magnetic::{Compass, MagneticFault};
use spatial::model::{LocalGrid, Site};

/// What became of a sheet's azimuths that were not those of grid north.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Turned {
    /// The north that they were counted from.
    pub north: &'static str,
    /// How many there were.
    pub turned: u64,
    /// The smallest angle that was added to one, degrees, clockwise positive; `None` where there were none.
    pub least_turn_deg: Option<f64>,
    /// The largest.
    pub greatest_turn_deg: Option<f64>,
    /// The largest standard error of a declination, degrees, by the model's own account; `None` where there
    /// was no declination. Iron, cables and magnetic rock near by come on top.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub declination_sd_deg: Option<f64>,
    /// How many were read where a compass is sluggish.
    pub weak_compass: u64,
}

/// Turns the azimuths of a sheet.
pub(super) struct Turning<'c> {
    crs: &'c Crs,
    local: Option<&'c LocalGrid>,
    north: North,
    turned: Turned,
    faults: Faults,
    /// Whether it was told that the north or the day of the whole sheet is at fault: once is enough.
    told_of_sheet: bool,
}

impl<'c> Turning<'c> {
    /// From a north to the grid north of a site's CRS.
    pub(super) fn new(site: &'c Site, crs: &'c Crs, north: North) -> Self {
        let turned = Turned {
            north: north.name(),
            turned: 0,
            least_turn_deg: None,
            greatest_turn_deg: None,
            declination_sd_deg: None,
            weak_compass: 0,
        };
        Self {
            crs,
            local: site.local_grid.as_ref(),
            north,
            turned,
            faults: Faults::default(),
            told_of_sheet: false,
        }
    }

    /// Turns the azimuths of a batch. Where one has a fault, which is noted, it stays as it is: nothing of the
    /// sheet is stored then.
    ///
    /// # Errors
    /// When PROJ cannot be used.
    pub(super) fn turn(&mut self, batch: &mut Batch) -> Result<(), Stop> {
        if self.north == North::Grid {
            return Ok(());
        }
        let given = |print: &&mut SheetPrint| print.print.azimuth_deg.is_some();
        let mut prints: Vec<&mut SheetPrint> = batch.prints.iter_mut().filter(given).collect();
        let sightings: Vec<Sighting> = prints.iter().map(|print| sighting(print)).collect();
        let turns = self
            .north
            .turns(self.crs, self.local, &sightings)
            .map_err(Stop::Crs)?;
        for (print, turn) in prints.iter_mut().zip(turns) {
            match turn {
                Ok(turn) => {
                    self.count(turn);
                    let azimuth_deg = &mut print.print.azimuth_deg;
                    *azimuth_deg = azimuth_deg.map(|azimuth_deg| fold_deg(azimuth_deg + turn.turn_deg));
                }
                Err(reason) => self.note(print, &reason),
            }
        }
        Ok(())
    }

    /// The faults of the sheet together with those of its azimuths, and what became of these; `None` where they
    /// were those of grid north.
    pub(super) fn end(self, faults: Faults) -> (Faults, Option<Turned>) {
        let turned = (self.north != North::Grid).then_some(self.turned);
        (faults.and(self.faults), turned)
    }

    fn count(&mut self, turn: Turn) {
        let Turn {
            turn_deg,
            declination,
        } = turn;
        let turned = &mut self.turned;
        turned.turned += 1;
        turned.least_turn_deg = Some(
            turned
                .least_turn_deg
                .map_or(turn_deg, |least| least.min(turn_deg)),
        );
        turned.greatest_turn_deg = Some(
            turned
                .greatest_turn_deg
                .map_or(turn_deg, |most| most.max(turn_deg)),
        );
        if let Some(declination) = declination {
            let sd_deg = turned.declination_sd_deg.unwrap_or(0.0).max(declination.sd_deg);
            turned.declination_sd_deg = Some(sd_deg);
            turned.weak_compass += u64::from(declination.compass == Compass::Weak);
        }
    }

    fn note(&mut self, SheetPrint { row, print, .. }: &SheetPrint, reason: &NoTurn) {
        let place = format!("{}, {}", Column::Easting.name(), Column::Northing.name());
        let number = |number: Option<f64>| number.map(|number| number.to_string()).unwrap_or_default();
        let (column, value) = match reason {
            NoTurn::Unknown(MagneticFault::Date(day)) if print.observed_on.is_none() => {
                return self.note_of_sheet("surveyed_on", &day.to_string(), reason);
            }
            NoTurn::NoGrid => return self.note_of_sheet("north", self.north.name(), reason),
            NoTurn::Unknown(MagneticFault::Date(day)) => (Column::ObservedOn.name(), day.to_string()),
            NoTurn::NoDay => (Column::ObservedOn.name(), String::new()),
            NoTurn::Unknown(MagneticFault::Height(_)) => {
                (Column::Elevation.name(), number(print.elevation_m))
            }
            NoTurn::Useless => (Column::Azimuth.name(), number(print.azimuth_deg)),
            NoTurn::Unknown(MagneticFault::Place { .. }) | NoTurn::NoPlace(_) => {
                (&*place, format!("{}, {}", print.easting_m, print.northing_m))
            }
        };
        self.faults
            .push(Fault::of_cell(*row, column, &value, reason.to_string()));
    }

    /// What was said of the whole sheet is wrong for the whole sheet.
    fn note_of_sheet(&mut self, option: &str, value: &str, reason: &NoTurn) {
        if !std::mem::replace(&mut self.told_of_sheet, true) {
            let fault = Fault::of_cell(0, option, value, reason.to_string());
            self.faults.push(Fault { row: None, ..fault });
        }
    }
}

fn sighting(SheetPrint { print, .. }: &SheetPrint) -> Sighting {
    Sighting {
        position: [print.easting_m, print.northing_m],
        height_m: print.elevation_m.unwrap_or(0.0),
        day: print.observed_on,
    }
}

#[cfg(test)]
#[path = "turning_tests.rs"]
mod tests;
