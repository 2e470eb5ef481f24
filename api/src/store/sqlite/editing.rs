//! One record made, replaced or removed: a sheet of one row, with what must hold before it.

use super::connections::Writing;
use super::failure::Doing;
use super::past::{self, Kept};
use super::sheet::Sheet;
use super::surface_row::{self, Stored};
use super::{extent_row, print_row, site_row, trackway_row};
use crate::store::editing::{
    Deed, Edit, Edited, Once, check_print_is_free, check_stands, check_trackway_is_free, edited,
    forgotten_before, needed,
};
use crate::store::kept::Record;
use crate::store::words::Words;
use crate::store::{
    Change, Conflict, Outcome, RecordId, RowConflict, SheetExtent, SheetPrint, SheetTransaction, StoreError,
    finite,
};
use rusqlite::{Connection, OptionalExtension};
use spatial::model::{Label, Print, Site, SurfaceId, Trackway, TrackwayId};

const DOING: &str = "changing a record";
const MADE: &str = "SELECT digest, id, revision FROM made_once WHERE author = ?1 AND key = ?2";
const REMEMBER: &str =
    "INSERT INTO made_once (author, key, digest, id, revision, at) VALUES (?1, ?2, ?3, ?4, ?5, ?6)";
const FORGET: &str = "DELETE FROM made_once WHERE at < ?1";
const OVERLAIN_BY: &str = "SELECT print.label FROM print, json_each(print.remarks, '$.overlies') AS below \
     WHERE print.surface = ?1 AND print.remarks IS NOT NULL AND below.value = ?2 LIMIT 1";
const REMOVE_EXTENT: &str = "DELETE FROM extent WHERE surface = ?1 AND label = ?2";
const REMOVE_PRINT: &str = "DELETE FROM print WHERE surface = ?1 AND label = ?2";
const REMOVE_TRACKWAY: &str = "DELETE FROM trackway WHERE surface = ?1 AND label = ?2";

/// Makes, replaces or removes a record; see `Store::edit`.
pub(super) fn edit(conn: Writing<'_>, edit: &Edit, change: &Change) -> Result<Edited, StoreError> {
    if let Some(once) = &edit.once
        && let Some(before) = made_before(&conn, &change.author, once)?
    {
        return Ok(before);
    }
    let mut sheet = Box::new(Sheet::begin(conn, edit.id.site(), change)?);
    let id = edit
        .id
        .surface()
        .ok_or_else(|| StoreError::Missing(edit.id.to_string()))?;
    let surface = surface_row::find(&sheet.conn, id).doing(DOING)?;
    let stands = stands(&sheet.conn, &edit.id, surface.as_ref()).doing(DOING)?;
    check_stands(&edit.id, stands, edit.expected)?;
    if surface.is_none() && !matches!(edit.id, RecordId::Surface(_)) {
        return Err(StoreError::Missing(format!("surface {id}")));
    }
    let first = first_revision(&sheet.conn, &edit.id, surface.as_ref()).doing(DOING)?;
    let conflicts = sheet.perform(edit, id, change)?;
    if !conflicts.is_empty() {
        return Ok(Edited::Refused(conflicts));
    }
    let changed = sheet.surfaces.all().any(|on_file| on_file.touched.changed);
    let revision = stands.map_or(first, |stands| stands + u32::from(changed));
    if let Some(once) = &edit.once {
        remember(&sheet.conn, change, once, &edit.id, revision).doing(DOING)?;
    }
    Ok(match sheet.finish()? {
        Outcome::Taken(_) => Edited::Done(revision),
        Outcome::Refused(conflicts) => Edited::Refused(conflicts),
    })
}

