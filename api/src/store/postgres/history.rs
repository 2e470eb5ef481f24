//! All revisions of a record.

use super::column::{count, json, required};
use super::failure::{Fault, Given};
use super::surface_row::Key;
use super::{member, print_row, site_row, surface_row};
use crate::store::kept::{Kind, Record};
use crate::store::{RecordId, Revision};
use postgres::{Row, Transaction};
use spatial::model::{Extent, Trackway};

const PAST: &str = "SELECT past.revision, change.author, change.at, change.deed, past.record::text \
     FROM past JOIN change ON change.site = past.site AND change.id = past.change \
     WHERE past.site = $1 AND past.kind = $2 AND past.surface = $3 AND past.label = $4 ORDER BY past.revision";
const CURRENT: &str = "SELECT $3::bigint, author, at, deed, $4::text FROM change WHERE site = $1 AND id = $2";

/// The current revision of a record.
struct Current {
    kind: Kind,
    /// Where its past revisions are kept.
    key: Key,
    label: String,
    revision: u32,
    change: i64,
    json: String,
}

impl Current {
    fn of<R: Record>(key: Key, record: &R, change: i64) -> Given<Self> {
        Ok(Self {
            kind: R::KIND,
            key,
            label: record.label().to_owned(),
            revision: record.revision(),
            change,
            json: record.to_json()?,
        })
    }
}

/// All revisions, oldest first, the current one last; of a removed record the removal. Empty where there never was such a
/// record.
pub(super) fn of(moment: &mut Transaction<'_>, id: &RecordId) -> Given<Vec<Revision>> {
    let now = current(moment, id)?;
    let place = match &now {
        Some(now) => Some((now.kind, now.key, now.label.clone())),
        None => removed(moment, id)?,
    };
    let Some((kind, Key { site, surface }, label)) = place else {
        return Ok(Vec::new());
    };
    let past = moment.query(PAST, &[&site, &kind.name(), &surface, &label])?;
    let mut revisions: Vec<Revision> = past.iter().map(read).collect::<Given<_>>()?;
    if let Some(now) = now {
        // As text and back, like those of the past: all revisions of a record look alike.
        let newest = (&now.change, &i64::from(now.revision), &now.json);
        let newest = moment.query_one(CURRENT, &[&site, newest.0, newest.1, newest.2])?;
        revisions.push(read(&newest)?);
    }
    Ok(revisions)
}

/// Where the past of a record is that no longer stands.
fn removed(moment: &mut Transaction<'_>, id: &RecordId) -> Given<Option<(Kind, Key, String)>> {
    let (Some((kind, label)), Some(surface)) = (id.member(), id.surface()) else {
        return Ok(None);
    };
    let found = surface_row::find(moment, surface)?;
    Ok(found.map(|stored| (kind, stored.key, label.to_string())))
}

fn read(row: &Row) -> Given<Revision> {
    Ok(Revision {
        revision: count(row, 0)?,
        author: row.try_get(1)?,
        at: required(row, 2)?,
        deed: row.try_get(3)?,
        record: json(row, 4)?.ok_or(Fault::Broken("a past revision is empty"))?,
    })
}

fn current(moment: &mut Transaction<'_>, id: &RecordId) -> Given<Option<Current>> {
    let surface = match id {
        RecordId::Site(slug) => {
            let stored = site_row::find(moment, slug)?;
            let now = stored.map(|stored| Current::of(stored.key(), &stored.site, stored.change));
            return now.transpose();
        }
        RecordId::Surface(id)
        | RecordId::Extent(id, _)
        | RecordId::Print(id, _)
        | RecordId::Trackway(id, _) => surface_row::find(moment, id)?,
    };
    let Some(surface) = surface else {
        return Ok(None);
    };
    let key = surface.key;
    let now = match id {
        RecordId::Site(_) | RecordId::Surface(_) => {
            Some(Current::of(key, &surface.summary.surface, surface.change))
        }
        RecordId::Extent(_, label) => member::find::<Extent>(moment, key, label)?
            .map(|(extent, change)| Current::of(key, &extent, change)),
        RecordId::Print(_, label) => {
            print_row::find(moment, key, label)?.map(|(print, change)| Current::of(key, &print, change))
        }
        RecordId::Trackway(_, label) => member::find::<Trackway>(moment, key, label)?
            .map(|(trackway, change)| Current::of(key, &trackway, change)),
    };
    now.transpose()
}
