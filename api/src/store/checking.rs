//! Whether a store is whole: what its records say of one another, whichever database is below.

use super::copying::Entry;
use super::finite::Finite;
use super::{RecordId, Store, StoreError, SurfaceSummary};
use geo::BoundingRect;
use serde::Serialize;
use spatial::model::{Label, SurfaceId};
use std::collections::{BTreeMap, HashMap, HashSet};

/// One thing that is wrong with a store.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// What it is about, as in `print gannet-ledge:S2:P014`; `store` where it is about no record.
    pub about: String,
    /// What is wrong.
    pub wrong: String,
}

/// Looks through a whole store, as of one moment; `told` hears how many parts of the record have been read. Memory is bounded by the
/// largest site.
///
/// # Errors
/// When the store cannot be read at all.
pub fn check(store: &dyn Store, told: &dyn Fn(u64)) -> Result<Vec<Finding>, StoreError> {
    let mut findings: Vec<Finding> = Vec::new();
    let damage = store.find_damage()?;
    findings.extend(damage.into_iter().map(|wrong| Finding {
        about: "store".to_owned(),
        wrong,
    }));
    let mut checking = Checking::default();
    let mut read = 0;
    let whole = store.read_all(&mut |entry| {
        read += 1;
        told(read);
        checking.take(entry);
        Ok(())
    });
    checking.end_site();
    findings.append(&mut checking.findings);
    match whole {
        Ok(()) => {}
        // What cannot be read is a finding; a store that is away is none.
        Err(error @ StoreError::Failed { .. }) => findings.push(Finding {
            about: "store".to_owned(),
            wrong: format!(
                "the rest cannot be read: {error}: {:?}",
                std::error::Error::source(&error)
            ),
        }),
        Err(other) => return Err(other),
    }
    Ok(findings)
}

/// What is known of the site that is being looked through.
#[derive(Default)]
struct Checking {
    changes: HashSet<i64>,
    surfaces: BTreeMap<Label, OnSurface>,
    /// Of each record its current revision, and those of its past.
    current: HashMap<String, u32>,
    past: HashMap<String, Vec<(u32, bool)>>,
    findings: Vec<Finding>,
}

struct OnSurface {
    summary: SurfaceSummary,
    prints: HashSet<Label>,
    extents: u64,
    trackways: u64,
    /// Of prints that overlie others, and of trackways, the labels that they speak of.
    speaks_of: Vec<(String, Vec<Label>)>,
}

impl Checking {
    fn take(&mut self, entry: Entry) {
        match entry {
            Entry::Of(_) => self.end_site(),
            Entry::Change { number, .. } => {
                self.changes.insert(number);
            }
            Entry::Site { site, change } => {
                self.record(&RecordId::Site(site.slug.clone()), site.revision, change, &site)
            }
            Entry::Surface { summary, change } => {
                let revision = summary.surface.revision;
                self.record(
                    &RecordId::Surface(summary.id.clone()),
                    revision,
                    change,
                    &summary.surface,
                );
                let on = OnSurface {
                    prints: HashSet::new(),
                    extents: 0,
                    trackways: 0,
                    speaks_of: Vec::new(),
                    summary,
                };
                self.surfaces.insert(on.summary.id.label.clone(), on);
            }
            Entry::Extent {
                surface,
                extent,
                change,
            } => {
                let Some(id) = self.on(&surface) else { return };
                let id = RecordId::Extent(id, extent.label.clone());
                self.record(&id, extent.revision, change, &extent);
                if let Some(bounds) = extent.polygon.bounding_rect() {
                    self.inside(&surface, &id, [bounds.min().into(), bounds.max().into()]);
                }
                if let Some(on) = self.surfaces.get_mut(&surface) {
                    on.extents += 1;
                }
            }
            Entry::Print {
                surface,
                print,
                change,
                ..
            } => {
                let Some(id) = self.on(&surface) else { return };
                let id = RecordId::Print(id, print.label.clone());
                self.record(&id, print.revision, change, &print);
                let place = [print.easting_m, print.northing_m];
                self.inside(&surface, &id, [place, place]);
                if let Some(on) = self.surfaces.get_mut(&surface) {
                    on.prints.insert(print.label.clone());
                    let below = print.remarks.map(|remarks| remarks.overlies).unwrap_or_default();
                    if !below.is_empty() {
                        on.speaks_of.push((id.to_string(), below));
                    }
                }
            }
            Entry::Trackway {
                surface,
                trackway,
                change,
            } => {
                let Some(id) = self.on(&surface) else { return };
                let id = RecordId::Trackway(id, trackway.label.clone());
                self.record(&id, trackway.revision, change, &trackway);
                if let Some(on) = self.surfaces.get_mut(&surface) {
                    on.trackways += 1;
                    // A rejected one keeps the prints that it had, also those that have been removed since.
                    if trackway.status != spatial::model::Status::Rejected {
                        on.speaks_of.push((id.to_string(), trackway.prints));
                    }
                }
            }
            Entry::Past {
                id,
                revision,
                change,
                json,
            } => {
                self.changed_by(&id, change);
                self.past
                    .entry(id.to_string())
                    .or_default()
                    .push((revision, json == "null"));
            }
        }
    }

