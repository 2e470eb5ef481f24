//! Prints as rows.

use super::column::{as_integer, count, integer, json, labels, parsed, required};
use super::failure::Given;
use super::rows::Rows;
use super::surface_row::Key;
use crate::store::words::Words;
use postgres::{GenericClient, Row, Transaction};
use spatial::model::{Label, Limb, Print, Record, Remarks, Side};

/// The columns in the order that `write` writes them.
pub(super) const COLUMNS: &str = "label, easting_m, northing_m, elevation_m, position_sd_m, length_m, width_m, depth_m, \
     azimuth_deg, azimuth_sd_deg, side, limb, record, digits, preservation, morphotype, field_trackway, field_order, \
     observed_on, observer, remarks, overlies, revision, site, surface, sheet_row, change";
const WIDTH: i16 = 27;
/// The columns that a sheet can change.
pub(super) const CHANGED: &str = "easting_m, northing_m, elevation_m, position_sd_m, length_m, width_m, depth_m, \
     azimuth_deg, azimuth_sd_deg, side, limb, record, digits, preservation, morphotype, field_trackway, field_order, \
     observed_on, observer, remarks, overlies";

/// The columns that `read` expects, of the table with this name or alias.
macro_rules! read_columns {
    (@ $of:literal $first:literal $($column:literal)+) => {
        concat!($of, ".", $first $(, ", ", $of, ".", $column)+)
    };
    ($of:literal) => {
        read_columns!(@ $of "label" "easting_m" "northing_m" "elevation_m" "position_sd_m" "length_m" "width_m"
            "depth_m" "azimuth_deg" "azimuth_sd_deg" "side" "limb" "record" "digits" "preservation" "morphotype"
            "field_trackway" "field_order" "observed_on" "observer" "remarks::text" "overlies" "revision")
    };
}
pub(super) use read_columns;

/// How many columns `read` takes.
pub(super) const READ: usize = 23;

const UNKNOWN: &str = "SELECT given.label FROM unnest($3::text[]) WITH ORDINALITY AS given (label, place) WHERE NOT EXISTS ( \
     SELECT 1 FROM print WHERE site = $1 AND surface = $2 AND label = given.label COLLATE \"C\") ORDER BY place LIMIT 1";

const FIND: &str = concat!(
    "SELECT ",
    read_columns!("print"),
    ", change FROM print WHERE site = $1 AND surface = $2 AND label = $3"
);
const OF_SURFACE: &str = concat!(
    "SELECT ",
    read_columns!("print"),
    " FROM print WHERE site = $1 AND surface = $2 ORDER BY label"
);

/// What `read_with_origin` reads.
pub(super) const WITH_ORIGIN: &str = concat!(
    "SELECT ",
    read_columns!("print"),
    ", sheet_row, change FROM print WHERE site = $1 AND surface = $2 ORDER BY label"
);

/// Where a print goes and where it comes from.
#[derive(Clone, Copy)]
pub(super) struct Origin {
    pub(super) key: Key,
    pub(super) sheet_row: u64,
    pub(super) change: i64,
}

/// Adds a row with all columns.
pub(super) fn write(rows: &mut Rows, origin: Origin, print: &Print, revision: u32) -> Given<()> {
    let remarks = print.remarks.as_deref();
    let overlies = remarks.filter(|remarks| !remarks.overlies.is_empty());
    let rest = remarks.map(without_overlies).transpose()?;
    let observed_on = print.observed_on.map(|day| day.to_string());
    rows.begin(WIDTH)
        .text(print.label.as_str())
        .double(print.easting_m)
        .double(print.northing_m)
        .double(print.elevation_m)
        .double(print.position_sd_m)
        .double(print.length_m)
        .double(print.width_m)
        .double(print.depth_m)
        .double(print.azimuth_deg)
        .double(print.azimuth_sd_deg)
        .text(print.side.map(Side::name))
        .text(print.limb.map(Limb::name))
        .text(print.record.map(Record::name))
        .small(print.digits.map(i16::from))
        .real(print.preservation)
        .text(print.morphotype.as_deref())
        .text(print.field_trackway.as_ref().map(Label::as_str))
        .bigint(print.field_order.map(i64::from))
        .text(observed_on.as_deref())
        .text(print.observer.as_deref())
        .text(rest.as_deref())
        .texts(overlies.map(|remarks| remarks.overlies.iter().map(Label::as_str)))
        .bigint(i64::from(revision))
        .integer(origin.key.site)
        .integer(origin.key.surface)
        .bigint(as_integer(origin.sheet_row))
        .bigint(origin.change);
    Ok(())
}

