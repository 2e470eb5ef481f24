//! What a request selects from a collection, and one page of it.

use super::cursor::Cursor;
use super::member::OnSurface;
use super::members::{Members, Run};
use super::{Bbox, Collection, Filter, Interval, Member};
use crate::catalogue::{Catalogue, Indexed, Listing, ReadFault, SurfaceEntry};
use crate::crs::{Crs, CrsFault};
use crate::feature::Scope;
use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::{Label, Site, Slug, SurfaceId};
use std::sync::Arc;

/// Counting what a filter matches reads every surface in its reach; past so many the count is left out.
const COUNTED_SURFACES: usize = 64;

/// So many prints of each of so many surfaces are found in some milliseconds.
const QUICK_PRINTS: usize = 20_000;
const QUICK_SURFACES: usize = 4;

/// What a request selects from a collection.
#[derive(Debug, Clone)]
pub struct Selection {
    /// The collection.
    pub collection: Collection,
    /// Only of this site.
    pub site: Option<Slug>,
    /// Only of this surface.
    pub surface: Option<SurfaceId>,
    /// Only with these values, by the column's place in the collection's columns.
    pub values: Vec<(usize, String)>,
    /// Only what meets this box.
    pub bbox: Option<Bbox>,
    /// Only of this time.
    pub interval: Option<Interval>,
    /// Only what this filter takes.
    pub filter: Option<Filter>,
}

/// One page of a selection.
#[derive(Debug)]
pub struct Page {
    /// Its records, in the order of ids.
    pub members: Members,
    /// Whether there are more after it.
    pub more: bool,
    /// How many records the whole selection has, where that is known exactly.
    pub matched: Option<u64>,
}

impl Selection {
    /// All of a collection.
    #[must_use]
    pub fn all(collection: Collection) -> Self {
        Self {
            collection,
            site: None,
            surface: None,
            values: Vec::new(),
            bbox: None,
            interval: None,
            filter: None,
        }
    }

    /// The page of at most `limit` records after the record with the id `after`. The order is total
    /// and by id, so pages neither skip nor repeat a record while others write.
    ///
    /// # Errors
    /// When a surface cannot be read.
    pub fn page(&self, catalogue: &Catalogue, after: Option<&str>, limit: usize) -> Result<Page, ReadFault> {
        let listing = catalogue.listing()?;
        let mut members = Members::default();
        self.walk(catalogue, &listing, after, limit + 1, &mut |run| {
            members.push(run);
            members.len() <= limit
        })?;
        let more = members.truncate(limit);
        let matched = if after.is_none() && !more {
            Some(members.len() as u64)
        } else {
            self.count(catalogue, &listing)?
        };
        Ok(Page {
            members,
            more,
            matched,
        })
    }

    /// The same page where finding it takes so little time from what is in memory that nobody need wait for another thread to do it: of
    /// a box with few prints; else `None`.
    ///
    /// # Errors
    /// As [`Self::page`].
    pub fn page_at_once(
        &self,
        at_hand: &Catalogue,
        after: Option<&str>,
        limit: usize,
    ) -> Result<Option<Page>, ReadFault> {
        let (Some(bbox), Collection::Prints, true) = (&self.bbox, self.collection, self.takes_all()) else {
            return Ok(None);
        };
        let listing = at_hand.listing()?;
        let near = self.surfaces(&listing).filter(|entry| !self.is_elsewhere(entry));
        let near: Vec<_> = near.take(QUICK_SURFACES + 1).collect();
        if near.len() > QUICK_SURFACES {
            return Ok(None);
        }
        let cursor = after.and_then(Cursor::read);
        let (mut members, mut matched) = (Members::default(), 0);
        for entry in near {
            let Some(index) = at_hand.index_at_hand(entry) else {
                return Ok(None);
            };
            let Some(mut numbers) = bbox.few_prints(&index, &*entry.crs()?, QUICK_PRINTS)? else {
                return Ok(None);
            };
            matched += numbers.len() as u64;
            let first = cursor.as_ref().map_or(0, |cursor| cursor.first_of(&index));
            numbers.drain(..numbers.partition_point(|no| *no < first));
            members.push(Run::Prints(on_surface(index, entry), numbers));
        }
        let more = members.truncate(limit);
        Ok(Some(Page {
            members,
            more,
            matched: Some(matched),
        }))
    }