    fn on(&self, surface: &Label) -> Option<SurfaceId> {
        self.surfaces.get(surface).map(|on| on.summary.id.clone())
    }

    fn find(&mut self, about: impl ToString, wrong: impl Into<String>) {
        self.findings.push(Finding {
            about: about.to_string(),
            wrong: wrong.into(),
        });
    }

    fn record(&mut self, id: &RecordId, revision: u32, change: i64, record: &impl Finite) {
        if !record.is_finite() {
            self.find(id, "it has a number that is not finite");
        }
        self.changed_by(id, change);
        self.current.insert(id.to_string(), revision);
    }

    fn changed_by(&mut self, id: &RecordId, change: i64) {
        if !self.changes.contains(&change) {
            self.find(
                id,
                format!("change {change}, which made a revision of it, is not there"),
            );
        }
    }

    fn inside(&mut self, surface: &Label, id: &RecordId, [lower, upper]: [[f64; 2]; 2]) {
        let bounds = self.surfaces.get(surface).and_then(|on| on.summary.bounds);
        let holds = bounds.is_some_and(|[low, high]| {
            (0..2).all(|axis| low[axis] <= lower[axis] && upper[axis] <= high[axis])
        });
        if !holds {
            self.find(
                id,
                "it lies outside its surface's box, so that boxes do not find it",
            );
        }
    }

    /// What only the whole site can show.
    fn end_site(&mut self) {
        for on in std::mem::take(&mut self.surfaces).into_values() {
            let id = RecordId::Surface(on.summary.id.clone());
            let counts = [
                ("prints", on.summary.prints, on.prints.len() as u64),
                ("extents", on.summary.extents, on.extents),
                ("trackways", on.summary.trackways, on.trackways),
            ];
            for (what, told, found) in counts {
                if told != found {
                    self.find(&id, format!("it says that it has {told} {what}, and has {found}"));
                }
            }
            for (about, labels) in &on.speaks_of {
                for label in labels.iter().filter(|label| !on.prints.contains(label)) {
                    self.find(about, format!("it speaks of print {label}, which is not there"));
                }
            }
        }
        self.check_revisions();
        self.changes.clear();
    }

    /// Revisions count from 1 without a gap; the last one stands, or is a removal.
    fn check_revisions(&mut self) {
        let mut past = std::mem::take(&mut self.past);
        let current = std::mem::take(&mut self.current);
        for (id, revision) in &current {
            past.entry(id.clone()).or_default().push((*revision, false));
        }
        let mut past: Vec<(String, Vec<(u32, bool)>)> = past.into_iter().collect();
        past.sort();
        for (id, mut revisions) in past {
            revisions.sort_unstable();
            let whole = (1..)
                .zip(&revisions)
                .all(|(expected, (revision, _))| expected == *revision);
            if !whole {
                let numbers: Vec<String> = revisions
                    .iter()
                    .map(|(revision, _)| revision.to_string())
                    .collect();
                let numbers = shortened(&numbers.join(", "));
                self.find(
                    &id,
                    format!("its revisions do not count from 1 without a gap: {numbers}"),
                );
            }
            let ends_well =
                current.contains_key(&id) || revisions.last().is_some_and(|(_, removed)| *removed);
            if !ends_well {
                self.find(&id, "it has past revisions, and neither stands nor was removed");
            }
        }
    }
}

fn shortened(text: &str) -> String {
    let mut short: String = text.chars().take(120).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}
