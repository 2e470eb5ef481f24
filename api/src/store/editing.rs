//! Records made, replaced and removed one by one, the same in every store.

use super::judging::check_shared;
use super::{Change, RecordId, RowConflict, StoreError};
use jiff::{Timestamp, ToSpan};
use spatial::model::{Basis, Extent, Label, Print, Status, Surface, Trackway, TrackwayId};

/// One change of one record.
#[derive(Debug, Clone)]
pub struct Edit {
    /// The record; never a site.
    pub id: RecordId,
    /// What becomes of it.
    pub deed: Deed,
    /// How it must stand before.
    pub expected: Expected,
    /// Who asks a second time with the same key is answered as the first time.
    pub once: Option<Once>,
}

/// What becomes of a record.
#[derive(Debug, Clone)]
pub enum Deed {
    /// It is this surface.
    PutSurface(Surface),
    /// It is this extent.
    PutExtent(Extent),
    /// It is this print.
    PutPrint(Box<Print>),
    /// It is this trackway.
    PutTrackway(Trackway),
    /// It is no more; its history stays.
    Remove,
}

/// How a record must stand before it is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Expected {
    /// There is none.
    Absent,
    /// It has this revision.
    Revision(u32),
    /// There is one, whatever its revision.
    Any,
}

/// A key under which something is made once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Once {
    /// The key, as the asker has drawn it.
    pub key: String,
    /// SHA-256 of what he asks.
    pub digest: [u8; 32],
}

/// What became of an edit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edited {
    /// It is stored; the record's revision, of a removed one that of the removal.
    Done(u32),
    /// It was made before under the same key, with this id and then this revision.
    Before(String, u32),
    /// Nothing was stored, because it does not fit what stands beside it.
    Refused(Vec<RowConflict>),
}

/// Keys are kept for so long.
pub(super) const KEPT_HOURS: i64 = 48;

/// Keys of before this moment may go.
pub(super) fn forgotten_before(change: &Change) -> Timestamp {
    change
        .at
        .checked_sub(KEPT_HOURS.hours())
        .unwrap_or(Timestamp::MIN)
}

impl Once {
    /// What was made under the key, where it was for the same.
    ///
    /// # Errors
    /// [`StoreError::KeyUsed`] when it was for something else.
    pub(super) fn answered(&self, made: (Vec<u8>, String, u32)) -> Result<Edited, StoreError> {
        let (digest, id, revision) = made;
        if digest == self.digest {
            Ok(Edited::Before(id, revision))
        } else {
            Err(StoreError::KeyUsed(self.key.clone()))
        }
    }
}

/// Checks how a record stands; `stands` is its revision.
///
/// # Errors
/// [`StoreError::Exists`], [`StoreError::Missing`] and [`StoreError::Moved`].
pub(super) fn check_stands(id: &RecordId, stands: Option<u32>, expected: Expected) -> Result<(), StoreError> {
    match (expected, stands) {
        (Expected::Absent, Some(_)) => Err(StoreError::Exists(id.to_string())),
        (Expected::Revision(_) | Expected::Any, None) => Err(StoreError::Missing(id.to_string())),
        (Expected::Revision(seen), Some(stands)) if seen != stands => Err(StoreError::Moved(id.to_string())),
        _ => Ok(()),
    }
}

/// The prints that must be there for a trackway to be stored as it is given. One that is rejected may keep those that it had,
/// also where they have been removed since.
pub(super) fn needed(given: &Trackway, stood: Option<&Trackway>) -> Vec<Label> {
    let kept = stood
        .filter(|_| given.status == Status::Rejected)
        .map_or(&[][..], |stood| &stood.prints);
    let new = given.prints.iter().filter(|print| !kept.contains(print));
    new.cloned().collect()
}

/// The trackway as it is to be stored beside `all` of its surface: what its prints do not say stays as it was, and who
/// changes them is its editor.
///
/// # Errors
/// [`StoreError::Shared`] when it is to be accepted with a print of another one that is.
pub(super) fn edited(
    id: &TrackwayId,
    given: &Trackway,
    stood: Option<&Trackway>,
    author: &str,
    all: &[Trackway],
) -> Result<Trackway, StoreError> {
    let same_prints = stood.is_some_and(|stood| stood.prints == given.prints);
    let kept = stood.filter(|_| same_prints);
    let judged = given.status != Status::Proposed;
    let next = Trackway {
        label: id.label.clone(),
        basis: kept.map_or(Basis::Editor, |kept| kept.basis),
        probability: kept.and_then(|kept| kept.probability),
        judged_by: match stood {
            Some(stood) if stood.status == given.status => stood.judged_by.clone(),
            _ => judged.then(|| author.to_owned()),
        },
        revision: stood.map_or(0, |stood| stood.revision),
        ..given.clone()
    };
    if next.status == Status::Accepted {
        check_shared(&next, all)?;
    }
    Ok(next)
}

/// Why a print cannot be removed, where trackways of the surface speak against it.
///
/// # Errors
/// [`StoreError::InUse`].
pub(super) fn check_print_is_free(id: &RecordId, print: &str, all: &[Trackway]) -> Result<(), StoreError> {
    let holds = |trackway: &&Trackway| {
        trackway.basis != Basis::Field
            && trackway.status != Status::Rejected
            && trackway.prints.iter().any(|label| label.as_str() == print)
    };
    match all.iter().find(holds) {
        None => Ok(()),
        Some(trackway) => Err(StoreError::InUse(format!(
            "{id} is in trackway {}; reject that one or take the print out of it first",
            trackway.label
        ))),
    }
}

/// Why a trackway cannot be removed.
///
/// # Errors
/// [`StoreError::InUse`].
pub(super) fn check_trackway_is_free(id: &RecordId, trackway: &Trackway) -> Result<(), StoreError> {
    if trackway.basis == Basis::Field && trackway.status != Status::Rejected {
        return Err(StoreError::InUse(format!(
            "{id} is what the field party's prints say; change these, or reject it"
        )));
    }
    Ok(())
}
