//! All sites and surfaces, without their members.

use super::ReadFault;
use crate::access::Audience;
use crate::crs::{Crs, CrsFault};
use crate::store::{Store, SurfaceSummary};
use spatial::model::{Site, Slug, SurfaceId};
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

/// A surface in the listing.
#[derive(Debug)]
pub struct SurfaceEntry {
    /// What the store says of it.
    pub summary: SurfaceSummary,
    /// Its site.
    pub site: Arc<Site>,
    bounds_deg: OnceLock<Option<[[f64; 2]; 2]>>,
}

impl SurfaceEntry {
    /// The CRS of its site.
    ///
    /// # Errors
    /// When the CRS is not known to this version of the CRS database.
    pub fn crs(&self) -> Result<Arc<Crs>, CrsFault> {
        Crs::for_site(self.site.crs)
    }

    /// The box around its prints and extents in longitude and latitude; `None` while it has none.
    /// Computed when it is first asked for.
    #[must_use]
    pub fn bounds_deg(&self) -> Option<[[f64; 2]; 2]> {
        *self.bounds_deg.get_or_init(|| {
            let bounds = self.summary.bounds?;
            self.crs().and_then(|crs| crs.bounds_to_lonlat(bounds)).ok()
        })
    }
}

/// All sites and surfaces that an audience may see, at one mark of the store.
#[derive(Debug)]
pub struct Listing {
    mark: u64,
    sites: BTreeMap<Slug, Arc<Site>>,
    surfaces: BTreeMap<SurfaceId, Arc<SurfaceEntry>>,
}

impl Listing {
    pub(super) fn read(store: &dyn Store, audience: Audience, mark: u64) -> Result<Self, ReadFault> {
        let visible = store.sites()?.into_iter().filter(|site| audience.sees(site));
        let sites: BTreeMap<Slug, Arc<Site>> =
            visible.map(|site| (site.slug.clone(), Arc::new(site))).collect();
        let mut surfaces = BTreeMap::new();
        for summary in store.surfaces()? {
            if let Some(site) = sites.get(&summary.id.site) {
                let id = summary.id.clone();
                let entry = SurfaceEntry {
                    summary,
                    site: site.clone(),
                    bounds_deg: OnceLock::new(),
                };
                surfaces.insert(id, Arc::new(entry));
            }
        }
        Ok(Self {
            mark,
            sites,
            surfaces,
        })
    }

    /// The listing of one surface alone.
    pub(super) fn of_surface(site: Site, summary: SurfaceSummary) -> Self {
        let (site, id) = (Arc::new(site), summary.id.clone());
        let entry = SurfaceEntry {
            summary,
            site: site.clone(),
            bounds_deg: OnceLock::new(),
        };
        Self {
            mark: 0,
            sites: BTreeMap::from([(site.slug.clone(), site)]),
            surfaces: BTreeMap::from([(id, Arc::new(entry))]),
        }
    }

    /// The store's mark that this listing was read at.
    #[must_use]
    pub fn mark(&self) -> u64 {
        self.mark
    }

    /// All sites in the order of slugs.
    pub fn sites(&self) -> impl Iterator<Item = &Arc<Site>> {
        self.sites.values()
    }

    /// One site.
    #[must_use]
    pub fn site(&self, slug: &Slug) -> Option<&Arc<Site>> {
        self.sites.get(slug)
    }

    /// All surfaces in the order of ids.
    pub fn surfaces(&self) -> impl Iterator<Item = &Arc<SurfaceEntry>> {
        self.surfaces.values()
    }

    /// The surfaces of one site, in the order of labels.
    pub fn surfaces_of<'a>(&'a self, site: &'a Slug) -> impl Iterator<Item = &'a Arc<SurfaceEntry>> {
        self.surfaces()
            .filter(move |entry| entry.summary.id.site == *site)
    }

    /// One surface.
    #[must_use]
    pub fn surface(&self, id: &SurfaceId) -> Option<&Arc<SurfaceEntry>> {
        self.surfaces.get(id)
    }

    /// The EPSG codes of all sites, in order, each once.
    #[must_use]
    pub fn codes(&self) -> Vec<u32> {
        let mut codes: Vec<u32> = self.sites.values().map(|site| site.crs).collect();
        codes.sort_unstable();
        codes.dedup();
        codes
    }
}
