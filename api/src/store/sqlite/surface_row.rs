//! Surfaces as rows: their own record and the summary of their members.

use super::column::required;
use super::past::Kept;
use crate::store::SurfaceSummary;
use crate::store::touched::{Bounds, Growth};
use rusqlite::{Connection, OptionalExtension, Row, Statement, named_params};
use spatial::model::{Label, Slug, Surface, SurfaceId};

macro_rules! columns {
    () => {
        "label, name, section_order, strike_deg, dip_deg, lithology, note, revision, id, site, change, \
         contents_revision, prints, extents, trackways, west, south, east, north"
    };
}

const ADD: &str = "INSERT INTO surface \
     (site, label, name, section_order, strike_deg, dip_deg, lithology, note, revision, change) VALUES \
     (:site, :label, :name, :section_order, :strike_deg, :dip_deg, :lithology, :note, :revision, :change)";
const REPLACE: &str = "UPDATE surface SET name = :name, section_order = :section_order, \
     strike_deg = :strike_deg, dip_deg = :dip_deg, lithology = :lithology, note = :note, \
     revision = :revision, change = :change WHERE site = :site AND label = :label";
const KEY: &str = "SELECT id FROM surface WHERE site = ?1 AND label = ?2";
const FIND: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM surface WHERE site = ?1 AND label = ?2"
);
const ALL: &str = concat!("SELECT ", columns!(), " FROM surface ORDER BY site, label");
const SUM_UP: &str = "UPDATE surface SET contents_revision = contents_revision + :revisions, \
     prints = prints + :prints, extents = extents + :extents, trackways = trackways + :trackways, \
     west = min(coalesce(west, :west), coalesce(:west, west)), \
     south = min(coalesce(south, :south), coalesce(:south, south)), \
     east = max(coalesce(east, :east), coalesce(:east, east)), \
     north = max(coalesce(north, :north), coalesce(:north, north)) WHERE id = :id";

const COUNT_FROM: &str = "UPDATE surface SET contents_revision = ?2 WHERE id = ?1";

/// A surface as it is stored.
pub(super) struct Stored {
    /// The key that its members have.
    pub(super) key: i64,
    /// The change that made this revision of its own record.
    pub(super) change: i64,
    /// Its record and the summary of its members.
    pub(super) summary: SurfaceSummary,
}

impl Stored {
    /// Its own record's revision as the history keeps it.
    pub(super) fn kept(&self) -> rusqlite::Result<Kept> {
        Kept::of(self.key, &self.summary.surface, self.change)
    }
}

/// Adds a surface at revision 1 and gives its key.
pub(super) fn add(conn: &Connection, site: &Slug, change: i64, surface: &Surface) -> rusqlite::Result<i64> {
    write(&mut *conn.prepare_cached(ADD)?, site, change, surface, 1)?;
    Ok(conn.last_insert_rowid())
}

/// Puts a surface as another store has it, and gives its key.
pub(super) fn put(conn: &Connection, change: i64, summary: &SurfaceSummary) -> rusqlite::Result<i64> {
    let (site, surface) = (&summary.id.site, &summary.surface);
    write(
        &mut *conn.prepare_cached(ADD)?,
        site,
        change,
        surface,
        surface.revision,
    )?;
    let key = conn.last_insert_rowid();
    let growth = Growth {
        prints: as_integer(summary.prints),
        extents: as_integer(summary.extents),
        trackways: as_integer(summary.trackways),
        bounds: summary.bounds,
        new: true,
    };
    sum_up(conn, key, &growth)?;
    conn.prepare_cached(COUNT_FROM)?
        .execute((key, as_integer(summary.contents_revision)))?;
    Ok(key)
}

/// Replaces a stored surface by its next revision, and keeps the one that stood.
pub(super) fn replace(
    conn: &Connection,
    change: i64,
    stored: &Stored,
    surface: &Surface,
) -> rusqlite::Result<()> {
    stored.kept()?.keep(conn)?;
    let (site, revision) = (&stored.summary.id.site, stored.summary.surface.revision + 1);
    write(
        &mut *conn.prepare_cached(REPLACE)?,
        site,
        change,
        surface,
        revision,
    )
}

