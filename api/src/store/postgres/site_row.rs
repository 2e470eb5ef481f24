//! Sites as rows.

use super::column::{count, json, required};
use super::failure::Given;
use super::past;
use super::surface_row::Key;
use postgres::{Client, GenericClient, Row};
use spatial::model::{Site, Slug};

const ADD: &str = "INSERT INTO site (slug, name, crs, country, steward, licence, citation, policy, formation, age, \
     local_grid, revision, change) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11::text::json, $12, $13) \
     ON CONFLICT DO NOTHING RETURNING id";
const REPLACE: &str = "UPDATE site SET (name, crs, country, steward, licence, citation, policy, formation, age, \
     local_grid, revision, change) = ($2, $3, $4, $5, $6, $7, $8, $9, $10, $11::text::json, $12, $13) \
     WHERE slug = $1 RETURNING id";
macro_rules! columns {
    () => {
        "slug, name, crs, country, steward, licence, citation, policy, formation, age, local_grid::text, revision, \
         change, id"
    };
}
const FIND: &str = concat!("SELECT ", columns!(), " FROM site WHERE slug = $1");
/// Whoever changes anything of a site holds its row: one writer at a time, and who waits sees what was written.
const LOCK: &str = concat!(
    "SELECT ",
    columns!(),
    " FROM site WHERE slug = $1 FOR NO KEY UPDATE"
);
const ALL: &str = concat!("SELECT ", columns!(), " FROM site ORDER BY slug");

/// A site as it is stored.
pub(super) struct Stored {
    /// The number that stands in the keys of all that belongs to it.
    pub(super) id: i32,
    /// The change that made its revision.
    pub(super) change: i64,
    /// Its record.
    pub(super) site: Site,
}

impl Stored {
    /// Where the site's own past revisions are kept.
    pub(super) fn key(&self) -> Key {
        Key {
            site: self.id,
            surface: 0,
        }
    }
}

/// Adds a site as it is, made by change `change`, and gives its number; `None` where the slug is taken.
pub(super) fn add(conn: &mut Client, change: i64, site: &Site) -> Given<Option<i32>> {
    write(conn, ADD, change, site, site.revision)
}

/// Replaces a stored site by its next revision, and keeps the one that stood.
pub(super) fn replace(conn: &mut Client, change: i64, stored: &Stored, site: &Site) -> Given<()> {
    past::keep(conn, stored.key(), &stored.site, stored.change)?;
    write(conn, REPLACE, change, site, stored.site.revision + 1)?;
    Ok(())
}

/// The number of the site that was written.
fn write(conn: &mut Client, how: &str, change: i64, site: &Site, revision: u32) -> Given<Option<i32>> {
    let local_grid = site.local_grid.as_ref().map(serde_json::to_string).transpose()?;
    let written = conn.query_opt(
        how,
        &[
            &site.slug.as_str(),
            &site.name,
            &i64::from(site.crs),
            &site.country,
            &site.steward,
            &site.licence,
            &site.citation,
            &site.policy.name(),
            &site.formation,
            &site.age,
            &local_grid,
            &i64::from(revision),
            &change,
        ],
    )?;
    written.map(|row| Ok(row.try_get(0)?)).transpose()
}

/// The site with this slug.
pub(super) fn find(conn: &mut impl GenericClient, slug: &Slug) -> Given<Option<Stored>> {
    let row = conn.query_opt(FIND, &[&slug.as_str()])?;
    row.as_ref().map(read).transpose()
}

/// As `find`, and holds the site against other writers until the transaction ends.
pub(super) fn lock(conn: &mut Client, slug: &Slug) -> Given<Option<Stored>> {
    let row = conn.query_opt(LOCK, &[&slug.as_str()])?;
    row.as_ref().map(read).transpose()
}

/// All sites in the order of slugs.
pub(super) fn all(conn: &mut impl GenericClient) -> Given<Vec<Stored>> {
    conn.query(ALL, &[])?.iter().map(read).collect()
}

fn read(row: &Row) -> Given<Stored> {
    let site = Site {
        slug: required(row, 0)?,
        name: row.try_get(1)?,
        crs: count(row, 2)?,
        country: row.try_get(3)?,
        steward: row.try_get(4)?,
        licence: row.try_get(5)?,
        citation: row.try_get(6)?,
        policy: required(row, 7)?,
        formation: row.try_get(8)?,
        age: row.try_get(9)?,
        local_grid: json(row, 10)?,
        revision: count(row, 11)?,
    };
    Ok(Stored {
        id: row.try_get(13)?,
        change: row.try_get(12)?,
        site,
    })
}
