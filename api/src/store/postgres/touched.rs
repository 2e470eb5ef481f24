//! The surfaces that a sheet speaks of, and what it does to each.

use super::failure::Given;
use super::past;
use super::surface_row::{self, Key};
use crate::store::kept::{Kind, Record};
use crate::store::touched::Touched;
use postgres::Client;
use spatial::model::{Label, Slug, Surface, SurfaceId};
use std::collections::{BTreeMap, HashMap};

/// A surface, and what a sheet has done to it so far.
pub(super) struct TouchedSurface {
    pub(super) key: Key,
    pub(super) id: SurfaceId,
    /// Whether it had prints before this sheet.
    pub(super) had_prints: bool,
    /// The prints that were removed from it: one of the same label goes on counting its revisions.
    pub(super) removed: HashMap<Label, u32>,
    pub(super) touched: Touched,
}

/// The surfaces of a sheet by label.
pub(super) struct TouchedSurfaces {
    slug: Slug,
    /// The number of the site that all of them are of.
    pub(super) site: i32,
    /// The change that the sheet is.
    pub(super) change: i64,
    by_label: BTreeMap<Label, TouchedSurface>,
    labels: HashMap<i32, Label>,
}

impl TouchedSurfaces {
    pub(super) fn new(slug: Slug, site: i32, change: i64) -> Self {
        Self {
            slug,
            site,
            change,
            by_label: BTreeMap::new(),
            labels: HashMap::new(),
        }
    }

    /// Whether the sheet has touched the surface with this label.
    pub(super) fn has(&self, label: &Label) -> bool {
        self.by_label.contains_key(label)
    }

    /// The surface with this label, where the sheet has touched it.
    pub(super) fn get(&mut self, label: &Label) -> Option<&mut TouchedSurface> {
        self.by_label.get_mut(label)
    }

    /// The surface with this label; it is made where there is none.
    pub(super) fn touch(&mut self, conn: &mut Client, label: &Label) -> Given<&mut TouchedSurface> {
        // Looked up by reference first: the label is not to be copied for every print.
        if !self.by_label.contains_key(label) {
            let surface = match surface_row::find(conn, &self.id(label))? {
                Some(stored) => TouchedSurface {
                    removed: past::removed(conn, Kind::Print, stored.key)?,
                    key: stored.key,
                    id: stored.summary.id,
                    had_prints: stored.summary.prints > 0,
                    touched: Touched::default(),
                },
                None => self.add(conn, &Surface::new(label.clone()))?,
            };
            self.insert(surface);
        }
        Ok(self.by_label.get_mut(label).expect("it was put there just now"))
    }

    /// Adds the surface, or gives it a new revision where its record differs.
    pub(super) fn put(&mut self, conn: &mut Client, surface: &Surface) -> Given<()> {
        let Some(stored) = surface_row::find(conn, &self.id(&surface.label))? else {
            let added = self.add(conn, surface)?;
            self.insert(added);
            return Ok(());
        };
        let touched = &mut self.touch(conn, &surface.label)?.touched;
        if !stored.summary.surface.says(surface) {
            touched.changed = true;
            surface_row::replace(conn, self.change, &stored, surface)?;
        }
        Ok(())
    }

    fn add(&self, conn: &mut Client, surface: &Surface) -> Given<TouchedSurface> {
        let first = surface.clone().at_revision(1);
        Ok(TouchedSurface {
            key: surface_row::add(conn, self.site, self.change, &first)?,
            id: self.id(&surface.label),
            had_prints: false,
            removed: HashMap::new(),
            touched: Touched::new_surface(),
        })
    }

    fn id(&self, label: &Label) -> SurfaceId {
        SurfaceId {
            site: self.slug.clone(),
            label: label.clone(),
        }
    }

    fn insert(&mut self, surface: TouchedSurface) {
        let label = surface.id.label.clone();
        self.labels.insert(surface.key.surface, label.clone());
        self.by_label.insert(label, surface);
    }

    /// What has been done to the surface of this number, which the sheet has touched.
    pub(super) fn touched(&mut self, surface: i32) -> Option<&mut Touched> {
        let surface = self.by_label.get_mut(self.labels.get(&surface)?);
        surface.map(|surface| &mut surface.touched)
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
