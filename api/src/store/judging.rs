//! What becomes of a record that somebody judges or changes, whichever store it stands in.

use super::{StoreError, Verdict};
use spatial::model::{Label, Site, Status, Trackway, TrackwayId};
use std::collections::HashSet;

/// Whether a site that is given differs from the stored one, and may.
///
/// # Errors
/// [`StoreError::Moved`] and [`StoreError::FixedCrs`]; see `Store::change_site`.
pub(super) fn is_changed(stored: &Site, site: &Site) -> Result<bool, StoreError> {
    let called = || format!("site {}", site.slug);
    if site.revision != stored.revision {
        return Err(StoreError::Moved(called()));
    }
    if site.crs != stored.crs {
        return Err(StoreError::FixedCrs(called()));
    }
    Ok(site != stored)
}

/// What stands beside a trackway that is to be accepted.
pub(super) struct Beside {
    /// A print of it that there is no more: a rejected trackway does not keep its prints from being removed.
    pub(super) gone: Option<Label>,
    /// All trackways of its surface.
    pub(super) trackways: Vec<Trackway>,
}

/// The trackway's next revision after a verdict; `None` where it was judged so already.
///
/// # Errors
/// [`StoreError::Moved`], [`StoreError::Gone`] and [`StoreError::Shared`]; see `Store::judge`.
pub(super) fn judged(
    (id, stood): (&TrackwayId, &Trackway),
    verdict: Verdict,
    seen: Option<u32>,
    author: &str,
    beside: impl FnOnce() -> Result<Beside, StoreError>,
) -> Result<Option<Trackway>, StoreError> {
    if seen.is_some_and(|seen| seen != stood.revision) {
        return Err(StoreError::Moved(format!("trackway {id}")));
    }
    if stood.status == verdict.status() && stood.judged_by.is_some() {
        return Ok(None);
    }
    if verdict == Verdict::Accept {
        let beside = beside()?;
        if let Some(print) = beside.gone {
            return Err(StoreError::Gone {
                print,
                trackway: stood.label.clone(),
            });
        }
        check_shared(stood, &beside.trackways)?;
    }
    Ok(Some(Trackway {
        status: verdict.status(),
        judged_by: Some(author.to_owned()),
        revision: stood.revision + 1,
        ..stood.clone()
    }))
}

pub(super) fn check_shared(trackway: &Trackway, all: &[Trackway]) -> Result<(), StoreError> {
    let prints: HashSet<&Label> = trackway.prints.iter().collect();
    for other in all {
        if other.status != Status::Accepted || other.label == trackway.label {
            continue;
        }
        if let Some(print) = other.prints.iter().find(|print| prints.contains(print)) {
            return Err(StoreError::Shared {
                print: print.clone(),
                trackway: other.label.clone(),
            });
        }
    }
    Ok(())
}
