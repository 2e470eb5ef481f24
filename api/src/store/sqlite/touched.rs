//! The surfaces that a sheet speaks of, and what it does to each.

use super::{past, surface_row};
use crate::store::kept::{Kind, Record};
use crate::store::touched::Touched;
use rusqlite::Connection;
use spatial::model::{Label, Slug, Surface, SurfaceId};
use std::collections::BTreeMap;

/// A surface's key, and what a sheet has done to it so far.
#[derive(Default)]
pub(super) struct TouchedSurface {
    pub(super) key: i64,
    /// Whether any of its prints was ever removed: one of the same label goes on counting its revisions.
    pub(super) had_more: bool,
    pub(super) touched: Touched,
}

/// The surfaces of a sheet by label.
pub(super) struct TouchedSurfaces {
    pub(super) site: Slug,
    pub(super) change: i64,
    by_label: BTreeMap<Label, TouchedSurface>,
}

impl TouchedSurfaces {
    pub(super) fn new(site: Slug, change: i64) -> Self {
        Self {
            site,
            change,
            by_label: BTreeMap::new(),
        }
    }

    /// The surface with this label; it is made where there is none.
    pub(super) fn touch(
        &mut self,
        conn: &Connection,
        label: &Label,
    ) -> rusqlite::Result<&mut TouchedSurface> {
        // Looked up by reference first: the label is not to be copied for every print.
        if !self.by_label.contains_key(label) {
            let touched = match surface_row::key(conn, &self.id(label))? {
                Some(key) => TouchedSurface {
                    key,
                    had_more: past::any_removed(conn, Kind::Print, key)?,
                    touched: Touched::default(),
                },
                None => self.add(conn, &Surface::new(label.clone()))?,
            };
            self.by_label.insert(label.clone(), touched);
        }
        Ok(self.by_label.get_mut(label).expect("it was put there just now"))
    }

    /// Adds the surface, or gives it a new revision where its record differs.
    pub(super) fn put(&mut self, conn: &Connection, surface: &Surface) -> rusqlite::Result<()> {
        let Some(stored) = surface_row::find(conn, &self.id(&surface.label))? else {
            let touched = self.add(conn, surface)?;
            self.by_label.insert(surface.label.clone(), touched);
            return Ok(());
        };
        let on_file = self.touch(conn, &surface.label)?;
        if !stored.summary.surface.says(surface) {
            on_file.touched.changed = true;
            surface_row::replace(conn, self.change, &stored, surface)?;
        }
        Ok(())
    }

    fn add(&self, conn: &Connection, surface: &Surface) -> rusqlite::Result<TouchedSurface> {
        Ok(TouchedSurface {
            key: surface_row::add(conn, &self.site, self.change, surface)?,
            had_more: false,
            touched: Touched::new_surface(),
        })
    }

    fn id(&self, label: &Label) -> SurfaceId {
        SurfaceId {
            site: self.site.clone(),
            label: label.clone(),
        }
    }

    /// The ids of all of them, in order.
    pub(super) fn ids(&self) -> Vec<SurfaceId> {
        self.by_label.keys().map(|label| self.id(label)).collect()
    }

    /// All of them, in order.
    pub(super) fn all(&self) -> impl Iterator<Item = &TouchedSurface> {
        self.by_label.values()
    }

    /// All of them, in order, to be worked on.
    pub(super) fn all_mut(&mut self) -> impl Iterator<Item = &mut TouchedSurface> {
        self.by_label.values_mut()
    }
}
