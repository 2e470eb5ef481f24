//! Changes, and the revisions that are no longer current.

use super::column::{count, required};
use super::failure::Given;
use super::rows::Rows;
use super::surface_row::Key;
use crate::store::Change;
use crate::store::kept::{Kind, Record};
use postgres::Client;
use spatial::model::Label;
use std::collections::HashMap;

/// The columns that `write` writes, in order.
pub(super) const COLUMNS: &str = "site, kind, surface, label, revision, change, record";
/// The columns of a change.
pub(super) const CHANGE_COLUMNS: &str = "site, id, author, at, deed";
const REMOVED: &str = "SELECT label, max(revision) FROM past \
     WHERE site = $1 AND kind = $2 AND surface = $3 AND record::text = 'null' GROUP BY label";
/// Under the lock of its site, so that no two get one number.
const ADD_CHANGE: &str = "INSERT INTO change (site, id, author, at, deed) \
     SELECT $1, coalesce(max(id), 0) + 1, $2, $3, $4 FROM change WHERE site = $1 RETURNING id";

/// Writes down who changes the record of a site, and gives the change's number.
pub(super) fn begin_change(conn: &mut Client, site: i32, change: &Change) -> Given<i64> {
    let at = change.at.to_string();
    let row = conn.query_one(ADD_CHANGE, &[&site, &change.author, &at, &change.deed])?;
    Ok(row.try_get(0)?)
}

/// A change with its number on its site.
pub(super) fn write_change(rows: &mut Rows, site: i32, number: i64, change: &Change) {
    let at = change.at.to_string();
    rows.begin(5)
        .integer(site)
        .bigint(number)
        .text(change.author.as_str())
        .text(at.as_str())
        .text(change.deed.as_str());
}

/// A past revision to be kept; the record may be replaced then. The key is that of the record's
/// surface; a surface's own record is kept under its own.
pub(super) fn write<R: Record>(rows: &mut Rows, key: Key, record: &R, change: i64) -> Given<()> {
    let (id, json) = ((record.label(), record.revision()), record.to_json()?);
    write_json(rows, R::KIND, key, id, change, &json);
    Ok(())
}

/// As `write`, of a record that is JSON already.
pub(super) fn write_json(
    rows: &mut Rows,
    kind: Kind,
    key: Key,
    (label, revision): (&str, u32),
    change: i64,
    json: &str,
) {
    rows.begin(7)
        .integer(key.site)
        .text(kind.name())
        .integer(key.surface)
        .text(label)
        .bigint(i64::from(revision))
        .bigint(change)
        .text(json);
}

/// The removed records of a kind on a surface that have not been made again, each with the revision of its removal; most surfaces
/// have none.
pub(super) fn removed(conn: &mut Client, kind: Kind, key: Key) -> Given<HashMap<Label, u32>> {
    let rows = conn.query(REMOVED, &[&key.site, &kind.name(), &key.surface])?;
    rows.iter()
        .map(|row| Ok((required(row, 0)?, count(row, 1)?)))
        .collect()
}

/// Sends past revisions.
pub(super) fn send(rows: &mut Rows, conn: &mut Client) -> Given<()> {
    rows.send(conn, "past", COLUMNS)
}

/// Keeps one past revision.
pub(super) fn keep<R: Record>(conn: &mut Client, key: Key, record: &R, change: i64) -> Given<()> {
    let mut one = Rows::default();
    write(&mut one, key, record, change)?;
    send(&mut one, conn)
}
