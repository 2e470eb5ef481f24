//! What the grouping proposes, beside what it proposed before.

use super::column::as_integer;
use super::connections::Writing;
use super::failure::{Doing, Given};
use super::member::{self, Writes};
use super::surface_row::Key;
use super::{past, site_row, surface_row};
use crate::store::proposals::{Plan, plan};
use crate::store::touched::Growth;
use crate::store::{Change, StoreError, Tally};
use postgres::Client;
use spatial::model::{Label, SurfaceId, Trackway};

const DOING: &str = "taking proposals";
/// The first of some labels that no print of a surface has.
const UNKNOWN: &str = "SELECT given.label FROM unnest($3::text[]) WITH ORDINALITY AS given (label, place) \
     WHERE NOT EXISTS ( \
         SELECT 1 FROM print WHERE site = $1 AND surface = $2 AND print.label = given.label COLLATE \"C\") \
     ORDER BY place LIMIT 1";

/// Replaces the proposals of the grouping on a surface; see `Store::propose`.
pub(super) fn propose(
    mut conn: Writing,
    id: &SurfaceId,
    proposals: &[Trackway],
    change: &Change,
) -> Result<Tally, StoreError> {
    site_row::lock(&mut conn, &id.site).doing(DOING)?;
    let surface = surface_row::find(&mut *conn, id).doing(DOING)?;
    let surface = surface.ok_or_else(|| StoreError::Missing(format!("surface {id}")))?;
    let key = surface.key;
    let stored = member::of_surface::<Trackway>(&mut *conn, key).doing(DOING)?;
    let plan = plan(&stored, proposals);
    if let Some(label) = unknown_print(&mut conn, key, &plan.added).doing(DOING)? {
        return Err(StoreError::Missing(format!("print {id}:{label}")));
    }
    if plan.tally.added + plan.tally.changed > 0 {
        write(&mut conn, key, &plan, change)
            .and_then(|()| conn.commit())
            .doing(DOING)?;
    }
    Ok(plan.tally)
}

fn write(conn: &mut Client, key: Key, plan: &Plan<'_>, change: &Change) -> Given<()> {
    let change = past::begin_change(conn, key.site, change)?;
    let mut writes = Writes::new(conn, change);
    for trackway in &plan.added {
        writes.add(key, trackway)?;
    }
    for (stored, next) in &plan.replaced {
        writes.replace(key, stored, next)?;
    }
    writes.send()?;
    let growth = Growth {
        trackways: as_integer(plan.tally.added),
        ..Growth::default()
    };
    surface_row::sum_up(conn, key, &growth)
}

/// A trackway of prints that the surface does not have would break every query that walks along it.
fn unknown_print(conn: &mut Client, key: Key, added: &[Trackway]) -> Given<Option<String>> {
    let labels: Vec<&str> = added
        .iter()
        .flat_map(|trackway| &trackway.prints)
        .map(Label::as_str)
        .collect();
    let row = conn.query_opt(UNKNOWN, &[&key.site, &key.surface, &labels])?;
    row.map(|row| Ok(row.try_get(0)?)).transpose()
}
