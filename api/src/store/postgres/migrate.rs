//! Telling our database from others', and bringing it up to date.

use super::PostgresAddress;
use super::failure::{Doing, Given};
use crate::store::StoreError;
use postgres::Client;

/// The schema's versions in order; the table `migration` says which of them a database has been through.
pub(super) const MIGRATIONS: &[&str] = &[
    include_str!("../../../../migrations/postgres/0001_record.sql"),
    include_str!("../../../../migrations/postgres/0002_jobs.sql"),
    include_str!("../../../../migrations/postgres/0003_access.sql"),
    include_str!("../../../../migrations/postgres/0004_editing.sql"),
    include_str!("../../../../migrations/postgres/0005_moments_of_jobs.sql"),
];

/// The oldest server whose triggers and partitions do what the schema needs: the oldest that is kept up.
const OLDEST: i32 = 14;

/// Whoever makes or changes tables holds this lock: `Strb` in ASCII.
pub(super) const LOCK: i64 = i32::from_be_bytes(*b"Strb") as i64;

const BEGIN: &str = "CREATE SCHEMA IF NOT EXISTS stridebed; \
     CREATE TABLE IF NOT EXISTS stridebed.migration ( \
         number integer PRIMARY KEY, at timestamptz NOT NULL DEFAULT now())";

/// Looks whether the server and the database are fit, and applies the migrations that are missing; of two programs that
/// come at once, one waits and finds the work done.
pub(super) fn bring_up_to_date(
    conn: &mut Client,
    address: &PostgresAddress,
    create: bool,
) -> Result<(), StoreError> {
    check_server(conn, address)?;
    let found = version(conn).doing("reading the store's version")?;
    if found.is_none() && !create {
        return Err(StoreError::Missing(format!("store at {address}")));
    }
    if check_version(found, address)? == MIGRATIONS.len() {
        return Ok(());
    }
    match apply_missing(conn) {
        Err(fault) if fault.is_forbidden() => Err(StoreError::Unfit(format!(
            "{address}: this user may not make the store's tables; let the owner of the database open it first, \
             or grant the right to create schemas"
        ))),
        applied => applied.doing("bringing the store up to date"),
    }
}

fn check_server(conn: &mut Client, address: &PostgresAddress) -> Result<(), StoreError> {
    let ask = "SELECT current_setting('server_version_num')::integer, current_setting('server_encoding')";
    let row = conn
        .query_one(ask, &[])
        .doing("asking for the server's version")?;
    let (number, encoding): (i32, String) = (row.get(0), row.get(1));
    unfit_server(number, &encoding).map_or(Ok(()), |why| {
        Err(StoreError::Unfit(format!("{address} cannot hold a store: {why}")))
    })
}

/// Why a server of this version number, as PostgreSQL counts them, and with this encoding cannot hold a store.
pub(super) fn unfit_server(number: i32, encoding: &str) -> Option<String> {
    let major = number / 10_000;
    if major < OLDEST {
        return Some(format!(
            "the server is PostgreSQL {major}; {OLDEST} or newer is needed"
        ));
    }
    (encoding != "UTF8").then(|| {
        format!("the database's encoding is {encoding}; make one with `createdb --encoding=UTF8 --template=template0`")
    })
}

/// How many migrations a database has been through; `None` where it is no store.
fn version(conn: &mut Client) -> Given<Option<usize>> {
    let there = conn.query_one("SELECT to_regclass('stridebed.migration') IS NOT NULL", &[])?;
    if !there.try_get::<_, bool>(0)? {
        return Ok(None);
    }
    let newest = conn.query_one("SELECT coalesce(max(number), 0) FROM stridebed.migration", &[])?;
    Ok(Some(
        usize::try_from(newest.try_get::<_, i32>(0)?).unwrap_or_default(),
    ))
}

fn check_version(found: Option<usize>, address: &PostgresAddress) -> Result<usize, StoreError> {
    let (found, newest) = (found.unwrap_or(0), MIGRATIONS.len());
    if found > newest {
        return Err(StoreError::Unfit(format!(
            "{address} was written by a later version of this program (its schema is {found}, this program knows {newest}); use that version"
        )));
    }
    Ok(found)
}

fn apply_missing(conn: &mut Client) -> Given<()> {
    let mut step = conn.transaction()?;
    // The other may take its time: it makes many tables.
    step.batch_execute("SET LOCAL lock_timeout = '120s'")?;
    step.execute("SELECT pg_advisory_xact_lock($1)", &[&LOCK])?;
    step.batch_execute(BEGIN)?;
    let newest = step.query_one("SELECT coalesce(max(number), 0) FROM stridebed.migration", &[])?;
    let done = usize::try_from(newest.try_get::<_, i32>(0)?).unwrap_or_default();
    for (number, migration) in (1i32..).zip(MIGRATIONS).skip(done) {
        step.batch_execute(migration)?;
        step.execute("INSERT INTO stridebed.migration (number) VALUES ($1)", &[&number])?;
    }
    step.commit()?;
    Ok(())
}