/// Adds a site; see `Store::add_site_once`.
pub(super) fn add_site(
    conn: Writing<'_>,
    site: &Site,
    once: Option<&Once>,
    change: &Change,
) -> Result<Edited, StoreError> {
    const DOING: &str = "adding a site";
    if let Some(once) = once
        && let Some(before) = made_before(&conn, &change.author, once)?
    {
        return Ok(before);
    }
    let number = past::begin_change(&conn, change).doing(DOING)?;
    if !site_row::add(&conn, number, site).doing(DOING)? {
        return Err(StoreError::Exists(format!("site {}", site.slug)));
    }
    if let Some(once) = once {
        let id = RecordId::Site(site.slug.clone());
        remember(&conn, change, once, &id, 1).doing(DOING)?;
    }
    conn.commit().doing(DOING)?;
    Ok(Edited::Done(1))
}

fn made_before(conn: &Connection, author: &str, once: &Once) -> Result<Option<Edited>, StoreError> {
    let made = conn
        .query_row(MADE, (author, &once.key), |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })
        .optional()
        .doing(DOING)?;
    made.map(|made| once.answered(made)).transpose()
}

fn remember(
    conn: &Connection,
    change: &Change,
    once: &Once,
    id: &RecordId,
    revision: u32,
) -> rusqlite::Result<()> {
    conn.execute(FORGET, [forgotten_before(change).to_string()])?;
    let plain = id.plain();
    let at = change.at.to_string();
    conn.execute(
        REMEMBER,
        (&change.author, &once.key, once.digest, plain, revision, at),
    )?;
    Ok(())
}

/// The revision that a record has now; `None` where there is none.
fn stands(conn: &Connection, id: &RecordId, surface: Option<&Stored>) -> rusqlite::Result<Option<u32>> {
    let Some(surface) = surface else {
        return Ok(None);
    };
    let key = surface.key;
    Ok(match id {
        RecordId::Site(_) | RecordId::Surface(_) => Some(surface.summary.surface.revision),
        RecordId::Extent(_, label) => extent_row::find(conn, key, label)?.map(|(extent, _)| extent.revision),
        RecordId::Print(_, label) => {
            print_row::find(conn, key, label, &mut Words::default())?.map(|(print, _)| print.revision)
        }
        RecordId::Trackway(_, label) => {
            trackway_row::find(conn, key, label)?.map(|(trackway, _)| trackway.revision)
        }
    })
}

/// The revision that a record has when it is made now.
fn first_revision(conn: &Connection, id: &RecordId, surface: Option<&Stored>) -> rusqlite::Result<u32> {
    match (id.member(), surface) {
        (Some((kind, label)), Some(surface)) => past::first_revision(conn, kind, surface.key, label.as_str()),
        _ => Ok(1),
    }
}

