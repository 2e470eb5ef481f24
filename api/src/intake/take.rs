//! Taking a sheet: one thread reads and checks, the caller's own stores.

use super::batch::{Batch, Batches, Stop};
use super::place::Ground;
use super::turning::{Turned, Turning};
use super::{
    Column, Fault, Faults, IntakeError, North, SheetFormat, SheetOptions, csv_sheet, geojson_sheet, opening,
};
use crate::crs::Crs;
use crate::store::{Change, Conflict, Outcome, RowConflict, SheetStore, SheetTransaction, StoreError, Taken};
use spatial::model::Site;
use std::io::Read;
use std::panic::resume_unwind;
use std::sync::mpsc::{Receiver, sync_channel};
use std::thread;

/// Batches that may wait for the store: reading goes on while a store over a network takes some thousand prints at once.
const WAITING: usize = 24;

/// What a sheet without faults holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, serde::Serialize)]
pub struct Checked {
    /// How many prints.
    pub prints: u64,
    /// How many extents.
    pub extents: u64,
    /// What would become of azimuths that are not those of grid north.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub azimuths: Option<Turned>,
}

/// What became of a sheet.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize)]
pub struct Report {
    /// What it did to the record.
    #[serde(flatten)]
    pub taken: Taken,
    /// What became of azimuths that were not those of grid north.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub azimuths: Option<Turned>,
}

/// Takes a sheet into the store, whole or not at all; it is on disk when this returns.
///
/// # Errors
/// [`IntakeError::Faults`] with every fault where the sheet has any. What only the whole sheet can
/// show (a print that overlies a missing one, two prints at one place of a trackway) is looked for
/// once no row has a fault of its own. Other errors when the sheet cannot be read, when the store
/// fails, or when the site's CRS is unfit. Nothing is stored then.
pub fn take_sheet(
    store: &dyn SheetStore,
    site: &Site,
    format: SheetFormat,
    reader: impl Read + Send,
    options: &SheetOptions<'_>,
    change: &Change,
) -> Result<Report, IntakeError> {
    let crs = Crs::for_site(site.crs)?;
    let north = options.north;
    let (sender, batches) = sync_channel(WAITING);
    thread::scope(|scope| {
        let reading = scope.spawn(move || {
            let mut take = |batch| sender.send(batch).map_err(|_| Stop::Unwanted);
            read(format, reader, site, &crs, north, &mut take)
        });
        let stored = store_all(store, site, batches, options, change);
        let read = reading.join().unwrap_or_else(|panic| resume_unwind(panic));
        let stored = stored?;
        let (faults, azimuths) = read?;
        let taken = stored.settle(faults)?;
        Ok(Report { taken, azimuths })
    })
}

/// Reads and checks a sheet without a store. Faults that only the store can see, such as a label that
/// comes twice, are not among those that it finds.
///
/// # Errors
/// As [`take_sheet`].
pub fn check_sheet(
    site: &Site,
    format: SheetFormat,
    reader: impl Read,
    options: &SheetOptions<'_>,
) -> Result<Checked, IntakeError> {
    let crs = Crs::for_site(site.crs)?;
    let mut checked = Checked::default();
    let mut take = |batch: Batch| {
        checked.prints += batch.prints.len() as u64;
        checked.extents += batch.extents.len() as u64;
        tell(options, &batch);
        Ok(())
    };
    let (faults, azimuths) = read(format, reader, site, &crs, options.north, &mut take)?;
    if faults.is_empty() {
        Ok(Checked { azimuths, ..checked })
    } else {
        Err(IntakeError::Faults(faults))
    }
}

/// Reads a sheet to its end; its faults, and what became of its azimuths.
pub(super) fn read(
    format: SheetFormat,
    reader: impl Read,
    site: &Site,
    crs: &Crs,
    north: North,
    take: &mut dyn FnMut(Batch) -> Result<(), Stop>,
) -> Result<(Faults, Option<Turned>), Stop> {
    let mut turning = Turning::new(site, crs, north);
    let reader = match opening::open(reader).map_err(Stop::Read)? {
        Ok(reader) => reader,
        Err(fault) => return Ok(turning.end(Faults::one(fault))),
    };
    let ground = Ground::of(site, crs);
    let mut turn_and_take = |mut batch: Batch| {
        turning.turn(&mut batch)?;
        take(batch)
    };
    let batches = Batches::new(&mut turn_and_take);
    let faults = match format {
        SheetFormat::Csv => csv_sheet::read(reader, &ground, batches),
        SheetFormat::GeoJson => geojson_sheet::read(reader, crs, ground, batches),
    }?;
    Ok(turning.end(faults))
}

