//! The record as it was at a moment.

use super::column::required;
use super::failure::{Doing, Given};
use super::surface_row::{self, Key};
use super::{member, print_row, site_row};
use crate::store::as_of::{Counting, Later, Past, in_force};
use crate::store::kept::Kind;
use crate::store::{StoreError, SurfaceSummary};
use jiff::Timestamp;
use postgres::fallible_iterator::FallibleIterator;
use postgres::{Row, Transaction};
use spatial::index::SurfaceContents;
use spatial::model::{Extent, Print, Site, Surface, SurfaceId, Trackway};
use std::collections::HashMap;

const DOING: &str = "reading how the record was";
const CHANGES: &str = "SELECT site, id, at FROM change";
const CHANGES_OF_SITE: &str = "SELECT site, id, at FROM change WHERE site = $1";
const PAST: &str = "SELECT label, change, record::text FROM past \
     WHERE site = $1 AND kind = $2 AND surface = $3 ORDER BY label, revision";
const PAST_OF_KIND: &str = "SELECT site, surface, label, change, record::text = 'null' FROM past WHERE kind = $1 \
     ORDER BY site, surface, label, revision";

fn change(row: &Row) -> Given<(i32, i64, Timestamp)> {
    Ok((row.try_get(0)?, row.try_get(1)?, required(row, 2)?))
}

fn past(moment: &mut Transaction<'_>, key: Key, kind: Kind) -> Result<Vec<Past>, StoreError> {
    let rows = moment
        .query(PAST, &[&key.site, &kind.name(), &key.surface])
        .doing(DOING)?;
    let read = |row: &Row| -> Given<Past> {
        Ok(Past {
            label: row.try_get(0)?,
            change: row.try_get(1)?,
            json: row.try_get(2)?,
        })
    };
    rows.iter().map(read).collect::<Given<_>>().doing(DOING)
}

/// All sites and surfaces; see `Store::listing_at`.
pub(super) fn listing(
    moment: &mut Transaction<'_>,
    at: Timestamp,
) -> Result<(Vec<Site>, Vec<SurfaceSummary>), StoreError> {
    let changes = moment.query(CHANGES, &[]).doing(DOING)?;
    let changes: Vec<_> = changes.iter().map(change).collect::<Given<_>>().doing(DOING)?;
    let later = Later::than(at, changes);
    let mut sites = Vec::new();
    for stored in site_row::all(moment).doing(DOING)? {
        let (id, key) = (stored.id, stored.key());
        let past = past(moment, key, Kind::Site)?;
        let is_later = |change: i64| later.has(id, change);
        sites.extend(in_force([(stored.site, stored.change)], past, &is_later)?);
    }
    let mut counts = Vec::new();
    for kind in [Kind::Print, Kind::Extent, Kind::Trackway] {
        counts.push(count(moment, kind, &later).doing(DOING)?);
    }
    let mut surfaces = Vec::new();
    for stored in surface_row::all(moment).doing(DOING)? {
        let key = (stored.key.site, stored.key.surface);
        let is_later = |change: i64| later.has(key.0, change);
        let Some(surface) = surface(moment, &stored, &is_later)? else {
            continue;
        };
        let of = |kind: usize| counts[kind].get(&key).copied().unwrap_or(0);
        surfaces.push(SurfaceSummary {
            surface,
            prints: of(0),
            extents: of(1),
            trackways: of(2),
            ..stored.summary
        });
    }
    Ok((sites, surfaces))
}

fn surface(
    moment: &mut Transaction<'_>,
    stored: &surface_row::Stored,
    later: &dyn Fn(i64) -> bool,
) -> Result<Option<Surface>, StoreError> {
    let current = (stored.summary.surface.clone(), stored.change);
    let past = past(moment, stored.key, Kind::Surface)?;
    Ok(in_force([current], past, later)?.pop())
}

fn count(moment: &mut Transaction<'_>, kind: Kind, later: &Later<i32>) -> Given<HashMap<(i32, i32), u64>> {
    let mut counting = Counting::new();
    let mut rows = moment.query_raw(PAST_OF_KIND, [kind.name()])?;
    while let Some(row) = rows.next()? {
        let key: (i32, i32) = (row.try_get(0)?, row.try_get(1)?);
        if !later.has(key.0, row.try_get(3)?) {
            counting.past(key, row.try_get(2)?, row.try_get(4)?);
        }
    }
    drop(rows);
    let query = format!("SELECT site, surface, label, change FROM {}", kind.name());
    let mut rows = moment.query_raw(&query, std::iter::empty::<i32>())?;
    while let Some(row) = rows.next()? {
        let key: (i32, i32) = (row.try_get(0)?, row.try_get(1)?);
        if !later.has(key.0, row.try_get(3)?) {
            counting.standing(key, row.try_get(2)?);
        }
    }
    Ok(counting.end())
}

/// One surface with its members; see `Store::contents_at`.
pub(super) fn contents(
    moment: &mut Transaction<'_>,
    id: &SurfaceId,
    at: Timestamp,
) -> Result<Option<SurfaceContents>, StoreError> {
    let site = site_row::find(moment, &id.site).doing(DOING)?;
    let stored = surface_row::find(moment, id).doing(DOING)?;
    let (Some(site), Some(stored)) = (site, stored) else {
        return Ok(None);
    };
    let key = stored.key;
    let changes = moment.query(CHANGES_OF_SITE, &[&key.site]).doing(DOING)?;
    let changes: Vec<_> = changes.iter().map(change).collect::<Given<_>>().doing(DOING)?;
    let later = Later::than(at, changes);
    let is_later = |change: i64| later.has(key.site, change);
    let Some(surface) = surface(moment, &stored, &is_later)? else {
        return Ok(None);
    };
    let mut prints: Vec<(Print, i64)> = Vec::new();
    let mut rows = moment
        .query_raw(print_row::WITH_ORIGIN, [key.site, key.surface])
        .doing(DOING)?;
    while let Some(row) = rows.next().doing(DOING)? {
        let (print, _, change) = print_row::read_with_origin(&row).doing(DOING)?;
        prints.push((print, change));
    }
    drop(rows);
    let extents = member::of_surface::<Extent>(moment, key).doing(DOING)?;
    let trackways = member::of_surface::<Trackway>(moment, key).doing(DOING)?;
    Ok(Some(SurfaceContents {
        id: id.clone(),
        crs: site.site.crs,
        surface,
        prints: in_force(prints, past(moment, key, Kind::Print)?, &is_later)?,
        extents: in_force(extents, past(moment, key, Kind::Extent)?, &is_later)?,
        trackways: in_force(trackways, past(moment, key, Kind::Trackway)?, &is_later)?,
    }))
}
