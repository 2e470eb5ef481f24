//! Rows on their way in, in PostgreSQL's binary COPY format: numbers exact, and no round trip for each row.

use super::failure::{Fault, Given};
use postgres::Client;
use postgres::types::Type;
use std::io::Write;

/// Signature, flags and length of the header's extension.
const HEADER: &[u8] = b"PGCOPY\n\xff\r\n\0\0\0\0\0\0\0\0\0";
/// Stands where the next row's number of columns would.
const TRAILER: [u8; 2] = (-1i16).to_be_bytes();
/// Stands where a value's length would, for NULL.
const NULL: [u8; 4] = (-1i32).to_be_bytes();
/// What goes out in one message.
const MESSAGE: usize = 256 * 1024;

/// Rows that wait to be sent.
#[derive(Default)]
pub(super) struct Rows {
    bytes: Vec<u8>,
    count: u64,
}

impl Rows {
    /// Rows are sent when this many bytes wait: few round trips for a large sheet, and little memory.
    pub(super) const FULL: usize = 4 * 1024 * 1024;

    /// Begins a row of so many columns; each is added then.
    pub(super) fn begin(&mut self, columns: i16) -> &mut Self {
        self.count += 1;
        self.bytes.extend_from_slice(&columns.to_be_bytes());
        self
    }

    /// A value as bytes.
    fn value<const N: usize>(&mut self, value: Option<[u8; N]>) -> &mut Self {
        match value {
            Some(bytes) => self.raw(&bytes),
            None => {
                self.bytes.extend_from_slice(&NULL);
                self
            }
        }
    }

    fn raw(&mut self, bytes: &[u8]) -> &mut Self {
        let length = i32::try_from(bytes.len()).unwrap_or(i32::MAX);
        self.bytes.extend_from_slice(&length.to_be_bytes());
        self.bytes.extend_from_slice(bytes);
        self
    }

    /// A `text` or `json`.
    pub(super) fn text<'t>(&mut self, text: impl Into<Option<&'t str>>) -> &mut Self {
        match text.into() {
            Some(text) => self.raw(text.as_bytes()),
            None => self.value::<0>(None),
        }
    }

    /// A `text[]`.
    pub(super) fn texts<'t>(&mut self, texts: Option<impl ExactSizeIterator<Item = &'t str>>) -> &mut Self {
        let Some(texts) = texts else {
            return self.value::<0>(None);
        };
        let begin = self.bytes.len();
        self.bytes.extend_from_slice(&[0; 4]);
        let length = texts.len() as i32;
        // Dimensions, whether there are NULLs, the type, then length and lower bound of the one dimension.
        let dimensions = i32::from(length > 0);
        for word in [dimensions, 0, Type::TEXT.oid() as i32] {
            self.bytes.extend_from_slice(&word.to_be_bytes());
        }
        if length > 0 {
            for word in [length, 1] {
                self.bytes.extend_from_slice(&word.to_be_bytes());
            }
        }
        texts.for_each(|text| {
            self.raw(text.as_bytes());
        });
        let size = (self.bytes.len() - begin - 4) as i32;
        self.bytes[begin..begin + 4].copy_from_slice(&size.to_be_bytes());
        self
    }

    /// A `double precision`.
    pub(super) fn double(&mut self, number: impl Into<Option<f64>>) -> &mut Self {
        self.value(number.into().map(f64::to_be_bytes))
    }

    /// A `real`.
    pub(super) fn real(&mut self, number: Option<f32>) -> &mut Self {
        self.value(number.map(f32::to_be_bytes))
    }

    /// A `smallint`.
    pub(super) fn small(&mut self, number: Option<i16>) -> &mut Self {
        self.value(number.map(i16::to_be_bytes))
    }

    /// An `integer`.
    pub(super) fn integer(&mut self, number: i32) -> &mut Self {
        self.value(Some(number.to_be_bytes()))
    }

    /// A `bigint`.
    pub(super) fn bigint(&mut self, number: impl Into<Option<i64>>) -> &mut Self {
        self.value(number.into().map(i64::to_be_bytes))
    }

    /// How many rows wait.
    pub(super) fn count(&self) -> u64 {
        self.count
    }

    /// Whether it is time to send them.
    pub(super) fn is_full(&self) -> bool {
        self.bytes.len() >= Self::FULL
    }

    /// Moves the rows of another to the end of these.
    pub(super) fn append(&mut self, other: &mut Self) {
        self.bytes.append(&mut other.bytes);
        self.count += std::mem::take(&mut other.count);
    }

    /// Sends the rows into a table and forgets them; where that fails, they are still here.
    pub(super) fn send(&mut self, conn: &mut Client, table: &str, columns: &str) -> Given<()> {
        if self.count == 0 {
            return Ok(());
        }
        let mut writer = conn.copy_in(&format!("COPY {table} ({columns}) FROM STDIN (FORMAT binary)"))?;
        writer.write_all(HEADER)?;
        for part in self.bytes.chunks(MESSAGE) {
            writer.write_all(part)?;
        }
        writer.write_all(&TRAILER)?;
        if writer.finish()? != self.count {
            return Err(Fault::Broken("the database took fewer rows than it was sent"));
        }
        self.bytes.clear();
        self.count = 0;
        Ok(())
    }
}
