//! What somebody holds of a trackway.

use super::connections::Writing;
use super::failure::Doing;
use super::surface_row::{self, Growth};
use super::{past, trackway_row};
use crate::store::{Change, StoreError, Verdict};
use rusqlite::Connection;
use spatial::model::{Label, Status, Trackway, TrackwayId};
use std::collections::HashSet;

const DOING: &str = "judging a trackway";

/// Accepts or rejects a trackway; see `Store::judge`.
pub(super) fn judge(
    conn: Writing<'_>,
    id: &TrackwayId,
    verdict: Verdict,
    revision: Option<u32>,
    change: &Change,
) -> Result<Trackway, StoreError> {
    let called = || format!("trackway {id}");
    let missing = || StoreError::Missing(called());
    let surface = surface_row::key(&conn, &id.surface)
        .doing(DOING)?
        .ok_or_else(missing)?;
    let stored = trackway_row::find(&conn, surface, &id.label)
        .doing(DOING)?
        .ok_or_else(missing)?;
    let stood = &stored.0;
    if revision.is_some_and(|seen| seen != stood.revision) {
        return Err(StoreError::Moved(called()));
    }
    if stood.status == verdict.status() && stood.judged_by.is_some() {
        return Ok(stored.0);
    }
    if verdict == Verdict::Accept {
        check_shared(&conn, surface, stood)?;
    }
    let judged = Trackway {
        status: verdict.status(),
        judged_by: Some(change.author.clone()),
        revision: stood.revision + 1,
        ..stood.clone()
    };
    let change = past::begin_change(&conn, change).doing(DOING)?;
    trackway_row::replace(&conn, surface, change, &stored, &judged)
        .and_then(|()| surface_row::sum_up(&conn, surface, &Growth::default()))
        .and_then(|()| conn.commit())
        .doing(DOING)?;
    Ok(judged)
}

fn check_shared(conn: &Connection, surface: i64, trackway: &Trackway) -> Result<(), StoreError> {
    let prints: HashSet<&Label> = trackway.prints.iter().collect();
    for (other, _) in trackway_row::of_surface(conn, surface).doing(DOING)? {
        if other.status != Status::Accepted || other.label == trackway.label {
            continue;
        }
        if let Some(print) = other.prints.iter().find(|print| prints.contains(print)) {
            return Err(StoreError::Shared {
                print: print.clone(),
                trackway: other.label,
            });
        }
    }
    Ok(())
}