impl Sheet<'_> {
    fn perform(
        &mut self,
        edit: &Edit,
        id: &SurfaceId,
        change: &Change,
    ) -> Result<Vec<RowConflict>, StoreError> {
        let surface = &id.label;
        match &edit.deed {
            Deed::PutSurface(record) => self.put_surface(record).map(|()| Vec::new()),
            Deed::PutExtent(extent) => self.put_extents(&[SheetExtent {
                row: 1,
                surface: surface.clone(),
                extent: extent.clone(),
            }]),
            Deed::PutPrint(print) => self.put_prints(&[SheetPrint {
                row: 1,
                surface: surface.clone(),
                print: Print::clone(print),
            }]),
            Deed::PutTrackway(trackway) => self.put_trackway(id, trackway, change),
            Deed::Remove => self.remove(&edit.id, surface).map(|()| Vec::new()),
        }
    }

    fn put_trackway(
        &mut self,
        id: &SurfaceId,
        given: &Trackway,
        change: &Change,
    ) -> Result<Vec<RowConflict>, StoreError> {
        finite::check_all([given])?;
        let on_file = self.surfaces.touch(&self.conn, &id.label).doing(DOING)?;
        let (key, conn) = (on_file.key, &self.conn);
        let stood = trackway_row::find(conn, key, &given.label).doing(DOING)?;
        let asked = needed(given, stood.as_ref().map(|stood| &stood.0));
        if let Some(label) = print_row::first_unknown(conn, key, &asked).doing(DOING)? {
            let conflict = Conflict::PrintUnknown(label);
            return Ok(vec![RowConflict { row: 1, conflict }]);
        }
        let all = trackways(conn, key)?;
        let id = TrackwayId {
            surface: id.clone(),
            label: given.label.clone(),
        };
        let next = edited(
            &id,
            given,
            stood.as_ref().map(|stood| &stood.0),
            &change.author,
            &all,
        )?;
        match &stood {
            Some(stood) if stood.0.says(&next) => return Ok(Vec::new()),
            Some(stood) => trackway_row::replace(conn, key, self.change, stood, &next).doing(DOING)?,
            None => {
                trackway_row::add(conn, key, self.change, &next).doing(DOING)?;
                on_file.touched.growth.trackways += 1;
            }
        }
        on_file.touched.changed = true;
        Ok(Vec::new())
    }

    fn remove(&mut self, id: &RecordId, surface: &Label) -> Result<(), StoreError> {
        let on_file = self.surfaces.touch(&self.conn, surface).doing(DOING)?;
        let (key, conn, touched) = (on_file.key, &self.conn, &mut on_file.touched);
        touched.changed = true;
        let missing = || StoreError::Missing(id.to_string());
        match id {
            RecordId::Site(_) | RecordId::Surface(_) => return Err(missing()),
            RecordId::Extent(_, label) => {
                let (extent, by) = extent_row::find(conn, key, label)
                    .doing(DOING)?
                    .ok_or_else(missing)?;
                touched.growth.extents -= 1;
                take_out(conn, self.change, Kept::of(key, &extent, by), REMOVE_EXTENT)
            }
            RecordId::Print(_, label) => {
                let found = print_row::find(conn, key, label, &mut Words::default()).doing(DOING)?;
                let (print, by) = found.ok_or_else(missing)?;
                check_print_is_free(id, label.as_str(), &trackways(conn, key)?)?;
                if let Some(above) = overlain_by(conn, key, label).doing(DOING)? {
                    return Err(StoreError::InUse(format!(
                        "{id} is what print {above} overlies; take it out of that one's overlies first"
                    )));
                }
                touched.growth.prints -= 1;
                touched.trackways |= print.field_trackway.is_some();
                take_out(conn, self.change, Kept::of(key, &print, by), REMOVE_PRINT)
            }
            RecordId::Trackway(_, label) => {
                let found = trackway_row::find(conn, key, label).doing(DOING)?;
                let (trackway, by) = found.ok_or_else(missing)?;
                check_trackway_is_free(id, &trackway)?;
                touched.growth.trackways -= 1;
                take_out(conn, self.change, Kept::of(key, &trackway, by), REMOVE_TRACKWAY)
            }
        }
        .doing(DOING)
    }
}

/// Takes a row out, its revision and its removal among the past ones.
fn take_out(
    conn: &Connection,
    change: i64,
    kept: rusqlite::Result<Kept>,
    delete: &str,
) -> rusqlite::Result<()> {
    let kept = kept?;
    let (surface, label) = (kept.surface, kept.label.clone());
    kept.keep_removed(conn, change)?;
    conn.execute(delete, (surface, label))?;
    Ok(())
}

fn trackways(conn: &Connection, surface: i64) -> Result<Vec<Trackway>, StoreError> {
    let all = trackway_row::of_surface(conn, surface).doing(DOING)?;
    Ok(all.into_iter().map(|(trackway, _)| trackway).collect())
}

/// A print that overlies another one.
fn overlain_by(conn: &Connection, surface: i64, label: &Label) -> rusqlite::Result<Option<String>> {
    conn.query_row(OVERLAIN_BY, (surface, label.as_str()), |row| row.get(0))
        .optional()
}
