//! The first bytes of a sheet: what it is, whatever its name says.

use super::Fault;
use std::io::{self, Cursor, Read};

const UTF8_MARK: &[u8] = b"\xEF\xBB\xBF";
const ARCHIVE: &str = "plain text: this is a spreadsheet file or an archive (.xlsx, .ods, .zip), not text; in the spreadsheet program choose Save As, CSV UTF-8, and import that file";
const OLD_SPREADSHEET: &str = "plain text: this is a spreadsheet file (.xls), not text; in the spreadsheet program choose Save As, CSV UTF-8, and import that file";
const GZIP: &str = "plain text: this file is compressed (.gz); unpack it first";
const PDF: &str = "plain text: this is a PDF file; export the table as CSV from the program that made it";
const UTF16: &str = "UTF-8: this file is UTF-16; save it as CSV UTF-8 (not as Unicode text)";
const UTF32: &str = "UTF-8: this file is UTF-32; save it as CSV UTF-8";

/// How files begin that are no sheet, and what to say of them; the longer of two marks with one beginning stands first.
const NO_SHEETS: [(&[u8], &str); 8] = [
    (b"PK\x03\x04", ARCHIVE),
    (b"\xD0\xCF\x11\xE0", OLD_SPREADSHEET),
    (b"\x1F\x8B", GZIP),
    (b"%PDF", PDF),
    (b"\xFF\xFE\x00\x00", UTF32),
    (b"\x00\x00\xFE\xFF", UTF32),
    (b"\xFF\xFE", UTF16),
    (b"\xFE\xFF", UTF16),
];

/// Passes a byte-order mark of UTF-8 over.
///
/// # Errors
/// The outer one when the reader fails; the inner one where the file is empty or no text.
pub(super) fn open<R: Read>(mut reader: R) -> io::Result<Result<impl Read, Fault>> {
    const LONGEST_MARK: u64 = 4;
    let mut first = Vec::new();
    reader.by_ref().take(LONGEST_MARK).read_to_end(&mut first)?;
    if first.is_empty() || first == UTF8_MARK {
        return Ok(Err(Fault::of_sheet(
            "a header row and a row for each print: the file is empty",
        )));
    }
    if let Some((_, expected)) = NO_SHEETS.iter().find(|(mark, _)| first.starts_with(mark)) {
        return Ok(Err(Fault::of_sheet(*expected)));
    }
    if first.starts_with(UTF8_MARK) {
        first.drain(..UTF8_MARK.len());
    }
    Ok(Ok(Cursor::new(first).chain(reader)))
}
