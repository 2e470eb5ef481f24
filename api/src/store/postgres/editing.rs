//! One record made, replaced or removed: a sheet of one row, with what must hold before it.

use super::column::count;
use super::connections::Writing;
use super::failure::{Doing, Given};
use super::member::{self, Member, Writes};
use super::rows::Rows;
use super::sheet::Sheet;
use super::surface_row::{self, Key, Stored};
use super::{past, print_row, site_row};
use crate::store::editing::{
    Deed, Edit, Edited, Once, check_print_is_free, check_stands, check_trackway_is_free, edited,
    forgotten_before, needed,
};
use crate::store::kept::Record;
use crate::store::{
    Change, Conflict, RecordId, RowConflict, SheetExtent, SheetPrint, SheetTransaction, StoreError, finite,
};
use postgres::Client;
use spatial::model::{Extent, Label, Print, Site, SurfaceId, Trackway, TrackwayId};

const DOING: &str = "changing a record";
const MADE: &str = "SELECT digest, id, revision FROM made_once WHERE author = $1 AND key = $2";
/// Of two who make the same at once, the second waits here for the first, and then finds what was made.
const CLAIM: &str = "SELECT pg_advisory_xact_lock(hashtextextended($1 || ' ' || $2, 0))";
const REMEMBER: &str =
    "INSERT INTO made_once (author, key, digest, id, revision, at) VALUES ($1, $2, $3, $4, $5, $6)";
const FORGET: &str = "DELETE FROM made_once WHERE at < $1";
const OVERLAIN_BY: &str =
    "SELECT label FROM print WHERE site = $1 AND surface = $2 AND $3 = ANY (overlies) LIMIT 1";

/// Makes, replaces or removes a record; see `Store::edit`.
pub(super) fn edit(mut conn: Writing, edit: &Edit, change: &Change) -> Result<Edited, StoreError> {
    if let Some(once) = &edit.once
        && let Some(before) = made_before(&mut conn, &change.author, once)?
    {
        return Ok(before);
    }
    let mut sheet = Box::new(Sheet::begin(conn, edit.id.site(), change)?);
    let id = edit
        .id
        .surface()
        .ok_or_else(|| StoreError::Missing(edit.id.to_string()))?;
    let conn = sheet.sending.conn();
    let surface = surface_row::find(&mut **conn, id).doing(DOING)?;
    let stands = stands(conn, &edit.id, surface.as_ref()).doing(DOING)?;
    check_stands(&edit.id, stands, edit.expected)?;
    if surface.is_none() && !matches!(edit.id, RecordId::Surface(_)) {
        return Err(StoreError::Missing(format!("surface {id}")));
    }
    let first = first_revision(conn, &edit.id, surface.as_ref()).doing(DOING)?;
    let conflicts = sheet.perform(edit, id, change)?;
    if !conflicts.is_empty() {
        return Ok(Edited::Refused(conflicts));
    }
    // Whether a print differs from the stored one shows only at the end.
    let conflicts = sheet.settle().doing(DOING)?;
    if !conflicts.is_empty() {
        return Ok(Edited::Refused(conflicts));
    }
    let changed = sheet.writes();
    let revision = stands.map_or(first, |stands| stands + u32::from(changed));
    if let Some(once) = &edit.once {
        remember(sheet.sending.conn(), change, once, &edit.id, revision).doing(DOING)?;
    }
    sheet.end()?;
    Ok(Edited::Done(revision))
}

/// Adds a site; see `Store::add_site_once`.
pub(super) fn add_site(
    mut conn: Writing,
    site: &Site,
    once: Option<&Once>,
    change: &Change,
) -> Result<Edited, StoreError> {
    const DOING: &str = "adding a site";
    if let Some(once) = once
        && let Some(before) = made_before(&mut conn, &change.author, once)?
    {
        return Ok(before);
    }
    let first = site.clone().at_revision(1);
    // The first change of a site is its first.
    let added = site_row::add(&mut conn, 1, &first).doing(DOING)?;
    let id = added.ok_or_else(|| StoreError::Exists(format!("site {}", site.slug)))?;
    past::begin_change(&mut conn, id, change).doing(DOING)?;
    if let Some(once) = once {
        let id = RecordId::Site(site.slug.clone());
        remember(&mut conn, change, once, &id, 1).doing(DOING)?;
    }
    conn.commit().doing(DOING)?;
    Ok(Edited::Done(1))
}

fn made_before(conn: &mut Client, author: &str, once: &Once) -> Result<Option<Edited>, StoreError> {
    conn.execute(CLAIM, &[&author, &once.key]).doing(DOING)?;
    let row = conn.query_opt(MADE, &[&author, &once.key]).doing(DOING)?;
    row.map(|row| {
        let revision = count(&row, 2).doing(DOING)?;
        once.answered((row.get(0), row.get(1), revision))
    })
    .transpose()
}

fn remember(conn: &mut Client, change: &Change, once: &Once, id: &RecordId, revision: u32) -> Given<()> {
    conn.execute(FORGET, &[&forgotten_before(change).to_string()])?;
    let (at, id, revision) = (change.at.to_string(), id.plain(), i64::from(revision));
    let digest = once.digest.as_slice();
    conn.execute(
        REMEMBER,
        &[&change.author, &once.key, &digest, &id, &revision, &at],
    )?;
    Ok(())
}

