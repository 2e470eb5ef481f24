//! The records of a CSV sheet, one at a time, in bounded memory.
//!
//! The state machine is that of `csv-core` (RFC 4180; a line may end in CR LF, LF or CR). It is driven
//! here, and not by a ready-made reader, because such a reader lets one cell grow to the size of the
//! file, passes over blank lines without counting them, and takes a quote that is never closed for
//! a very long cell.

use super::Fault;
use csv_core::ReadRecordResult;
use std::io::{self, ErrorKind, Read};
use std::ops::Range;

/// Reads records; a row has the number that a spreadsheet shows.
pub(super) struct Records<R> {
    reader: R,
    buffer: Box<[u8]>,
    unread: Range<usize>,
    parser: csv_core::Reader,
    text: Vec<u8>,
    ends: Vec<usize>,
    row: u64,
    read: u64,
    /// The byte before the unread ones.
    last: u8,
    /// Whether the last line has been ended.
    ended: bool,
}

/// One record.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row<'r> {
    /// The number that a spreadsheet shows.
    pub(super) no: u64,
    /// The cells' texts without anything between them.
    pub(super) text: &'r [u8],
    /// Where each cell ends in that text.
    pub(super) ends: &'r [usize],
}

/// Why there are no more records.
#[derive(Debug)]
pub(super) enum Broken {
    /// The reader failed.
    Read(io::Error),
    /// The rest of the sheet cannot be made out.
    Sheet(Fault),
}

impl<R: Read> Records<R> {
    /// A record may have this many bytes. A field sheet's row has some hundreds.
    pub(super) const LONGEST: usize = 1 << 20;
    /// A record may have this many cells: no spreadsheet program has more columns.
    const WIDEST: usize = 16_384;
    const BUFFER: usize = 1 << 16;

    /// Reads from the first byte of the header row on.
    pub(super) fn new(reader: R) -> Self {
        Self {
            reader,
            buffer: vec![0; Self::BUFFER].into(),
            unread: 0..0,
            parser: csv_core::Reader::new(),
            text: vec![0; 4096],
            ends: vec![0; 64],
            row: 0,
            read: 0,
            last: b'\n',
            ended: false,
        }
    }

    /// How many bytes have been read.
    pub(super) fn read(&self) -> u64 {
        self.read
    }

