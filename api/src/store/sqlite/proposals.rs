//! What the grouping proposes, beside what it proposed before.

use super::connections::Writing;
use super::failure::Doing;
use super::surface_row;
use super::{past, trackway_row};
use crate::store::proposals::{Plan, plan};
use crate::store::touched::Growth;
use crate::store::{Change, StoreError, Tally};
use rusqlite::Connection;
use spatial::model::{SurfaceId, Trackway};

const DOING: &str = "taking proposals";
const HAS_PRINT: &str = "SELECT EXISTS (SELECT 1 FROM print WHERE surface = ?1 AND label = ?2)";

/// Replaces the proposals of the grouping on a surface; see `Store::propose`.
pub(super) fn propose(
    conn: Writing<'_>,
    id: &SurfaceId,
    proposals: &[Trackway],
    change: &Change,
) -> Result<Tally, StoreError> {
    let surface = surface_row::key(&conn, id)
        .doing(DOING)?
        .ok_or_else(|| StoreError::Missing(format!("surface {id}")))?;
    let stored = trackway_row::of_surface(&conn, surface).doing(DOING)?;
    let plan = plan(&stored, proposals);
    for trackway in &plan.added {
        check_prints(&conn, surface, id, trackway)?;
    }
    if plan.tally.added + plan.tally.changed > 0 {
        write(&conn, surface, &plan, change)
            .and_then(|()| conn.commit())
            .doing(DOING)?;
    }
    Ok(plan.tally)
}

fn write(conn: &Connection, surface: i64, plan: &Plan<'_>, change: &Change) -> rusqlite::Result<()> {
    let change = past::begin_change(conn, change)?;
    for trackway in &plan.added {
        trackway_row::add(conn, surface, change, trackway)?;
    }
    for (stored, next) in &plan.replaced {
        trackway_row::replace(conn, surface, change, stored, next)?;
    }
    let growth = Growth {
        trackways: surface_row::as_integer(plan.tally.added),
        ..Growth::default()
    };
    surface_row::sum_up(conn, surface, &growth)
}

/// A trackway of prints that the surface does not have would break every query that walks along it.
fn check_prints(
    conn: &Connection,
    surface: i64,
    id: &SurfaceId,
    proposal: &Trackway,
) -> Result<(), StoreError> {
    let mut has_print = conn.prepare_cached(HAS_PRINT).doing(DOING)?;
    for label in &proposal.prints {
        let has: bool = has_print
            .query_row((surface, label.as_str()), |row| row.get(0))
            .doing(DOING)?;
        if !has {
            return Err(StoreError::Missing(format!("print {id}:{label}")));
        }
    }
    Ok(())
}