/// The revision that a record has now; `None` where there is none.
fn stands(conn: &mut Client, id: &RecordId, surface: Option<&Stored>) -> Given<Option<u32>> {
    let Some(surface) = surface else {
        return Ok(None);
    };
    let key = surface.key;
    Ok(match id {
        RecordId::Site(_) | RecordId::Surface(_) => Some(surface.summary.surface.revision),
        RecordId::Extent(_, label) => {
            member::find::<Extent>(conn, key, label)?.map(|(extent, _)| extent.revision)
        }
        RecordId::Print(_, label) => print_row::find(conn, key, label)?.map(|(print, _)| print.revision),
        RecordId::Trackway(_, label) => {
            member::find::<Trackway>(conn, key, label)?.map(|(trackway, _)| trackway.revision)
        }
    })
}

/// The revision that a record has when it is made now.
fn first_revision(conn: &mut Client, id: &RecordId, surface: Option<&Stored>) -> Given<u32> {
    let (Some((kind, label)), Some(surface)) = (id.member(), surface) else {
        return Ok(1);
    };
    let removed = past::removed(conn, kind, surface.key)?;
    Ok(removed.get(label).map_or(1, |last| last + 1))
}

impl Sheet {
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
        let (conn, by) = (self.sending.conn(), self.change);
        let on_file = self.surfaces.touch(conn, &id.label).doing(DOING)?;
        let key = on_file.key;
        let stood = member::find::<Trackway>(&mut **conn, key, &given.label).doing(DOING)?;
        let asked = needed(given, stood.as_ref().map(|stood| &stood.0));
        if let Some(label) = print_row::first_unknown(&mut **conn, key, &asked).doing(DOING)? {
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
        let mut writes = Writes::new(conn, by);
        match &stood {
            Some(stood) if stood.0.says(&next) => return Ok(Vec::new()),
            Some(stood) => writes.replace(key, stood, &next).doing(DOING)?,
            None => {
                writes.add(key, &next).doing(DOING)?;
                on_file.touched.growth.trackways += 1;
            }
        }
        on_file.touched.changed = true;
        writes.send().doing(DOING)?;
        Ok(Vec::new())
    }

    fn remove(&mut self, id: &RecordId, surface: &Label) -> Result<(), StoreError> {
        let (conn, by) = (self.sending.conn(), self.change);
        let on_file = self.surfaces.touch(conn, surface).doing(DOING)?;
        let (key, touched) = (on_file.key, &mut on_file.touched);
        touched.changed = true;
        let missing = || StoreError::Missing(id.to_string());
        match id {
            RecordId::Site(_) | RecordId::Surface(_) => return Err(missing()),
            RecordId::Extent(_, label) => {
                let found = member::find::<Extent>(&mut **conn, key, label).doing(DOING)?;
                touched.growth.extents -= 1;
                take_out(conn, by, key, &found.ok_or_else(missing)?, Extent::TABLE)
            }
            RecordId::Print(_, label) => {
                let found = print_row::find(&mut **conn, key, label)
                    .doing(DOING)?
                    .ok_or_else(missing)?;
                check_print_is_free(id, label.as_str(), &trackways(conn, key)?)?;
                if let Some(above) = overlain_by(conn, key, label).doing(DOING)? {
                    return Err(StoreError::InUse(format!(
                        "{id} is what print {above} overlies; take it out of that one's overlies first"
                    )));
                }
                touched.growth.prints -= 1;
                touched.trackways |= found.0.field_trackway.is_some();
                take_out(conn, by, key, &found, "print")
            }
            RecordId::Trackway(_, label) => {
                let found = member::find::<Trackway>(&mut **conn, key, label).doing(DOING)?;
                let found = found.ok_or_else(missing)?;
                check_trackway_is_free(id, &found.0)?;
                touched.growth.trackways -= 1;
                take_out(conn, by, key, &found, Trackway::TABLE)
            }
        }
        .doing(DOING)
    }
}

/// Takes a row out, its revision and its removal among the past ones.
fn take_out<R: Record>(
    conn: &mut Client,
    by: i64,
    key: Key,
    (stood, change): &(R, i64),
    table: &str,
) -> Given<()> {
    let mut rows = Rows::default();
    past::write(&mut rows, key, stood, *change)?;
    let removal = (stood.label(), stood.revision() + 1);
    past::write_json(&mut rows, R::KIND, key, removal, by, "null");
    past::send(&mut rows, conn)?;
    let delete = format!("DELETE FROM {table} WHERE site = $1 AND surface = $2 AND label = $3");
    conn.execute(&delete, &[&key.site, &key.surface, &stood.label()])?;
    Ok(())
}

fn trackways(conn: &mut Client, key: Key) -> Result<Vec<Trackway>, StoreError> {
    let all = member::of_surface::<Trackway>(conn, key).doing(DOING)?;
    Ok(all.into_iter().map(|(trackway, _)| trackway).collect())
}

/// A print that overlies another one.
fn overlain_by(conn: &mut Client, key: Key, label: &Label) -> Given<Option<String>> {
    let row = conn.query_opt(OVERLAIN_BY, &[&key.site, &key.surface, &label.as_str()])?;
    row.map(|row| Ok(row.try_get(0)?)).transpose()
}