fn write(
    to: &mut Statement<'_>,
    site: &Slug,
    change: i64,
    surface: &Surface,
    revision: u32,
) -> rusqlite::Result<()> {
    to.execute(named_params! {
        ":site": site.as_str(),
        ":label": surface.label.as_str(),
        ":name": surface.name,
        ":section_order": surface.order,
        ":strike_deg": surface.strike_deg,
        ":dip_deg": surface.dip_deg,
        ":lithology": surface.lithology,
        ":note": surface.note,
        ":revision": revision,
        ":change": change,
    })?;
    Ok(())
}

/// Brings the summary up to date with a change of the surface or of its members.
pub(super) fn sum_up(conn: &Connection, key: i64, growth: &Growth) -> rusqlite::Result<()> {
    let [[west, south], [east, north]] = match growth.bounds {
        Some([[west, south], [east, north]]) => [[Some(west), Some(south)], [Some(east), Some(north)]],
        None => [[None; 2]; 2],
    };
    conn.prepare_cached(SUM_UP)?.execute(named_params! {
        ":id": key,
        ":revisions": !growth.new,
        ":prints": growth.prints,
        ":extents": growth.extents,
        ":trackways": growth.trackways,
        ":west": west,
        ":south": south,
        ":east": east,
        ":north": north,
    })?;
    Ok(())
}

/// A count as SQLite holds it: its integers are signed.
pub(super) fn as_integer(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

/// The key of a surface.
pub(super) fn key(conn: &Connection, id: &SurfaceId) -> rusqlite::Result<Option<i64>> {
    conn.prepare_cached(KEY)?
        .query_row((id.site.as_str(), id.label.as_str()), |row| row.get(0))
        .optional()
}

/// The surface with this id.
pub(super) fn find(conn: &Connection, id: &SurfaceId) -> rusqlite::Result<Option<Stored>> {
    conn.prepare_cached(FIND)?
        .query_row((id.site.as_str(), id.label.as_str()), read)
        .optional()
}

/// The summaries of all surfaces in the order of ids.
pub(super) fn all(conn: &Connection) -> rusqlite::Result<Vec<SurfaceSummary>> {
    conn.prepare_cached(ALL)?
        .query_map([], |row| Ok(read(row)?.summary))?
        .collect()
}

/// All surfaces in the order of ids.
pub(super) fn all_stored(conn: &Connection) -> rusqlite::Result<Vec<Stored>> {
    conn.prepare_cached(ALL)?.query_map([], read)?.collect()
}

fn read(row: &Row<'_>) -> rusqlite::Result<Stored> {
    let label: Label = required(row, 0)?;
    let surface = Surface {
        label: label.clone(),
        name: row.get(1)?,
        order: row.get(2)?,
        strike_deg: row.get(3)?,
        dip_deg: row.get(4)?,
        lithology: row.get(5)?,
        note: row.get(6)?,
        revision: row.get(7)?,
    };
    let site = required(row, 9)?;
    Ok(Stored {
        key: row.get(8)?,
        change: row.get(10)?,
        summary: SurfaceSummary {
            id: SurfaceId { site, label },
            surface,
            contents_revision: count(row, 11)?,
            prints: count(row, 12)?,
            extents: count(row, 13)?,
            trackways: count(row, 14)?,
            bounds: bounds(row)?,
        },
    })
}

fn count(row: &Row<'_>, at: usize) -> rusqlite::Result<u64> {
    Ok(row.get::<_, i64>(at)?.unsigned_abs())
}

fn bounds(row: &Row<'_>) -> rusqlite::Result<Option<Bounds>> {
    let west: Option<f64> = row.get(15)?;
    west.map(|west| Ok([[west, row.get(16)?], [row.get(17)?, row.get(18)?]]))
        .transpose()
}
