//! What somebody holds of a trackway.

use super::connections::Writing;
use super::failure::Doing;
use super::{past, print_row, surface_row, trackway_row};
use crate::store::judging::{Beside, judged};
use crate::store::touched::Growth;
use crate::store::{Change, StoreError, Verdict};
use spatial::model::{Trackway, TrackwayId};

const DOING: &str = "judging a trackway";

/// Accepts or rejects a trackway; see `Store::judge`.
pub(super) fn judge(
    conn: Writing<'_>,
    id: &TrackwayId,
    verdict: Verdict,
    revision: Option<u32>,
    change: &Change,
) -> Result<Trackway, StoreError> {
    let missing = || StoreError::Missing(format!("trackway {id}"));
    let surface = surface_row::key(&conn, &id.surface)
        .doing(DOING)?
        .ok_or_else(missing)?;
    let stored = trackway_row::find(&conn, surface, &id.label)
        .doing(DOING)?
        .ok_or_else(missing)?;
    let beside = || {
        let all = trackway_row::of_surface(&conn, surface).doing(DOING)?;
        Ok(Beside {
            gone: print_row::first_unknown(&conn, surface, &stored.0.prints).doing(DOING)?,
            trackways: all.into_iter().map(|(trackway, _)| trackway).collect(),
        })
    };
    let Some(judged) = judged((id, &stored.0), verdict, revision, &change.author, beside)? else {
        return Ok(stored.0);
    };
    let change = past::begin_change(&conn, change).doing(DOING)?;
    trackway_row::replace(&conn, surface, change, &stored, &judged)
        .and_then(|()| surface_row::sum_up(&conn, surface, &Growth::default()))
        .and_then(|()| conn.commit())
        .doing(DOING)?;
    Ok(judged)
}
