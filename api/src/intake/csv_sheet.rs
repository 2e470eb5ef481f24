//! A sheet in CSV (RFC 4180, UTF-8): a header row, and one row a print.

use super::batch::{Batches, Stop};
use super::column::Pair;
use super::form::{Cells, Form};
use super::header::{self, Delimiter, Slot};
use super::place::Ground;
use super::records::{Broken, Records, Row};
use super::words::Words;
use super::{Fault, Faults};
use crate::store::SheetPrint;
use std::io::Read;
use std::sync::Arc;

/// Reads a sheet to its end and hands its prints on; gives its faults.
///
/// # Errors
/// When the reader fails, or nobody wants the prints.
pub(super) fn read(reader: impl Read, ground: &Ground, mut batches: Batches<'_>) -> Result<Faults, Stop> {
    let mut sheet = Sheet {
        slots: Vec::new(),
        pair: Pair::Projected,
        ground,
        words: Words::default(),
        faults: Faults::default(),
    };
    let mut records = Records::new(reader);
    match sheet.read(&mut records, &mut batches) {
        Ok(()) => {}
        Err(End::Stop(stop)) => return Err(stop),
        Err(End::Broken(Broken::Read(error))) => return Err(Stop::Read(error)),
        Err(End::Broken(Broken::Sheet(fault))) => sheet.faults.push(fault),
    }
    batches.finish(records.read())?;
    Ok(sheet.faults)
}

struct Sheet<'g> {
    slots: Vec<Slot>,
    pair: Pair,
    ground: &'g Ground,
    words: Words,
    faults: Faults,
}

enum End {
    Stop(Stop),
    Broken(Broken),
}

impl Sheet<'_> {
    fn read<R: Read>(&mut self, records: &mut Records<R>, batches: &mut Batches<'_>) -> Result<(), End> {
        let mut rows: u64 = 0;
        if !self.read_header(records)? {
            return Ok(());
        }
        while let Some(row) = records.next().map_err(End::Broken)? {
            if row.is_blank() {
                continue;
            }
            rows += 1;
            let print = self.print(&row);
            let read = records.read();
            if let Some(print) = print {
                batches.print(print, read).map_err(End::Stop)?;
            }
        }
        if rows == 0 {
            self.faults
                .push(Fault::of_sheet("a row for each print below the header row"));
        }
        Ok(())
    }

    /// Reads the header row; false where it has faults, and the rows below would mean nothing.
    fn read_header<R: Read>(&mut self, records: &mut Records<R>) -> Result<bool, End> {
        let Some(row) = records.next().map_err(End::Broken)? else {
            let expected = "a header row and a row for each print: the file has only blank lines";
            self.faults.push(Fault::of_sheet(expected));
            return Ok(false);
        };
        let (no, names) = (row.no, header::texts(&row));
        if let Some(delimiter) = Delimiter::of(&names) {
            let below = records.next().map_err(End::Broken)?;
            let first_row = below.map(|row| header::texts(&row)).unwrap_or_default();
            self.faults
                .push(Fault::of_row(no, delimiter.expected(&first_row)));
            return Ok(false);
        }
        match header::slots(no, &names, self.ground) {
            Ok((slots, pair)) => {
                (self.slots, self.pair) = (slots, pair);
                Ok(true)
            }
            Err(faults) => {
                self.faults = faults;
                Ok(false)
            }
        }
    }

    fn print(&mut self, row: &Row<'_>) -> Option<SheetPrint> {
        let text = self.whole_text(row)?;
        let mut cells: Cells<'_> = [""; _];
        let mut further = Vec::new();
        let mut unnamed = None;
        let mut start = 0;
        for (slot, &end) in self.slots.iter().zip(row.ends) {
            let cell = &text[start..end];
            start = end;
            match slot {
                Slot::Known(column) => cells[*column as usize] = cell,
                Slot::Further(name) if !cell.is_empty() => further.push((Arc::clone(name), cell.to_owned())),
                Slot::Unnamed if !cell.is_empty() => unnamed = Some(cell),
                Slot::Further(_) | Slot::Unnamed => {}
            }
        }
        // The order of columns is free, so a record must not depend on it.
        further.sort_unstable();
        let mut form = Form::new(row.no, cells, &mut self.faults);
        if let Some(cell) = unnamed {
            form.fault(
                "",
                cell,
                "no value in a column that has no name in the header row".to_owned(),
            );
        }
        let place = form.place(self.pair, self.ground);
        let (surface, print) = form.print(place, further, &mut self.words)?;
        Some(SheetPrint {
            row: row.no,
            surface,
            print,
        })
    }

    /// The row's text, of which each cell is a part; `None` where it cannot be cut into the header's columns.
    fn whole_text<'r>(&mut self, row: &Row<'r>) -> Option<&'r str> {
        if row.len() != self.slots.len() {
            let fault = Fault::of_row(row.no, self.expected_cells(row));
            self.faults.push(fault);
            return None;
        }
        match std::str::from_utf8(row.text) {
            // Two halves of one letter can stand in neighbouring cells.
            Ok(text) if row.ends.iter().all(|end| text.is_char_boundary(*end)) && !row.text.contains(&0) => {
                Some(text)
            }
            _ => {
                self.note_unreadable(row);
                None
            }
        }
    }

    fn expected_cells(&self, row: &Row<'_>) -> String {
        let (found, expected) = (row.len(), self.slots.len());
        let hint = if row.line_breaks() > 0 {
            "; a cell of this row holds line breaks: is a double quote in it not closed?"
        } else if found > expected {
            "; a cell with a comma in it needs double quotes around it"
        } else {
            ""
        };
        format!("{expected} cells, as in the header row, not {found}{hint}")
    }

    fn note_unreadable(&mut self, row: &Row<'_>) {
        for (no, slot) in self.slots.iter().enumerate() {
            let bytes = row.bytes(no);
            let expected = match std::str::from_utf8(bytes) {
                Err(_) => "text in UTF-8; save the sheet as CSV UTF-8",
                Ok(text) if text.contains('\0') => "text without NUL characters",
                Ok(_) => continue,
            };
            let value = String::from_utf8_lossy(bytes);
            self.faults
                .push(Fault::of_cell(row.no, slot.name(), &value, expected));
        }
    }
}
