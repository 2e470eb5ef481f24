//! Sites as rows.

use super::column::{json, required};
use super::failure::unwritable;
use super::past::Kept;
use rusqlite::{Connection, OptionalExtension, Row, Statement, named_params};
use spatial::model::{Site, Slug};

macro_rules! columns {
    () => {
        "slug, name, crs, country, steward, licence, citation, policy, formation, age, revision, \
         local_grid"
    };
}

const ADD: &str = concat!(
    "INSERT INTO site (",
    columns!(),
    ", change) VALUES (:slug, :name, :crs, :country, :steward, :licence, :citation, :policy, :formation, :age, \
     :revision, :local_grid, :change) ON CONFLICT DO NOTHING"
);
const REPLACE: &str = "UPDATE site SET name = :name, crs = :crs, country = :country, steward = :steward, \
     licence = :licence, citation = :citation, policy = :policy, formation = :formation, age = :age, \
     revision = :revision, local_grid = :local_grid, change = :change WHERE slug = :slug";
const FIND: &str = concat!("SELECT ", columns!(), ", change FROM site WHERE slug = ?1");
const ALL: &str = concat!("SELECT ", columns!(), " FROM site ORDER BY slug");

/// Adds a site at revision 1; false where the slug is taken.
pub(super) fn add(conn: &Connection, change: i64, site: &Site) -> rusqlite::Result<bool> {
    Ok(write(&mut *conn.prepare_cached(ADD)?, change, site, 1)? == 1)
}

/// Puts a site as another store has it.
pub(super) fn put(conn: &Connection, change: i64, site: &Site) -> rusqlite::Result<()> {
    write(&mut *conn.prepare_cached(ADD)?, change, site, site.revision)?;
    Ok(())
}

/// Replaces a stored site, and the change that made it, by its next revision, and keeps the one that stood.
pub(super) fn replace(
    conn: &Connection,
    change: i64,
    (stored, made_by): &(Site, i64),
    site: &Site,
) -> rusqlite::Result<()> {
    Kept::of(0, stored, *made_by)?.keep(conn)?;
    let next = stored.revision + 1;
    write(&mut *conn.prepare_cached(REPLACE)?, change, site, next)?;
    Ok(())
}

/// How many rows were written.
fn write(to: &mut Statement<'_>, change: i64, site: &Site, revision: u32) -> rusqlite::Result<usize> {
    let local_grid = site.local_grid.as_ref().map(serde_json::to_string).transpose();
    to.execute(named_params! {
        ":slug": site.slug.as_str(),
        ":name": site.name,
        ":crs": site.crs,
        ":country": site.country,
        ":steward": site.steward,
        ":licence": site.licence,
        ":citation": site.citation,
        ":policy": site.policy.name(),
        ":formation": site.formation,
        ":age": site.age,
        ":revision": revision,
        ":local_grid": local_grid.map_err(unwritable)?,
        ":change": change,
    })
}

/// The site with this slug and the change that made its revision.
pub(super) fn find(conn: &Connection, slug: &Slug) -> rusqlite::Result<Option<(Site, i64)>> {
    conn.prepare_cached(FIND)?
        .query_row([slug.as_str()], |row| Ok((read(row)?, row.get("change")?)))
        .optional()
}

/// All sites in the order of slugs.
pub(super) fn all(conn: &Connection) -> rusqlite::Result<Vec<Site>> {
    conn.prepare_cached(ALL)?.query_map([], read)?.collect()
}

fn read(row: &Row<'_>) -> rusqlite::Result<Site> {
    Ok(Site {
        slug: required(row, 0)?,
        name: row.get(1)?,
        crs: row.get(2)?,
        country: row.get(3)?,
        steward: row.get(4)?,
        licence: row.get(5)?,
        citation: row.get(6)?,
        policy: required(row, 7)?,
        formation: row.get(8)?,
        age: row.get(9)?,
        revision: row.get(10)?,
        local_grid: json(row, 11)?,
    })
}
