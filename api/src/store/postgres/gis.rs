//! Views for mapping programs, where the database has PostGIS. The store is whole without them.

use super::failure::{Given, chain};
use super::migrate::LOCK;
use postgres::{Client, GenericClient};

const VIEWS: &str = include_str!("../../../../migrations/postgres/gis_views.sql");
/// What the schema's comment says when it has these views; counts up when the file changes.
const MADE: &str = "views of the store for mapping programs, version 1";

/// The schema that PostGIS is in, where it is installed and these views are not made.
const WANTED: &str = "SELECT quote_ident(namespace.nspname) FROM pg_extension AS extension \
     JOIN pg_namespace AS namespace ON namespace.oid = extension.extnamespace \
     WHERE extension.extname = 'postgis' \
       AND obj_description(to_regnamespace('stridebed_gis')::oid, 'pg_namespace') IS DISTINCT FROM $1";

/// Makes the views, or makes them anew, where they can be made and are not there.
pub(super) fn offer(conn: &mut Client) {
    if let Err(fault) = make(conn) {
        let reason = chain(&fault);
        tracing::warn!(%reason, "the views for mapping programs were not made");
    }
}

fn make(conn: &mut Client) -> Given<()> {
    if wanted(conn)?.is_none() {
        return Ok(());
    }
    let mut step = conn.transaction()?;
    step.execute("SELECT pg_advisory_xact_lock($1)", &[&LOCK])?;
    // Another program may have made them meanwhile.
    if let Some(postgis) = wanted(&mut step)? {
        step.batch_execute(&format!("SET LOCAL search_path = stridebed, {postgis}"))?;
        step.batch_execute(VIEWS)?;
        step.batch_execute(&format!("COMMENT ON SCHEMA stridebed_gis IS '{MADE}'"))?;
    }
    step.commit()?;
    Ok(())
}

fn wanted(conn: &mut impl GenericClient) -> Given<Option<String>> {
    let row = conn.query_opt(WANTED, &[&MADE])?;
    row.map(|row| Ok(row.try_get(0)?)).transpose()
}
