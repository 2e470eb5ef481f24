//! Surfaces as rows: their own record and the summary of their members.

use super::column::{as_integer, count, required};
use super::failure::Given;
use super::past;
use crate::store::SurfaceSummary;
use crate::store::touched::{Bounds, Growth};
use postgres::{Client, GenericClient, Row};
use spatial::model::{Label, Surface, SurfaceId};

macro_rules! select {
    ($which:literal) => {
        concat!(
            "SELECT site.slug, surface.label, surface.name, section_order, strike_deg, dip_deg, lithology, note, \
             surface.revision, surface.change, contents_revision, prints, extents, trackways, west, south, east, \
             north, surface.site, surface.id FROM surface JOIN site ON site.id = surface.site ",
            $which
        )
    };
}
/// Under the lock of the site, so that no two get one number.
const ADD: &str = "INSERT INTO surface \
     (site, id, label, name, section_order, strike_deg, dip_deg, lithology, note, revision, change) \
     SELECT $1, coalesce(max(id), 0) + 1, $2, $3, $4, $5, $6, $7, $8, $9, $10 FROM surface WHERE site = $1 RETURNING id";
const REPLACE: &str = "UPDATE surface SET (name, section_order, strike_deg, dip_deg, lithology, note, revision, change) \
     = ($3, $4, $5, $6, $7, $8, $9, $10) WHERE site = $1 AND label = $2 RETURNING id";
const FIND: &str = select!("WHERE site.slug = $1 AND surface.label = $2");
const ALL: &str = select!("ORDER BY site.slug, surface.label");
// `least` and `greatest` pass NULL over.
const SUM_UP: &str = "UPDATE surface SET contents_revision = contents_revision + $3, prints = prints + $4, \
     extents = extents + $5, trackways = trackways + $6, west = least(west, $7), south = least(south, $8), \
     east = greatest(east, $9), north = greatest(north, $10) WHERE site = $1 AND id = $2";

const COUNT_FROM: &str = "UPDATE surface SET contents_revision = $3 WHERE site = $1 AND id = $2";

/// The numbers of a site and of one of its surfaces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Key {
    pub(super) site: i32,
    /// 0 where only the site is meant.
    pub(super) surface: i32,
}

/// A surface as it is stored.
pub(super) struct Stored {
    /// The key that its members have.
    pub(super) key: Key,
    /// The change that made this revision of its own record.
    pub(super) change: i64,
    /// Its record and the summary of its members.
    pub(super) summary: SurfaceSummary,
}

/// Adds a surface as it is to a site, and gives its key.
pub(super) fn add(conn: &mut Client, site: i32, change: i64, surface: &Surface) -> Given<Key> {
    let surface = write(conn, ADD, site, change, surface, surface.revision)?;
    Ok(Key { site, surface })
}

/// Puts a surface as another store has it, and gives its key.
pub(super) fn put(conn: &mut Client, site: i32, change: i64, summary: &SurfaceSummary) -> Given<Key> {
    let key = add(conn, site, change, &summary.surface)?;
    let growth = Growth {
        prints: as_integer(summary.prints),
        extents: as_integer(summary.extents),
        trackways: as_integer(summary.trackways),
        bounds: summary.bounds,
        new: true,
    };
    sum_up(conn, key, &growth)?;
    let revision = as_integer(summary.contents_revision);
    conn.execute(COUNT_FROM, &[&key.site, &key.surface, &revision])?;
    Ok(key)
}

/// Replaces a stored surface by its next revision, and keeps the one that stood.
pub(super) fn replace(conn: &mut Client, change: i64, stored: &Stored, surface: &Surface) -> Given<()> {
    let (key, stood) = (stored.key, &stored.summary.surface);
    past::keep(conn, key, stood, stored.change)?;
    write(conn, REPLACE, key.site, change, surface, stood.revision + 1)?;
    Ok(())
}

/// The number of the surface that was written.
fn write(
    conn: &mut Client,
    how: &str,
    site: i32,
    change: i64,
    surface: &Surface,
    revision: u32,
) -> Given<i32> {
    let row = conn.query_one(
        how,
        &[
            &site,
            &surface.label.as_str(),
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
    Ok(row.try_get(0)?)
}

/// Brings the summary up to date with a change of the surface or of its members.
pub(super) fn sum_up(conn: &mut Client, key: Key, growth: &Growth) -> Given<()> {
    let corner = |which: usize| growth.bounds.map(|bounds: Bounds| bounds[which]);
    let (lower, upper) = (corner(0), corner(1));
    conn.execute(
        SUM_UP,
        &[
            &key.site,
            &key.surface,
            &i64::from(!growth.new),
            &growth.prints,
            &growth.extents,
            &growth.trackways,
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
        key: Key {
            site: row.try_get(18)?,
            surface: row.try_get(19)?,
        },
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