    /// The record with this id; `None` where there is none.
    ///
    /// # Errors
    /// When its surface cannot be read.
    pub fn one(collection: Collection, catalogue: &Catalogue, id: &str) -> Result<Option<Member>, ReadFault> {
        let listing = catalogue.listing()?;
        if let (Collection::Sites, Ok(slug)) = (collection, id.parse::<Slug>()) {
            return Ok(listing.site(&slug).map(|site| site_member(&listing, site)));
        }
        let (surface, label) = match collection {
            Collection::Sites => return Ok(None),
            Collection::Surfaces => (id, None),
            _ => match id.rsplit_once(':') {
                Some((surface, label)) => (surface, label.parse::<Label>().ok()),
                None => return Ok(None),
            },
        };
        let entry = surface.parse().ok().and_then(|surface| listing.surface(&surface));
        let Some(entry) = entry else { return Ok(None) };
        match (collection, label) {
            (Collection::Surfaces, _) => Ok(Some(surface_member(entry))),
            (_, None) => Ok(None),
            (_, Some(label)) => {
                let place = on_surface(catalogue.index_of(entry)?, entry);
                Ok(find(collection, &place, &label))
            }
        }
    }

    /// Hands the selected records to `each`, surface by surface and at most `most` of each surface,
    /// until it says that it has enough.
    fn walk(
        &self,
        catalogue: &Catalogue,
        listing: &Listing,
        after: Option<&str>,
        most: usize,
        each: &mut dyn FnMut(Run) -> bool,
    ) -> Result<(), ReadFault> {
        match self.collection {
            Collection::Sites => {
                let sites = listing
                    .sites()
                    .filter(|site| after.is_none_or(|after| site.slug.as_str() > after));
                each(self.filtered(sites.map(|site| site_member(listing, site)).collect())?);
            }
            Collection::Surfaces => {
                let after: Option<SurfaceId> = after.and_then(|after| after.parse().ok());
                let entries = self
                    .surfaces(listing)
                    .filter(|entry| after.as_ref().is_none_or(|after| entry.summary.id > *after));
                each(self.filtered(entries.map(surface_member).collect())?);
            }
            Collection::Extents | Collection::Prints | Collection::Trackways => {
                let cursor = after.and_then(Cursor::read);
                for entry in self.surfaces(listing) {
                    let id = &entry.summary.id;
                    if cursor.as_ref().is_some_and(|cursor| *id < cursor.surface) || self.is_elsewhere(entry)
                    {
                        continue;
                    }
                    let place = on_surface(catalogue.index_of(entry)?, entry);
                    if !each(self.members(&place, cursor.as_ref(), most)?) {
                        break;
                    }
                }
            }
        }
        Ok(())
    }

