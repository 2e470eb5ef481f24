//! The surfaces that a sheet speaks of, and what it does to each.

use super::surface_row::{self, Bounds, Growth};
use rusqlite::Connection;
use spatial::model::{Label, Slug, Surface, SurfaceId};
use std::collections::BTreeMap;

/// What a sheet has done to one surface so far.
#[derive(Default)]
pub(super) struct Touched {
    /// The surface's key.
    pub(super) key: i64,
    /// What is to be added to its summary.
    pub(super) growth: Growth,
    /// Whether anything of it is other than before.
    pub(super) changed: bool,
    /// Whether a print was added or changed that is, or was, of a field trackway.
    pub(super) trackways: bool,
    /// Whether a print was added or changed that overlies another.
    pub(super) overlies: bool,
}

impl Touched {
    /// Notes that something was added or changed in this box.
    pub(super) fn grow(&mut self, [lower, upper]: Bounds) {
        self.changed = true;
        let [low, high] = self.growth.bounds.get_or_insert([lower, upper]);
        for axis in 0..2 {
            low[axis] = low[axis].min(lower[axis]);
            high[axis] = high[axis].max(upper[axis]);
        }
    }
}

/// The surfaces of a sheet by label.
pub(super) struct TouchedSurfaces {
    pub(super) site: Slug,
    pub(super) change: i64,
    by_label: BTreeMap<Label, Touched>,
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
    pub(super) fn touch(&mut self, conn: &Connection, label: &Label) -> rusqlite::Result<&mut Touched> {
        // Looked up by reference first: the label is not to be copied for every print.
        if !self.by_label.contains_key(label) {
            let touched = match surface_row::key(conn, &self.id(label))? {
                Some(key) => Touched {
                    key,
                    ..Touched::default()
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
        let touched = self.touch(conn, &surface.label)?;
        let revision = stored.summary.surface.revision;
        if stored.summary.surface
            != (Surface {
                revision,
                ..surface.clone()
            })
        {
            touched.changed = true;
            surface_row::replace(conn, self.change, &stored, surface)?;
        }
        Ok(())
    }

    fn add(&self, conn: &Connection, surface: &Surface) -> rusqlite::Result<Touched> {
        let growth = Growth {
            new: true,
            ..Growth::default()
        };
        Ok(Touched {
            key: surface_row::add(conn, &self.site, self.change, surface)?,
            growth,
            changed: true,
            ..Touched::default()
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
    pub(super) fn all(&self) -> impl Iterator<Item = &Touched> {
        self.by_label.values()
    }

    /// All of them, in order, to be worked on.
    pub(super) fn all_mut(&mut self) -> impl Iterator<Item = &mut Touched> {
        self.by_label.values_mut()
    }
}
