//! A store for tests: it keeps sites and sheets in memory, and sees duplicates.

use crate::store::{
    Change, Conflict, Outcome, RecordId, RecordStore, Revision, RowConflict, SheetExtent, SheetPrint,
    SheetStore, SheetTransaction, StoreError, SurfaceSummary, Taken, Tally,
};
use jiff::Timestamp;
use spatial::index::SurfaceContents;
use spatial::model::{Extent, Label, Print, Site, Slug, Surface, SurfaceId};
use std::collections::{BTreeMap, HashSet};
use std::sync::Mutex;

type Key = (Label, Label);

/// A store of one site, in memory.
pub(crate) struct Shelf {
    site: Site,
    kept: Mutex<Kept>,
}

#[derive(Clone, Default)]
struct Kept {
    prints: BTreeMap<Key, Print>,
    extents: BTreeMap<Key, Extent>,
}

struct ShelfSheet<'s> {
    shelf: &'s Shelf,
    kept: Kept,
    taken: Taken,
    seen: HashSet<(bool, Key)>,
    refused: bool,
}

impl Shelf {
    pub(crate) fn new(site: &Site) -> Self {
        Self {
            site: site.clone(),
            kept: Mutex::default(),
        }
    }

    /// Every print in the order of surfaces and labels.
    pub(crate) fn prints(&self) -> Vec<Print> {
        self.kept.lock().unwrap().prints.values().cloned().collect()
    }

    /// Every extent in the order of surfaces and labels.
    pub(crate) fn extents(&self) -> Vec<Extent> {
        self.kept.lock().unwrap().extents.values().cloned().collect()
    }
}

fn tally<T: PartialEq>(tally: &mut Tally, before: Option<T>, now: &T) {
    match before {
        None => tally.added += 1,
        Some(before) if before == *now => tally.unchanged += 1,
        Some(_) => tally.changed += 1,
    }
}

impl SheetTransaction for ShelfSheet<'_> {
    fn put_surface(&mut self, _: &Surface) -> Result<(), StoreError> {
        Ok(())
    }

    fn put_prints(&mut self, batch: &[SheetPrint]) -> Result<Vec<RowConflict>, StoreError> {
        let mut conflicts = Vec::new();
        for SheetPrint { row, surface, print } in batch {
            let key = (surface.clone(), print.label.clone());
            if self.seen.insert((true, key.clone())) {
                let before = self.kept.prints.insert(key, print.clone());
                tally(&mut self.taken.prints, before, print);
            } else {
                self.refused = true;
                conflicts.push(RowConflict {
                    row: *row,
                    conflict: Conflict::DuplicatePrint,
                });
            }
        }
        Ok(conflicts)
    }

    fn put_extents(&mut self, batch: &[SheetExtent]) -> Result<Vec<RowConflict>, StoreError> {
        let mut conflicts = Vec::new();
        for SheetExtent { row, surface, extent } in batch {
            let key = (surface.clone(), extent.label.clone());
            if self.seen.insert((false, key.clone())) {
                let before = self.kept.extents.insert(key, extent.clone());
                tally(&mut self.taken.extents, before, extent);
            } else {
                self.refused = true;
                conflicts.push(RowConflict {
                    row: *row,
                    conflict: Conflict::DuplicateExtent,
                });
            }
        }
        Ok(conflicts)
    }

    fn finish(self: Box<Self>) -> Result<Outcome, StoreError> {
        let missing = self.kept.prints.iter().flat_map(|((surface, _), print)| {
            let overlies = print.remarks.iter().flat_map(|remarks| &remarks.overlies);
            overlies.filter(|label| {
                !self
                    .kept
                    .prints
                    .contains_key(&(surface.clone(), (*label).clone()))
            })
        });
        let conflicts: Vec<_> = missing
            .map(|label| RowConflict {
                row: 0,
                conflict: Conflict::OverliesUnknown(label.clone()),
            })
            .collect();
        if self.refused || !conflicts.is_empty() {
            return Ok(Outcome::Refused(conflicts));
        }
        *self.shelf.kept.lock().unwrap() = self.kept;
        Ok(Outcome::Taken(self.taken))
    }
}

/// It has no past: it always was as it is.
impl RecordStore for Shelf {
    fn mark(&self) -> Result<u64, StoreError> {
        Ok(0)
    }

    fn sites(&self) -> Result<Vec<Site>, StoreError> {
        Ok(vec![self.site.clone()])
    }

    fn surfaces(&self) -> Result<Vec<SurfaceSummary>, StoreError> {
        let kept = self.kept.lock().unwrap();
        let labels: std::collections::BTreeSet<_> = kept
            .prints
            .keys()
            .chain(kept.extents.keys())
            .map(|key| &key.0)
            .collect();
        Ok(labels.into_iter().map(|label| self.summary(label)).collect())
    }

    fn surface(&self, id: &SurfaceId) -> Result<Option<(Site, SurfaceSummary)>, StoreError> {
        Ok(Some((self.site.clone(), self.summary(&id.label))))
    }

    fn contents(&self, id: &SurfaceId) -> Result<Option<(SurfaceContents, u64)>, StoreError> {
        let kept = self.kept.lock().unwrap();
        let contents = SurfaceContents {
            id: id.clone(),
            crs: self.site.crs,
            surface: Surface::new(id.label.clone()),
            prints: of_surface(&kept.prints, &id.label),
            extents: of_surface(&kept.extents, &id.label),
            trackways: Vec::new(),
        };
        Ok(Some((contents, 1)))
    }

    fn listing_at(&self, _: Timestamp) -> Result<(Vec<Site>, Vec<SurfaceSummary>), StoreError> {
        Ok((self.sites()?, self.surfaces()?))
    }

    fn contents_at(&self, id: &SurfaceId, _: Timestamp) -> Result<Option<SurfaceContents>, StoreError> {
        Ok(self.contents(id)?.map(|(contents, _)| contents))
    }

    fn history(&self, _: &RecordId) -> Result<Vec<Revision>, StoreError> {
        Ok(Vec::new())
    }
}

impl SheetStore for Shelf {
    fn begin_sheet<'store>(
        &'store self,
        _: &Slug,
        _: &Change,
    ) -> Result<Box<dyn SheetTransaction + 'store>, StoreError> {
        Ok(Box::new(ShelfSheet {
            shelf: self,
            kept: self.kept.lock().unwrap().clone(),
            taken: Taken::default(),
            seen: HashSet::new(),
            refused: false,
        }))
    }
}

impl Shelf {
    fn summary(&self, label: &Label) -> SurfaceSummary {
        SurfaceSummary {
            id: SurfaceId {
                site: self.site.slug.clone(),
                label: label.clone(),
            },
            surface: Surface::new(label.clone()),
            prints: 0,
            extents: 0,
            trackways: 0,
            bounds: None,
            contents_revision: 1,
        }
    }
}

fn of_surface<T: Clone>(kept: &BTreeMap<Key, T>, surface: &Label) -> Vec<T> {
    let of_it = kept.iter().filter(|(key, _)| key.0 == *surface);
    of_it.map(|(_, record)| record.clone()).collect()
}
