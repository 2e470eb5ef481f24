//! All sites and surfaces, without their members.

use super::ReadFault;
use crate::access::{Audience, View};
use crate::crs::{Crs, CrsFault};
use crate::feature::SiteRow;
use crate::store::{Store, SurfaceSummary};
use spatial::model::{Label, Site, Slug, SurfaceId};
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
    /// Of sites whose place is generalised for the audience: all that it is shown of what is on them.
    generalised: BTreeMap<Slug, SiteRow>,
}

impl Listing {
    pub(super) fn read(store: &dyn Store, mark: u64) -> Result<Self, ReadFault> {
        Ok(Self::of(store.sites()?, store.surfaces()?, mark))
    }

    /// The listing of these sites and surfaces.
    pub(super) fn of(sites: Vec<Site>, summaries: Vec<SurfaceSummary>, mark: u64) -> Self {
        let sites = sites.into_iter().map(|site| (site.slug.clone(), Arc::new(site)));
        let sites: BTreeMap<Slug, Arc<Site>> = sites.collect();
        let mut surfaces = BTreeMap::new();
        for summary in summaries {
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
        Self {
            mark,
            sites,
            surfaces,
            generalised: BTreeMap::new(),
        }
    }

    /// The part of it that an audience is shown. Nothing that is left out is looked at later on: what a stranger asks
    /// takes as long as if it were not there.
    pub(super) fn seen_by(&self, audience: &Audience) -> Self {
        self.part(|site| audience.view(site))
    }

    /// What an audience is shown of a listing that is past, by the policies that sites have in another one, of now: what was
    /// shown once is not shown for ever. A site whose place is only generalised now is left out: the cells that it
    /// lay in at several moments would narrow its place.
    pub(super) fn seen_as(&self, audience: &Audience, now: &Self) -> Self {
        self.part(|site| match now.site(&site.slug) {
            Some(now) if audience.sees(now) => View::Whole,
            _ => View::Nothing,
        })
    }

    fn part(&self, view: impl Fn(&Site) -> View) -> Self {
        let mut part = Self {
            mark: self.mark,
            sites: BTreeMap::new(),
            surfaces: BTreeMap::new(),
            generalised: BTreeMap::new(),
        };
        for site in self.sites() {
            let view = view(site);
            if view != View::Nothing {
                part.sites.insert(site.slug.clone(), site.clone());
            }
            if view == View::Generalised {
                part.generalised
                    .insert(site.slug.clone(), self.row(site).generalised());
            }
        }
        let seen = self
            .surfaces
            .iter()
            .filter(|(id, _)| part.sites.contains_key(&id.site) && !part.generalised.contains_key(&id.site));
        part.surfaces = seen.map(|(id, entry)| (id.clone(), entry.clone())).collect();
        part
    }

    /// A site with what is on it.
    #[must_use]
    pub fn row(&self, site: &Arc<Site>) -> SiteRow {
        if let Some(row) = self.generalised.get(&site.slug) {
            return row.clone();
        }
        let mut row = SiteRow {
            site: site.clone(),
            surfaces: 0,
            prints: 0,
            bounds: None,
        };
        for entry in self.surfaces_of(&site.slug) {
            row.surfaces += 1;
            row.prints += entry.summary.prints;
            row.bounds = match (row.bounds, entry.summary.bounds) {
                (Some([a, b]), Some([c, d])) => {
                    Some([[a[0].min(c[0]), a[1].min(c[1])], [b[0].max(d[0]), b[1].max(d[1])]])
                }
                (one, other) => one.or(other),
            };
        }
        row
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
            generalised: BTreeMap::new(),
        }
    }

    /// The places, in longitude and latitude, that are shown of sites whose place is generalised.
    pub fn cells_deg(&self) -> impl Iterator<Item = [[f64; 2]; 2]> {
        self.generalised.values().filter_map(|row| {
            let crs = Crs::for_site(row.site.crs).ok()?;
            crs.bounds_to_lonlat(row.bounds?).ok()
        })
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
        let first = SurfaceId {
            site: site.clone(),
            label: Label::first(),
        };
        self.surfaces
            .range(first..)
            .map(|(_, entry)| entry)
            .take_while(move |entry| entry.summary.id.site == *site)
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
