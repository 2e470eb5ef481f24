//! The record as it was at a moment.

use super::column::required;
use super::failure::Doing;
use super::{extent_row, print_row, site_row, surface_row, trackway_row};
use crate::store::as_of::{Counting, Later, Past, in_force};
use crate::store::kept::Kind;
use crate::store::{StoreError, SurfaceSummary};
use jiff::Timestamp;
use rusqlite::{Connection, ToSql};
use spatial::index::SurfaceContents;
use spatial::model::{Site, Surface, SurfaceId};
use std::collections::HashMap;

const DOING: &str = "reading how the record was";
const CHANGES: &str = "SELECT id, at FROM change";
const PAST: &str =
    "SELECT label, change, record FROM past WHERE kind = ?1 AND surface = ?2 ORDER BY label, revision";
const PAST_SITES: &str = "SELECT label, change, record FROM past WHERE kind = 'site' AND surface = 0 \
     ORDER BY label, revision";
const PAST_OF_KIND: &str = "SELECT surface, label, change, record = 'null' FROM past WHERE kind = ?1 ORDER BY surface, label, revision";

/// Changes are numbered on the whole store.
type Changes = Later<()>;

fn later(conn: &Connection, at: Timestamp) -> rusqlite::Result<Changes> {
    let mut select = conn.prepare_cached(CHANGES)?;
    let all = select.query_map([], |row| Ok(((), row.get(0)?, required(row, 1)?)))?;
    Ok(Later::than(at, all.collect::<rusqlite::Result<Vec<_>>>()?))
}

fn past(conn: &Connection, query: &str, about: impl rusqlite::Params) -> rusqlite::Result<Vec<Past>> {
    let read = |row: &rusqlite::Row<'_>| {
        Ok(Past {
            label: row.get(0)?,
            change: row.get(1)?,
            json: row.get(2)?,
        })
    };
    conn.prepare_cached(query)?.query_map(about, read)?.collect()
}

/// All sites and surfaces; see `Store::listing_at`.
pub(super) fn listing(
    conn: &Connection,
    at: Timestamp,
) -> Result<(Vec<Site>, Vec<SurfaceSummary>), StoreError> {
    let later = later(conn, at).doing(DOING)?;
    let is_later = |change: i64| later.has((), change);
    let mut sites = Vec::new();
    for site in site_row::all(conn).doing(DOING)? {
        sites.extend(site_row::find(conn, &site.slug).doing(DOING)?);
    }
    let sites = in_force(sites, past(conn, PAST_SITES, []).doing(DOING)?, &is_later)?;
    let counts =
        [Kind::Print, Kind::Extent, Kind::Trackway].map(|kind| count(conn, kind, &is_later).doing(DOING));
    let [prints, extents, trackways] = counts;
    let (prints, extents, trackways) = (prints?, extents?, trackways?);
    let mut surfaces = Vec::new();
    for stored in surface_row::all_stored(conn).doing(DOING)? {
        let key = stored.key;
        let Some(surface) = surface(conn, &stored, &is_later)? else {
            continue;
        };
        let of = |counts: &HashMap<i64, u64>| counts.get(&key).copied().unwrap_or(0);
        surfaces.push(SurfaceSummary {
            surface,
            prints: of(&prints),
            extents: of(&extents),
            trackways: of(&trackways),
            ..stored.summary
        });
    }
    Ok((sites, surfaces))
}

fn surface(
    conn: &Connection,
    stored: &surface_row::Stored,
    later: &dyn Fn(i64) -> bool,
) -> Result<Option<Surface>, StoreError> {
    let current = (stored.summary.surface.clone(), stored.change);
    let about: (&str, &dyn ToSql) = (Kind::Surface.name(), &stored.key);
    let past = past(conn, PAST, about).doing(DOING)?;
    Ok(in_force([current], past, later)?.pop())
}

fn count(conn: &Connection, kind: Kind, later: &dyn Fn(i64) -> bool) -> rusqlite::Result<HashMap<i64, u64>> {
    let mut counting = Counting::new();
    let mut select = conn.prepare_cached(PAST_OF_KIND)?;
    let mut rows = select.query([kind.name()])?;
    while let Some(row) = rows.next()? {
        if !later(row.get(2)?) {
            counting.past(row.get(0)?, row.get(1)?, row.get(3)?);
        }
    }
    let mut select = conn.prepare(&format!("SELECT surface, label, change FROM {}", kind.name()))?;
    let mut rows = select.query([])?;
    while let Some(row) = rows.next()? {
        if !later(row.get(2)?) {
            counting.standing(row.get(0)?, row.get(1)?);
        }
    }
    Ok(counting.end())
}

/// One surface with its members; see `Store::contents_at`.
pub(super) fn contents(
    conn: &Connection,
    id: &SurfaceId,
    at: Timestamp,
) -> Result<Option<SurfaceContents>, StoreError> {
    let (site, stored) = (
        site_row::find(conn, &id.site).doing(DOING)?,
        surface_row::find(conn, id).doing(DOING)?,
    );
    let (Some((site, _)), Some(stored)) = (site, stored) else {
        return Ok(None);
    };
    let later = later(conn, at).doing(DOING)?;
    let is_later = |change: i64| later.has((), change);
    let Some(surface) = surface(conn, &stored, &is_later)? else {
        return Ok(None);
    };
    let key = stored.key;
    let past = |kind: Kind| past(conn, PAST, (kind.name(), key)).doing(DOING);
    let mut prints = Vec::new();
    print_row::each_of_surface(conn, key, &mut |print, _, change| {
        prints.push((print, change));
        Ok(())
    })?;
    Ok(Some(SurfaceContents {
        id: id.clone(),
        crs: site.crs,
        surface,
        prints: in_force(prints, past(Kind::Print)?, &is_later)?,
        extents: in_force(
            extent_row::of_surface(conn, key).doing(DOING)?,
            past(Kind::Extent)?,
            &is_later,
        )?,
        trackways: in_force(
            trackway_row::of_surface(conn, key).doing(DOING)?,
            past(Kind::Trackway)?,
            &is_later,
        )?,
    }))
}