/// What has come into the store so far, not yet for good.
struct Stored<'store> {
    /// `None` as long as no record has come: a sheet that has none need not hold the store.
    sheet: Option<Box<dyn SheetTransaction + 'store>>,
    faults: Faults,
}

fn store_all<'store>(
    store: &'store dyn SheetStore,
    site: &Site,
    batches: Receiver<Batch>,
    options: &SheetOptions<'_>,
    change: &Change,
) -> Result<Stored<'store>, StoreError> {
    let mut sheet: Option<Box<dyn SheetTransaction>> = None;
    let mut faults = Faults::default();
    for batch in batches {
        if !batch.prints.is_empty() || !batch.extents.is_empty() {
            let sheet = match &mut sheet {
                Some(sheet) => sheet,
                None => sheet.insert(store.begin_sheet(&site.slug, change)?),
            };
            let conflicts = [
                sheet.put_prints(&batch.prints)?,
                sheet.put_extents(&batch.extents)?,
            ];
            conflicts
                .iter()
                .flatten()
                .for_each(|conflict| faults.push(fault(conflict)));
        }
        tell(options, &batch);
    }
    Ok(Stored { sheet, faults })
}

fn tell(options: &SheetOptions<'_>, batch: &Batch) {
    if let Some(progress) = options.progress {
        progress(batch.read);
    }
}

impl Stored<'_> {
    /// Finishes a sheet that has been read without fault; gives up any other.
    fn settle(self, faults: Faults) -> Result<Taken, IntakeError> {
        let faults = faults.and(self.faults);
        let sheet = match self.sheet {
            Some(sheet) if faults.is_empty() => sheet,
            Some(mut sheet) => {
                let late = listed(&sheet.late_conflicts()?);
                return Err(IntakeError::Faults(faults.and(late)));
            }
            None => return Err(IntakeError::Faults(faults)),
        };
        match sheet.finish()? {
            Outcome::Taken(taken) => Ok(taken),
            Outcome::Refused(conflicts) => Err(IntakeError::Faults(listed(&conflicts))),
        }
    }
}

/// Conflicts in the words of faults.
pub(crate) fn listed(conflicts: &[RowConflict]) -> Faults {
    let mut faults = Faults::default();
    conflicts.iter().for_each(|conflict| faults.push(fault(conflict)));
    faults
}

/// A conflict with the rest of the sheet or with the store, in the words of a fault.
fn fault(found: &RowConflict) -> Fault {
    let (column, value, expected) = match &found.conflict {
        Conflict::DuplicatePrint => (
            Column::Print.name(),
            "",
            "each print of a surface once: an earlier row has the same surface and print".to_owned(),
        ),
        Conflict::DuplicateExtent => (
            "extent",
            "",
            "each extent of a surface once: an earlier feature has the same surface and extent".to_owned(),
        ),
        Conflict::OverliesUnknown(label) => (
            Column::Overlies.name(),
            label.as_str(),
            "the labels of prints on the same surface, in this sheet or stored before".to_owned(),
        ),
        Conflict::SameOrder(other) => (
            Column::Order.name(),
            "",
            format!("another place in the trackway: print {other} of the same limb has this one"),
        ),
        Conflict::PrintUnknown(label) => ("prints", label.as_str(), "prints of the same surface".to_owned()),
        Conflict::PrintTwice(label) => ("prints", label.as_str(), "each print once".to_owned()),
        Conflict::NotOfField(label) => (
            Column::Trackway.name(),
            label.as_str(),
            "another label: a trackway that has been made or accepted since has this one, and other prints"
                .to_owned(),
        ),
    };
    Fault::of_cell(found.row, column, value, expected)
}
