//! Prints as rows.

use super::column::{json, parsed, required, text};
use super::failure::{Doing, unwritable};
use super::past::Kept;
use super::surface_row::as_integer;
use crate::store::StoreError;
use crate::store::words::Words;
use rusqlite::{Connection, OptionalExtension, Row, Statement, named_params};
use spatial::model::{Label, Limb, Print, Record, Side};

/// The columns in the order that `read` expects.
macro_rules! columns {
    () => {
        "label, easting_m, northing_m, elevation_m, position_sd_m, length_m, width_m, depth_m, azimuth_deg, \
         azimuth_sd_deg, side, limb, record, digits, preservation, morphotype, field_trackway, field_order, \
         observed_on, observer, remarks, revision"
    };
}

const ADD: &str = concat!(
    "INSERT INTO print (",
    columns!(),
    ", surface, sheet_row, change) VALUES (:label, :easting_m, :northing_m, :elevation_m, :position_sd_m, \
     :length_m, :width_m, :depth_m, :azimuth_deg, :azimuth_sd_deg, :side, :limb, :record, :digits, \
     :preservation, :morphotype, :field_trackway, :field_order, :observed_on, :observer, :remarks, :revision, \
     :surface, :sheet_row, :change) ON CONFLICT DO NOTHING"
);
const REPLACE: &str = "UPDATE print SET easting_m = :easting_m, northing_m = :northing_m, \
     elevation_m = :elevation_m, position_sd_m = :position_sd_m, length_m = :length_m, width_m = :width_m, \
     depth_m = :depth_m, azimuth_deg = :azimuth_deg, azimuth_sd_deg = :azimuth_sd_deg, side = :side, \
     limb = :limb, record = :record, digits = :digits, preservation = :preservation, \
     morphotype = :morphotype, field_trackway = :field_trackway, field_order = :field_order, \
     observed_on = :observed_on, observer = :observer, remarks = :remarks, revision = :revision, \
     sheet_row = :sheet_row, change = :change WHERE surface = :surface AND label = :label";
const FIND: &str = concat!(
    "SELECT ",
    columns!(),
    ", change FROM print WHERE surface = ?1 AND label = ?2"
);
const IS_KNOWN: &str = "SELECT 1 FROM print WHERE surface = ?1 AND label = ?2";
const OF_SURFACE: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM print WHERE surface = ?1 ORDER BY label"
);

const WITH_ORIGIN: &str = concat!(
    "SELECT ",
    columns!(),
    ", sheet_row, change FROM print WHERE surface = ?1 ORDER BY label"
);

/// Where a print goes and where it comes from.
#[derive(Clone, Copy)]
pub(super) struct Origin {
    pub(super) surface: i64,
    pub(super) sheet_row: u64,
    pub(super) change: i64,
}

/// Adds a print at its first revision; false where the surface has its label already.
pub(super) fn add(conn: &Connection, origin: Origin, print: &Print, first: u32) -> rusqlite::Result<bool> {
    Ok(write(&mut *conn.prepare_cached(ADD)?, origin, print, first)? == 1)
}

/// Puts a print as another store has it.
pub(super) fn put(conn: &Connection, origin: Origin, print: &Print) -> rusqlite::Result<()> {
    write(&mut *conn.prepare_cached(ADD)?, origin, print, print.revision)?;
    Ok(())
}

/// Replaces a stored print, made by change `by`, by its next revision, and keeps the one that stood.
pub(super) fn replace(
    conn: &Connection,
    origin: Origin,
    (stood, by): &(Print, i64),
    print: &Print,
) -> rusqlite::Result<()> {
    Kept::of(origin.surface, stood, *by)?.keep(conn)?;
    write(
        &mut *conn.prepare_cached(REPLACE)?,
        origin,
        print,
        stood.revision + 1,
    )?;
    Ok(())
}