    /// The surfaces that the selection reaches, in order.
    fn surfaces<'a>(&'a self, listing: &'a Listing) -> Box<dyn Iterator<Item = &'a Arc<SurfaceEntry>> + 'a> {
        let of_site = |entry: &&Arc<SurfaceEntry>| {
            self.site
                .as_ref()
                .is_none_or(|site| entry.summary.id.site == *site)
        };
        match &self.surface {
            Some(surface) => Box::new(listing.surface(surface).into_iter().filter(of_site)),
            None => Box::new(listing.surfaces().filter(of_site)),
        }
    }

    /// Whether a whole surface lies outside the box.
    fn is_elsewhere(&self, entry: &SurfaceEntry) -> bool {
        let outside = |bbox: &Bbox| entry.bounds_deg().is_some_and(|bounds| !bbox.may_touch(bounds));
        // A trackway without a line has no geometry, and matches every box; its surface must be read.
        let beyond_bbox = self.collection != Collection::Trackways && self.bbox.as_ref().is_some_and(outside);
        // What has no geometry is never within a filter's reach.
        beyond_bbox || self.reach().is_some_and(outside)
    }

    /// The box that the filter does not look beyond.
    fn reach(&self) -> Option<&Bbox> {
        self.filter.as_ref().and_then(Filter::reach)
    }

    /// The selected records of one surface after a cursor, in the order of labels.
    fn members(&self, place: &Arc<OnSurface>, after: Option<&Cursor>, most: usize) -> Result<Run, ReadFault> {
        let index = &place.index;
        if self.collection == Collection::Prints {
            let first = after.map_or(0, |cursor| cursor.first_of(index));
            let numbers: Box<dyn Iterator<Item = PrintNo>> = match self.near(index)? {
                Some(near) => Box::new(near.into_iter().filter(move |no| *no >= first)),
                None => Box::new(first..index.prints().len() as PrintNo),
            };
            let taken = numbers.filter_map(|no| match self.takes(&Member::Print(place.clone(), no)) {
                Ok(takes) => takes.then_some(Ok(no)),
                Err(fault) => Some(Err(fault)),
            });
            let taken = taken.take(most).collect::<Result<_, CrsFault>>()?;
            return Ok(Run::Prints(place.clone(), taken));
        }
        let later = |label: &Label| after.is_none_or(|cursor| cursor.is_before(index, label));
        let members = if self.collection == Collection::Extents {
            let extents = index
                .extents()
                .iter()
                .enumerate()
                .filter(|(_, extent)| later(&extent.label));
            extents.map(|(no, _)| Member::Extent(place.clone(), no)).collect()
        } else {
            let trackways = index
                .trackways()
                .iter()
                .enumerate()
                .filter(|(_, trackway)| later(&trackway.label));
            trackways
                .map(|(no, _)| Member::Trackway(place.clone(), no))
                .collect()
        };
        self.filtered(members)
    }

    /// The prints of a surface that lie in the box, or that the filter may reach; `None` where neither is set.
    fn near(&self, index: &SurfaceIndex) -> Result<Option<Vec<PrintNo>>, CrsFault> {
        let crs = Crs::for_site(index.crs())?;
        match (&self.bbox, self.reach()) {
            (Some(bbox), _) => bbox.prints(index, &crs).map(Some),
            (None, Some(reach)) => Ok(Some(reach.candidates(index, &crs))),
            (None, None) => Ok(None),
        }
    }

    /// Those of the members that every filter takes, the box included.
    fn filtered(&self, members: Vec<Member>) -> Result<Run, ReadFault> {
        let mut taken = Vec::new();
        for member in members {
            let near = match &self.bbox {
                Some(bbox) => bbox.touches(member.geometry().as_ref(), &*member.crs()?)?,
                None => true,
            };
            if near && self.takes(&member)? {
                taken.push(member);
            }
        }
        Ok(Run::Others(taken))
    }

    /// Whether everything but the box takes all records.
    fn takes_all(&self) -> bool {
        self.values.is_empty() && self.interval.is_none() && self.filter.is_none()
    }

    /// Whether everything but the box takes a record.
    fn takes(&self, member: &Member) -> Result<bool, CrsFault> {
        let plainly = self
            .values
            .iter()
            .all(|(column, value)| member.is(*column, value))
            && self.interval.is_none_or(|interval| interval.takes(member.day()));
        match &self.filter {
            Some(filter) if plainly => filter.takes(member),
            _ => Ok(plainly),
        }
    }

    /// How many records the selection has; `None` where it would take reading too many surfaces.
    fn count(&self, catalogue: &Catalogue, listing: &Listing) -> Result<Option<u64>, ReadFault> {
        let filtered = self.bbox.is_some() || !self.takes_all();
        let of = |entry: &Arc<SurfaceEntry>| match self.collection {
            Collection::Extents => entry.summary.extents,
            Collection::Trackways => entry.summary.trackways,
            _ => entry.summary.prints,
        };
        let listed = matches!(self.collection, Collection::Sites | Collection::Surfaces);
        if !filtered && !listed {
            return Ok(Some(self.surfaces(listing).map(of).sum()));
        }
        if !listed
            && self
                .surfaces(listing)
                .filter(|entry| !self.is_elsewhere(entry))
                .count()
                > COUNTED_SURFACES
        {
            return Ok(None);
        }
        let mut count = 0;
        self.walk(catalogue, listing, None, usize::MAX, &mut |run| {
            count += run.len() as u64;
            true
        })?;
        Ok(Some(count))
    }
}

fn site_member(listing: &Listing, site: &Arc<Site>) -> Member {
    Member::Site(Arc::new((
        Scope {
            site: site.slug.to_string(),
            surface: String::new(),
        },
        listing.row(site),
    )))
}

fn surface_member(entry: &Arc<SurfaceEntry>) -> Member {
    Member::Surface(Arc::new(scope(&entry.summary.id)), entry.clone())
}

fn on_surface(index: Arc<Indexed>, entry: &SurfaceEntry) -> Arc<OnSurface> {
    Arc::new(OnSurface {
        index,
        scope: scope(&entry.summary.id),
    })
}

fn scope(id: &SurfaceId) -> Scope {
    Scope {
        site: id.site.to_string(),
        surface: id.to_string(),
    }
}

fn find(collection: Collection, place: &Arc<OnSurface>, label: &Label) -> Option<Member> {
    let index = &place.index;
    match collection {
        Collection::Extents => {
            let no = index.extents().iter().position(|extent| extent.label == *label)?;
            Some(Member::Extent(place.clone(), no))
        }
        Collection::Trackways => {
            let no = index
                .trackways()
                .iter()
                .position(|trackway| trackway.label == *label)?;
            Some(Member::Trackway(place.clone(), no))
        }
        Collection::Prints => Some(Member::Print(place.clone(), index.find(label)?)),
        Collection::Sites | Collection::Surfaces => None,
    }
}