/// The remarks but for those in a column of their own. Most have nothing there, and are not copied.
fn without_overlies(remarks: &Remarks) -> serde_json::Result<String> {
    if remarks.overlies.is_empty() {
        return serde_json::to_string(remarks);
    }
    serde_json::to_string(&Remarks {
        overlies: Vec::new(),
        ..remarks.clone()
    })
}

/// The first of these labels that no print of the surface has.
pub(super) fn first_unknown(
    conn: &mut impl GenericClient,
    key: Key,
    labels: &[Label],
) -> Given<Option<Label>> {
    let labels: Vec<&str> = labels.iter().map(Label::as_str).collect();
    let row = conn.query_opt(UNKNOWN, &[&key.site, &key.surface, &labels])?;
    row.map(|row| required(&row, 0)).transpose()
}

/// The print with this label and the change that made its revision.
pub(super) fn find(conn: &mut impl GenericClient, key: Key, label: &Label) -> Given<Option<(Print, i64)>> {
    let row = conn.query_opt(FIND, &[&key.site, &key.surface, &label.as_str()])?;
    row.map(|row| Ok((read(&row, 0, &mut Words::default())?, row.try_get(READ)?)))
        .transpose()
}

/// All prints of a surface, `expected` of them, in the order of labels.
pub(super) fn of_surface(moment: &mut Transaction<'_>, key: Key, expected: u64) -> Given<Vec<Print>> {
    use postgres::fallible_iterator::FallibleIterator;
    let mut words = Words::default();
    let mut prints = Vec::with_capacity(usize::try_from(expected).unwrap_or(0));
    let mut rows = moment.query_raw(OF_SURFACE, [key.site, key.surface])?;
    while let Some(row) = rows.next()? {
        prints.push(read(&row, 0, &mut words)?);
    }
    Ok(prints)
}

/// A print, the row of the sheet that it was read from, and the change that made its revision.
pub(super) fn read_with_origin(row: &Row) -> Given<(Print, u64, i64)> {
    let print = read(row, 0, &mut Words::default())?;
    Ok((print, count(row, READ)?, row.try_get(READ + 1)?))
}

/// Reads a print from the columns at `at` and after.
pub(super) fn read(row: &Row, at: usize, words: &mut Words) -> Given<Print> {
    let digits: Option<i16> = row.try_get(at + 13)?;
    let mut shared = |at: usize| -> Given<_> {
        let word: Option<&str> = row.try_get(at)?;
        Ok(word.map(|word| words.shared(word)))
    };
    let (morphotype, observer) = (shared(at + 15)?, shared(at + 19)?);
    let mut print = Print {
        label: required(row, at)?,
        easting_m: row.try_get(at + 1)?,
        northing_m: row.try_get(at + 2)?,
        elevation_m: row.try_get(at + 3)?,
        position_sd_m: row.try_get(at + 4)?,
        length_m: row.try_get(at + 5)?,
        width_m: row.try_get(at + 6)?,
        depth_m: row.try_get(at + 7)?,
        azimuth_deg: row.try_get(at + 8)?,
        azimuth_sd_deg: row.try_get(at + 9)?,
        side: parsed(row, at + 10)?,
        limb: parsed(row, at + 11)?,
        record: parsed(row, at + 12)?,
        digits: digits.and_then(|digits| u8::try_from(digits).ok()),
        preservation: row.try_get(at + 14)?,
        morphotype,
        field_trackway: parsed(row, at + 16)?,
        field_order: integer(row, at + 17)?,
        observed_on: parsed(row, at + 18)?,
        observer,
        remarks: json(row, at + 20)?,
        revision: count(row, at + 22)?,
    };
    if let Some(remarks) = &mut print.remarks {
        remarks.overlies = labels(row, at + 21)?.unwrap_or_default();
    }
    words.share_names(&mut print);
    Ok(print)
}