fn write(to: &mut Statement<'_>, origin: Origin, print: &Print, revision: u32) -> rusqlite::Result<usize> {
    let remarks = print.remarks.as_ref().map(serde_json::to_string).transpose();
    to.execute(named_params! {
        ":label": print.label.as_str(),
        ":easting_m": print.easting_m,
        ":northing_m": print.northing_m,
        ":elevation_m": print.elevation_m,
        ":position_sd_m": print.position_sd_m,
        ":length_m": print.length_m,
        ":width_m": print.width_m,
        ":depth_m": print.depth_m,
        ":azimuth_deg": print.azimuth_deg,
        ":azimuth_sd_deg": print.azimuth_sd_deg,
        ":side": print.side.map(Side::name),
        ":limb": print.limb.map(Limb::name),
        ":record": print.record.map(Record::name),
        ":digits": print.digits,
        ":preservation": print.preservation,
        ":morphotype": print.morphotype.as_deref(),
        ":field_trackway": print.field_trackway.as_ref().map(Label::as_str),
        ":field_order": print.field_order,
        ":observed_on": print.observed_on.map(|day| day.to_string()),
        ":observer": print.observer.as_deref(),
        ":remarks": remarks.map_err(unwritable)?,
        ":revision": revision,
        ":surface": origin.surface,
        ":sheet_row": as_integer(origin.sheet_row),
        ":change": origin.change,
    })
}

/// The first of these labels that no print of the surface has.
pub(super) fn first_unknown(
    conn: &Connection,
    surface: i64,
    labels: &[Label],
) -> rusqlite::Result<Option<Label>> {
    let mut select = conn.prepare_cached(IS_KNOWN)?;
    for label in labels {
        if !select.exists((surface, label.as_str()))? {
            return Ok(Some(label.clone()));
        }
    }
    Ok(None)
}

/// The print with this label and the change that made its revision.
pub(super) fn find(
    conn: &Connection,
    surface: i64,
    label: &Label,
    words: &mut Words,
) -> rusqlite::Result<Option<(Print, i64)>> {
    conn.prepare_cached(FIND)?
        .query_row((surface, label.as_str()), |row| {
            Ok((read(row, words)?, row.get("change")?))
        })
        .optional()
}

/// All prints of a surface, `count` of them, in the order of labels.
pub(super) fn of_surface(conn: &Connection, surface: i64, count: u64) -> rusqlite::Result<Vec<Print>> {
    let mut words = Words::default();
    let mut prints = Vec::with_capacity(usize::try_from(count).unwrap_or(0));
    let mut select = conn.prepare_cached(OF_SURFACE)?;
    let mut rows = select.query([surface])?;
    while let Some(row) = rows.next()? {
        prints.push(read(row, &mut words)?);
    }
    Ok(prints)
}

/// Gives the prints of a surface in the order of labels, each with the sheet's row and the change that made its revision.
pub(super) fn each_of_surface(
    conn: &Connection,
    surface: i64,
    take: &mut dyn FnMut(Print, u64, i64) -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    const DOING: &str = "reading prints";
    let mut words = Words::default();
    let mut select = conn.prepare_cached(WITH_ORIGIN).doing(DOING)?;
    let mut rows = select.query([surface]).doing(DOING)?;
    while let Some(row) = rows.next().doing(DOING)? {
        let print = read(row, &mut words).doing(DOING)?;
        let sheet_row: i64 = row.get("sheet_row").doing(DOING)?;
        take(print, sheet_row.unsigned_abs(), row.get("change").doing(DOING)?)?;
    }
    Ok(())
}

fn read(row: &Row<'_>, words: &mut Words) -> rusqlite::Result<Print> {
    let mut print = Print {
        label: required(row, 0)?,
        easting_m: row.get(1)?,
        northing_m: row.get(2)?,
        elevation_m: row.get(3)?,
        position_sd_m: row.get(4)?,
        length_m: row.get(5)?,
        width_m: row.get(6)?,
        depth_m: row.get(7)?,
        azimuth_deg: row.get(8)?,
        azimuth_sd_deg: row.get(9)?,
        side: parsed(row, 10)?,
        limb: parsed(row, 11)?,
        record: parsed(row, 12)?,
        digits: row.get(13)?,
        preservation: row.get(14)?,
        morphotype: text(row, 15)?.map(|word| words.shared(word)),
        field_trackway: parsed(row, 16)?,
        field_order: row.get(17)?,
        observed_on: parsed(row, 18)?,
        observer: text(row, 19)?.map(|word| words.shared(word)),
        remarks: json(row, 20)?,
        revision: row.get(21)?,
    };
    words.share_names(&mut print);
    Ok(print)
}
