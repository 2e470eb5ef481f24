//! The way from the thread that reads a sheet to the one that stores it.

use super::IntakeError;
use crate::crs::CrsFault;
use crate::store::{SheetExtent, SheetPrint};
use std::io;

/// Some records of a sheet.
#[derive(Debug, Default)]
pub(super) struct Batch {
    /// Prints.
    pub(super) prints: Vec<SheetPrint>,
    /// Extents.
    pub(super) extents: Vec<SheetExtent>,
    /// How many bytes of the sheet have been read by now.
    pub(super) read: u64,
}

/// Why reading stopped before the sheet's end, other than for a fault of the sheet.
#[derive(Debug)]
pub(super) enum Stop {
    /// The reader failed.
    Read(io::Error),
    /// PROJ failed.
    Crs(CrsFault),
    /// Whoever takes the records wants no more, and has told why himself.
    Unwanted,
}

impl From<Stop> for IntakeError {
    fn from(stop: Stop) -> Self {
        match stop {
            Stop::Read(error) => Self::Read(error),
            Stop::Crs(fault) => Self::Crs(fault),
            Stop::Unwanted => Self::Read(io::ErrorKind::BrokenPipe.into()),
        }
    }
}

/// Gathers records into batches and hands each on when it is full.
pub(super) struct Batches<'t> {
    batch: Batch,
    /// How far the sheet had been read when the last batch was handed on.
    handed_on: u64,
    take: &'t mut dyn FnMut(Batch) -> Result<(), Stop>,
}

impl<'t> Batches<'t> {
    /// Records in a batch: enough that handing it on costs nothing, few enough to stay in the cache.
    pub(super) const FULL: usize = 1_000;
    /// A batch ends after this many bytes of the sheet, however few its records: their notes may be long.
    pub(super) const FULL_BYTES: u64 = 1 << 20;

    /// Batches for whoever takes them.
    pub(super) fn new(take: &'t mut dyn FnMut(Batch) -> Result<(), Stop>) -> Self {
        Self {
            batch: Batch::default(),
            handed_on: 0,
            take,
        }
    }

    /// Adds a print; `read` is how far the sheet has been read.
    pub(super) fn print(&mut self, print: SheetPrint, read: u64) -> Result<(), Stop> {
        if self.batch.prints.is_empty() {
            self.batch.prints.reserve(Self::FULL);
        }
        self.batch.prints.push(print);
        self.hand_on_when_full(read)
    }

    /// Adds an extent.
    pub(super) fn extent(&mut self, extent: SheetExtent, read: u64) -> Result<(), Stop> {
        self.batch.extents.push(extent);
        self.hand_on_when_full(read)
    }

    /// Hands on what is left.
    pub(super) fn finish(mut self, read: u64) -> Result<(), Stop> {
        self.hand_on(read)
    }

    fn hand_on_when_full(&mut self, read: u64) -> Result<(), Stop> {
        let records = self.batch.prints.len() + self.batch.extents.len();
        if records < Self::FULL && read - self.handed_on < Self::FULL_BYTES {
            return Ok(());
        }
        self.hand_on(read)
    }

    fn hand_on(&mut self, read: u64) -> Result<(), Stop> {
        self.batch.read = read;
        self.handed_on = read;
        (self.take)(std::mem::take(&mut self.batch))
    }
}
