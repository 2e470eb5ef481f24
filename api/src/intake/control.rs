//! Control points: pegs that were measured both in a site's local grid and in its CRS.

use super::cell::{self, Measure};
use super::column::Column;
use super::header::{self, Delimiter};
use super::place::Ground;
use super::records::{Broken, Records, Row};
use super::{Fault, Faults, IntakeError, opening};
use crate::crs::Crs;
use spatial::model::{ControlPoint, Site};
use std::io::Read;

/// The columns of a sheet of control points.
const COLUMNS: [&str; 5] = ["name", "local_x_m", "local_y_m", "easting_m", "northing_m"];
/// What the numbers of a control point can be, in the order of columns.
const NUMBERS: [Measure; 4] = [cell::LOCAL, cell::LOCAL, cell::COORDINATE, cell::COORDINATE];
/// More points than any field party drives pegs: each is compared with each.
const MOST: usize = 500;
/// A name is to fit into a table.
const LONGEST_NAME: usize = 63;

/// Reads control points from a CSV sheet (a header row with `name, local_x_m, local_y_m, easting_m, northing_m`
/// in any order; further columns are passed over) and adds `more`.
///
/// They come in the order of names: the same points are to give the same tie, to the last digit, whatever
/// order they were written in.
///
/// # Errors
/// [`IntakeError::Faults`] with every fault: what is no number or no name, a name that comes twice, a place
/// outside the area of use of the site's CRS. Others when the sheet cannot be read, or the CRS is unfit.
pub fn control_points(
    site: &Site,
    sheet: Option<impl Read>,
    more: &[ControlPoint],
) -> Result<Vec<ControlPoint>, IntakeError> {
    let ground = Ground::of(site, &*Crs::for_site(site.crs)?);
    let mut pegs = Pegs {
        ground: &ground,
        points: Vec::new(),
        faults: Faults::default(),
    };
    if let Some(sheet) = sheet {
        match opening::open(sheet).map_err(IntakeError::Read)? {
            Ok(reader) => match pegs.read(&mut Records::new(reader)) {
                Err(Broken::Read(error)) => return Err(IntakeError::Read(error)),
                Err(Broken::Sheet(fault)) => pegs.faults.push(fault),
                Ok(()) => {}
            },
            Err(fault) => pegs.faults.push(fault),
        }
    }
    for point in more {
        pegs.add(None, point.clone());
    }
    if !pegs.faults.is_empty() {
        return Err(IntakeError::Faults(pegs.faults));
    }
    pegs.points.sort_by(|one, other| one.name.cmp(&other.name));
    Ok(pegs.points)
}

/// Reads one control point as `NAME,X,Y,E,N`; the name may hold commas.
///
/// # Errors
/// What was expected.
pub fn parse_control_point(text: &str) -> Result<ControlPoint, String> {
    let mut parts: Vec<&str> = text.rsplitn(COLUMNS.len(), ',').map(str::trim).collect();
    parts.reverse();
    let form = "NAME,X,Y,E,N in metres, as in peg1,0,20,480000.25,4790000.5";
    let Ok([name, numbers @ ..]) = <[&str; COLUMNS.len()]>::try_from(parts) else {
        return Err(format!("expected {form}"));
    };
    let read = numbers.iter().zip(&NUMBERS).zip(&COLUMNS[1..]);
    let read: Result<Vec<f64>, String> = read
        .map(|((text, measure), column)| {
            measure
                .read(text)
                .map_err(|expected| format!("{column} {text:?}: expected {expected} ({form})"))
        })
        .collect();
    Ok(point(check_name(name)?, &read?))
}

/// A point with these numbers, in the order of columns.
fn point(name: String, numbers: &[f64]) -> ControlPoint {
    ControlPoint {
        name,
        local_x_m: numbers[0],
        local_y_m: numbers[1],
        easting_m: numbers[2],
        northing_m: numbers[3],
    }
}

fn check_name(name: &str) -> Result<String, String> {
    if name.is_empty() {
        return Err("a name: every control point needs one".to_owned());
    }
    if name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
        return Err(format!("a name of one line, at most {LONGEST_NAME} characters"));
    }
    Ok(name.to_owned())
}

/// The control points so far, and what is wrong with them.
struct Pegs<'g> {
    ground: &'g Ground,
    points: Vec<ControlPoint>,
    faults: Faults,
}