    /// The next record that is no blank line; `None` at the end.
    ///
    /// # Errors
    /// When the reader fails, a record is too long, or a quote is not closed.
    pub(super) fn next(&mut self) -> Result<Option<Row<'_>>, Broken> {
        if !self.pass_blank_lines().map_err(Broken::Read)? {
            return Ok(None);
        }
        self.row += 1;
        let (mut texts, mut cells) = (0, 0);
        loop {
            if self.unread.is_empty() {
                self.fill().map_err(Broken::Read)?;
            }
            if self.unread.is_empty() {
                if self.ended {
                    return Err(Broken::Sheet(self.not_closed(cells)));
                }
                self.end_last_line();
            }
            let input = &self.buffer[self.unread.clone()];
            let (result, taken, written, ended) =
                self.parser
                    .read_record(input, &mut self.text[texts..], &mut self.ends[cells..]);
            if taken > 0 {
                self.last = input[taken - 1];
            }
            self.unread.start += taken;
            texts += written;
            cells += ended;
            match result {
                ReadRecordResult::Record => break,
                ReadRecordResult::InputEmpty => {}
                ReadRecordResult::OutputFull => self.longer(cells)?,
                ReadRecordResult::OutputEndsFull => self.wider()?,
                ReadRecordResult::End => return Ok(None),
            }
        }
        Ok(Some(Row {
            no: self.row,
            text: &self.text[..texts],
            ends: &self.ends[..cells],
        }))
    }

    /// Counts blank lines, which the parser would not; false at the end of the sheet.
    fn pass_blank_lines(&mut self) -> io::Result<bool> {
        loop {
            if self.unread.is_empty() {
                self.fill()?;
            }
            let Some(&byte) = self.buffer[self.unread.clone()].first() else {
                return Ok(false);
            };
            match byte {
                b'\n' if self.last == b'\r' => {}
                b'\n' | b'\r' => self.row += 1,
                _ => return Ok(true),
            }
            self.last = byte;
            self.unread.start += 1;
        }
    }

    fn fill(&mut self) -> io::Result<()> {
        loop {
            match self.reader.read(&mut self.buffer) {
                Ok(filled) => {
                    self.unread = 0..filled;
                    self.read += filled as u64;
                    return Ok(());
                }
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
    }

    /// Adds the line's end that the last line may lack. It ends the record unless it stands within quotes.
    fn end_last_line(&mut self) {
        self.ended = true;
        self.buffer[0] = b'\n';
        self.unread = 0..1;
    }

    /// Whether a line's end would not end the record; the parser is of no use after it.
    fn in_quotes(&mut self) -> bool {
        let (result, ..) = self.parser.read_record(b"\n", &mut [0; 2], &mut [0; 2]);
        !matches!(result, ReadRecordResult::Record)
    }

    fn longer(&mut self, cells: usize) -> Result<(), Broken> {
        if self.text.len() < Self::LONGEST {
            self.text.resize((2 * self.text.len()).min(Self::LONGEST), 0);
            return Ok(());
        }
        Err(Broken::Sheet(if self.in_quotes() {
            self.not_closed(cells)
        } else {
            Fault::of_row(
                self.row,
                format!(
                    "a row of at most 1 MiB: cell {} is too long, and the rest of the sheet was not read",
                    cells + 1
                ),
            )
        }))
    }

    fn wider(&mut self) -> Result<(), Broken> {
        if self.ends.len() < Self::WIDEST {
            self.ends.resize((2 * self.ends.len()).min(Self::WIDEST), 0);
            return Ok(());
        }
        Err(Broken::Sheet(Fault::of_row(
            self.row,
            format!(
                "at most {} cells in a row; the rest of the sheet was not read",
                Self::WIDEST
            ),
        )))
    }

    fn not_closed(&self, cells: usize) -> Fault {
        Fault::of_row(
            self.row,
            format!(
                "a closing quote: cell {} begins with a double quote that is not closed (within 1 MiB), so the rest of the sheet cannot be made out; close it, or double every quote inside the cell",
                cells + 1
            ),
        )
    }
}

impl<'r> Row<'r> {
    /// How many cells it has.
    pub(super) fn len(&self) -> usize {
        self.ends.len()
    }

    /// Whether every cell is empty, as in the rows that spreadsheets leave below a table.
    pub(super) fn is_blank(&self) -> bool {
        self.text.is_empty()
    }

    /// The bytes of a cell, counted from 0; empty where the row is too short.
    pub(super) fn bytes(&self, no: usize) -> &'r [u8] {
        let start = no.checked_sub(1).and_then(|before| self.ends.get(before));
        match self.ends.get(no) {
            Some(&end) => &self.text[start.copied().unwrap_or(0)..end],
            None => &[],
        }
    }

    /// The number of line breaks inside its cells.
    pub(super) fn line_breaks(&self) -> usize {
        self.text.iter().filter(|byte| **byte == b'\n').count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(sheet: &str) -> Result<Vec<(u64, Vec<String>)>, Fault> {
        let mut records = Records::new(sheet.as_bytes());
        let mut rows = Vec::new();
        loop {
            match records.next() {
                Ok(Some(row)) => {
                    let cells = (0..row.len())
                        .map(|no| String::from_utf8(row.bytes(no).to_vec()).unwrap())
                        .collect();
                    rows.push((row.no, cells));
                }
                Ok(None) => return Ok(rows),
                Err(Broken::Sheet(fault)) => return Err(fault),
                Err(Broken::Read(error)) => panic!("{error}"),
            }
        }
    }

    #[test]
    fn rows_have_the_numbers_that_a_spreadsheet_shows() {
        for end in ["\n", "\r\n", "\r"] {
            let sheet = ["a,b", "", "\"x\ny\",2", "", "", "3,\"4\"\"\"", ""].join(end);
            let rows = rows(&sheet).unwrap();
            assert_eq!(rows[0], (1, vec!["a".into(), "b".into()]));
            assert_eq!(rows[1], (3, vec!["x\ny".into(), "2".into()]), "{end:?}");
            assert_eq!(rows[2], (6, vec!["3".into(), "4\"".into()]), "{end:?}");
        }
        assert_eq!(rows("").unwrap(), []);
        assert_eq!(rows("\n\r\n").unwrap(), []);
        assert_eq!(rows("a,").unwrap()[0].1, ["a", ""]);
    }

    #[test]
    fn a_quote_that_is_never_closed_is_named() {
        let fault = rows("a,b\n1,\"2\n3,4\n").unwrap_err();
        assert_eq!(fault.row, Some(2));
        assert!(fault.expected.contains("cell 2"), "{fault}");
        let long = format!("a,b\n1,\"{}", "3,4\n".repeat(600_000));
        assert!(rows(&long).unwrap_err().expected.contains("closing quote"));
        assert!(rows("a\n\"b\"").is_ok());
        assert!(rows("a\n\"").is_err());
    }

    #[test]
    fn memory_stays_bounded_for_a_cell_of_a_gigabyte() {
        let endless = io::repeat(b'7').take(1 << 30);
        let mut records = Records::new(endless);
        let Err(Broken::Sheet(fault)) = records.next() else {
            panic!("a gigabyte was taken")
        };
        assert!(fault.expected.contains("1 MiB"), "{fault}");
        assert!(records.text.len() <= Records::<io::Empty>::LONGEST);
        assert!(records.read() < 2 << 20);
        let mut records = Records::new(io::repeat(b',').take(1 << 30));
        assert!(matches!(records.next(), Err(Broken::Sheet(_))));
    }
}
