//! Sites as rows.

use super::column::required;
use rusqlite::{Connection, OptionalExtension, Row, named_params};
use spatial::model::{Site, Slug};

macro_rules! columns {
    () => {
        "slug, name, crs, country, steward, licence, citation, policy, formation, age, revision"
    };
}

const ADD: &str = concat!(
    "INSERT INTO site (",
    columns!(),
    ", change) VALUES (:slug, :name, :crs, :country, :steward, :licence, :citation, :policy, :formation, :age, \
     1, :change) ON CONFLICT DO NOTHING"
);
const FIND: &str = concat!("SELECT ", columns!(), ", change FROM site WHERE slug = ?1");
const ALL: &str = concat!("SELECT ", columns!(), " FROM site ORDER BY slug");

/// Adds a site at revision 1; false where the slug is taken.
pub(super) fn add(conn: &Connection, change: i64, site: &Site) -> rusqlite::Result<bool> {
    let added = conn.execute(
        ADD,
        named_params! {
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
            ":change": change,
        },
    )?;
    Ok(added == 1)
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
    })
}