impl Pegs<'_> {
    fn read<R: Read>(&mut self, records: &mut Records<R>) -> Result<(), Broken> {
        let Some((width, columns)) = self.read_header(records)? else {
            return Ok(());
        };
        let mut rows = 0;
        while let Some(row) = records.next()? {
            if row.is_blank() {
                continue;
            }
            rows += 1;
            if rows > MOST {
                let expected = format!("at most {MOST} control points; the rest of the sheet was not read");
                self.faults.push(Fault::of_row(row.no, expected));
                return Ok(());
            }
            if row.len() == width {
                self.take(&row, columns);
            } else {
                let expected = format!("{width} cells, as in the header row, not {}", row.len());
                self.faults.push(Fault::of_row(row.no, expected));
            }
        }
        if rows == 0 {
            let expected = "a row for each control point below the header row";
            self.faults.push(Fault::of_sheet(expected));
        }
        Ok(())
    }

    /// How many columns there are and where each of ours stands; `None` where the header row has faults.
    fn read_header<R: Read>(
        &mut self,
        records: &mut Records<R>,
    ) -> Result<Option<(usize, [usize; COLUMNS.len()])>, Broken> {
        let Some(row) = records.next()? else {
            let expected = "a header row and a row for each control point: the file has only blank lines";
            self.faults.push(Fault::of_sheet(expected));
            return Ok(None);
        };
        let (no, names) = (row.no, header::texts(&row));
        if let Some(delimiter) = Delimiter::of(&names) {
            let below = records.next()?;
            let first_row = below.map(|row| header::texts(&row)).unwrap_or_default();
            self.faults
                .push(Fault::of_row(no, delimiter.expected(&first_row)));
            return Ok(None);
        }
        let before = self.faults.total;
        let columns = COLUMNS.map(|column| self.find(no, column, &names));
        Ok((self.faults.total == before).then_some((names.len(), columns)))
    }

    /// Where a column stands; 0, and a fault, where there is none or there are two.
    fn find(&mut self, row: u64, column: &str, names: &[String]) -> usize {
        let mut found = (0..names.len()).filter(|no| names[*no].trim() == column);
        match (found.next(), found.next()) {
            (Some(no), None) => return no,
            (Some(_), Some(_)) => self
                .faults
                .push(Fault::of_cell(row, column, column, header::TWICE)),
            (None, _) => self.faults.push(missing(row, column, names)),
        }
        0
    }

    fn take(&mut self, row: &Row<'_>, columns: [usize; COLUMNS.len()]) {
        let before = self.faults.total;
        let [name, numbers @ ..] = columns;
        let name = self.cell(row, COLUMNS[0], name, check_name);
        let mut read = [0.0; NUMBERS.len()];
        for (no, at) in numbers.into_iter().enumerate() {
            let number = self.cell(row, COLUMNS[no + 1], at, |text| match text {
                "" => Err("a value: every control point needs one".to_owned()),
                text => NUMBERS[no].read(text),
            });
            read[no] = number.unwrap_or_default();
        }
        if let Some(name) = name
            && self.faults.total == before
        {
            self.add(Some(row.no), point(name, &read));
        }
    }

    /// Reads a cell; `None`, and a fault, where it does not fit.
    fn cell<T>(
        &mut self,
        row: &Row<'_>,
        column: &str,
        at: usize,
        read: impl Fn(&str) -> Result<T, String>,
    ) -> Option<T> {
        let bytes = row.bytes(at);
        let value = match std::str::from_utf8(bytes) {
            Ok(text) => read(text.trim()),
            Err(_) => Err("text in UTF-8; save the sheet as CSV UTF-8".to_owned()),
        };
        value
            .map_err(|expected| {
                let text = String::from_utf8_lossy(bytes);
                self.faults
                    .push(Fault::of_cell(row.no, column, text.trim(), expected));
            })
            .ok()
    }

    /// Adds a point that lies where the site can be and whose name is not taken.
    fn add(&mut self, row: Option<u64>, point: ControlPoint) {
        let mut refuse = |column: &str, value: &str, expected: String| {
            self.faults.push(Fault {
                row,
                ..Fault::of_cell(0, column, value, expected)
            });
        };
        if self.points.iter().any(|other| other.name == point.name) {
            let expected = "each control point once: an earlier one has the same name";
            refuse("name", &point.name, expected.to_owned());
        } else if let Err(expected) = self.ground.check(point.easting_m, point.northing_m) {
            let value = format!("{}, {}", point.easting_m, point.northing_m);
            refuse("easting_m, northing_m", &value, expected);
        } else {
            self.points.push(point);
        }
    }
}

fn missing(row: u64, column: &str, names: &[String]) -> Fault {
    let known = Column::named(column);
    let is_meant = |name: &&String| match known {
        Some(known) => known.is_meant_by(name),
        None => name.trim().eq_ignore_ascii_case(column),
    };
    // A name that stands for another of our columns is not meant for this one.
    let mut others = names.iter().filter(|name| !COLUMNS.contains(&name.trim()));
    let needed = format!("control points need {}", COLUMNS.join(", "));
    match others.find(is_meant) {
        Some(other) => {
            let expected =
                format!("a column {column}: rename the column {other:?} if that is meant ({needed})");
            Fault::of_cell(row, column, other, expected)
        }
        None => Fault::of_cell(row, column, "", format!("a column {column}: {needed}")),
    }
}
