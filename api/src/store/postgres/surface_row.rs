//! Surfaces as rows: their own record and the summary of their members.

use super::column::{as_integer, count, required};
use super::failure::Given;
use super::past;
use crate::store::SurfaceSummary;
use crate::store::touched::{Bounds, Growth};
use postgres::{Client, GenericClient, Row};
use spatial::model::{Label, Surface, SurfaceId};

macro_rules! columns {
    () => {
        "site, label, name, section_order, strike_deg, dip_deg, lithology, note, revision, change, \
         contents_revision, prints, extents, trackways, west, south, east, north"
    };
}
const ADD: &str = "INSERT INTO surface \
     (site, label, name, section_order, strike_deg, dip_deg, lithology, note, revision, change) \
     VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)";
const REPLACE: &str = "UPDATE surface SET (name, section_order, strike_deg, dip_deg, lithology, note, revision, change) \
     = ($3, $4, $5, $6, $7, $8, $9, $10) WHERE site = $1 AND label = $2";
const FIND: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM surface WHERE site = $1 AND label = $2"
);
const ALL: &str = concat!("SELECT ", columns!(), " FROM surface ORDER BY site, label");
// `least` and `greatest` pass NULL over.
const SUM_UP: &str = "UPDATE surface SET contents_revision = contents_revision + $3, prints = prints + $4, \
     extents = extents + $5, trackways = trackways + $6, west = least(west, $7), south = least(south, $8), \
     east = greatest(east, $9), north = greatest(north, $10) WHERE site = $1 AND label = $2";

const COUNT_FROM: &str = "UPDATE surface SET contents_revision = $3 WHERE site = $1 AND label = $2";

/// A surface as it is stored.
pub(super) struct Stored {
    /// The change that made this revision of its own record.
    pub(super) change: i64,
    /// Its record and the summary of its members.
    pub(super) summary: SurfaceSummary,
}

/// Adds a surface at revision 1.
pub(super) fn add(conn: &mut Client, id: &SurfaceId, change: i64, surface: &Surface) -> Given<()> {
    write(conn, ADD, id, change, surface, 1)
}

/// Puts a surface as another store has it.
pub(super) fn put(conn: &mut Client, change: i64, summary: &SurfaceSummary) -> Given<()> {
    let (id, surface) = (&summary.id, &summary.surface);
    write(conn, ADD, id, change, surface, surface.revision)?;
    let growth = Growth {
        prints: summary.prints,
        extents: summary.extents,
        trackways: summary.trackways,
        bounds: summary.bounds,
        new: true,
    };
    sum_up(conn, id, &growth)?;
    let revision = as_integer(summary.contents_revision);
    conn.execute(COUNT_FROM, &[&id.site.as_str(), &id.label.as_str(), &revision])?;
    Ok(())
}

/// Replaces a stored surface by its next revision, and keeps the one that stood.
pub(super) fn replace(conn: &mut Client, change: i64, stored: &Stored, surface: &Surface) -> Given<()> {
    let (id, stood) = (&stored.summary.id, &stored.summary.surface);
    past::keep(conn, past::place(id), stood, stored.change)?;
    write(conn, REPLACE, id, change, surface, stood.revision + 1)
}

fn write(
    conn: &mut Client,
    how: &str,
    id: &SurfaceId,
    change: i64,
    surface: &Surface,
    revision: u32,
) -> Given<()> {
    conn.execute(
        how,
        &[
            &id.site.as_str(),
            &id.label.as_str(),
            &surface.name,
            &surface.order,
            &surface.strike_deg,
            &surface.dip_deg,
            &surface.lithology,
            &surface.note,
            &i64::from(revision),
            &change,
        ],
    )?;
    Ok(())
}

/// Brings the summary up to date with a change of the surface or of its members.
pub(super) fn sum_up(conn: &mut Client, id: &SurfaceId, growth: &Growth) -> Given<()> {
    let corner = |which: usize| growth.bounds.map(|bounds: Bounds| bounds[which]);
    let (lower, upper) = (corner(0), corner(1));
    conn.execute(
        SUM_UP,
        &[
            &id.site.as_str(),
            &id.label.as_str(),
            &i64::from(!growth.new),
            &as_integer(growth.prints),
            &as_integer(growth.extents),
            &as_integer(growth.trackways),
            &lower.map(|[west, _]| west),
            &lower.map(|[_, south]| south),
            &upper.map(|[east, _]| east),
            &upper.map(|[_, north]| north),
        ],
    )?;
    Ok(())
}

/// The surface with this id.
pub(super) fn find(conn: &mut impl GenericClient, id: &SurfaceId) -> Given<Option<Stored>> {
    let row = conn.query_opt(FIND, &[&id.site.as_str(), &id.label.as_str()])?;
    row.as_ref().map(read).transpose()
}

/// All surfaces in the order of ids.
pub(super) fn all(conn: &mut impl GenericClient) -> Given<Vec<Stored>> {
    conn.query(ALL, &[])?.iter().map(read).collect()
}

fn read(row: &Row) -> Given<Stored> {
    let label: Label = required(row, 1)?;
    let surface = Surface {
        label: label.clone(),
        name: row.try_get(2)?,
        order: row.try_get(3)?,
        strike_deg: row.try_get(4)?,
        dip_deg: row.try_get(5)?,
        lithology: row.try_get(6)?,
        note: row.try_get(7)?,
        revision: count(row, 8)?,
    };
    let site = required(row, 0)?;
    Ok(Stored {
        change: row.try_get(9)?,
        summary: SurfaceSummary {
            id: SurfaceId { site, label },
            surface,
            contents_revision: count(row, 10)?,
            prints: count(row, 11)?,
            extents: count(row, 12)?,
            trackways: count(row, 13)?,
            bounds: bounds(row)?,
        },
    })
}

fn bounds(row: &Row) -> Given<Option<Bounds>> {
    let west: Option<f64> = row.try_get(14)?;
    west.map(|west| Ok([[west, row.try_get(15)?], [row.try_get(16)?, row.try_get(17)?]]))
        .transpose()
}
