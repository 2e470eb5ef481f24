//! What somebody holds of a trackway.

use super::connections::Writing;
use super::failure::Doing;
use super::member::{self, Writes};
use super::{past, print_row, site_row, surface_row};
use crate::store::judging::{Beside, judged};
use crate::store::touched::Growth;
use crate::store::{Change, StoreError, Verdict};
use spatial::model::{Trackway, TrackwayId};

const DOING: &str = "judging a trackway";

/// Accepts or rejects a trackway; see `Store::judge`.
pub(super) fn judge(
    mut conn: Writing,
    id: &TrackwayId,
    verdict: Verdict,
    revision: Option<u32>,
    change: &Change,
) -> Result<Trackway, StoreError> {
    let missing = || StoreError::Missing(format!("trackway {id}"));
    site_row::lock(&mut conn, &id.surface.site).doing(DOING)?;
    let surface = surface_row::find(&mut *conn, &id.surface).doing(DOING)?;
    let key = surface.ok_or_else(missing)?.key;
    let stored = member::find::<Trackway>(&mut *conn, key, &id.label).doing(DOING)?;
    let stored = stored.ok_or_else(missing)?;
    let beside = || {
        let all = member::of_surface::<Trackway>(&mut *conn, key).doing(DOING)?;
        Ok(Beside {
            gone: print_row::first_unknown(&mut *conn, key, &stored.0.prints).doing(DOING)?,
            trackways: all.into_iter().map(|(trackway, _)| trackway).collect(),
        })
    };
    let Some(judged) = judged((id, &stored.0), verdict, revision, &change.author, beside)? else {
        return Ok(stored.0);
    };
    let change = past::begin_change(&mut conn, key.site, change).doing(DOING)?;
    let mut writes = Writes::new(&mut conn, change);
    writes
        .replace(key, &stored, &judged)
        .and_then(|()| writes.send())
        .and_then(|()| surface_row::sum_up(&mut conn, key, &Growth::default()))
        .and_then(|()| conn.commit())
        .doing(DOING)?;
    Ok(judged)
}
