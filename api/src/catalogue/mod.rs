//! What the store holds, as queries and pages see it: the listing of sites and surfaces, and the
//! indexes of the surfaces that are in use.
//!
//! A listing and each index are immutable and swapped whole, so a reader never waits for a writer.
//! Indexes are loaded on demand and given up by use when they pass a stated memory limit.

mod indexed;
mod indexes;
mod listing;
mod moments;
mod overview;
mod prepared;
mod presence;

pub use indexed::Indexed;
pub use indexes::IndexFigures;
pub use listing::{Listing, SurfaceEntry};
pub use overview::{Morphotypes, Overview};

use crate::access::Audience;
use crate::crs::CrsFault;
use crate::store::{Store, StoreError};
use indexes::Indexes;
use jiff::Timestamp;
use moments::Moments;
use presence::Presence;
use spatial::model::{Site, Slug, SurfaceId};
use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};

/// How much memory the indexes may take together unless it is stated otherwise, bytes.
pub const INDEX_MEMORY: usize = 4 << 30;

/// The listing and the indexes over one store, as one audience sees them. Copies share what they hold.
#[derive(Clone)]
pub struct Catalogue {
    held: Arc<Held>,
    audience: Audience,
    /// The listing, where it is not to be asked for: of one surface only, or one that was found to be as of now.
    given: Option<Arc<Listing>>,
    /// The moment as of which everything is shown, where it is not now.
    moment: Option<Timestamp>,
}

/// What the catalogues of all audiences share.
struct Held {
    store: Arc<dyn Store>,
    /// All there is, at some mark of the store.
    whole: RwLock<Option<Arc<Listing>>>,
    /// What is made of it for audiences that see less.
    parts: RwLock<HashMap<Audience, Arc<Listing>>>,
    indexes: Indexes,
    presence: Presence,
    moments: Moments,
}

/// So many audiences are remembered; with more, all of them are made anew.
const REMEMBERED: usize = 256;

/// Why something cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadFault {
    /// There is no such record, or none for this audience.
    #[error("there is no {kind} {id:?}")]
    Missing {
        /// The kind of record: site, surface, print, trackway, extent.
        kind: &'static str,
        /// The id that was asked for.
        id: String,
    },
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The site's CRS cannot be used.
    #[error(transparent)]
    Crs(#[from] CrsFault),
    /// What is stored cannot be indexed.
    #[error("surface {surface} cannot be indexed: {reason}")]
    Broken {
        /// The surface.
        surface: SurfaceId,
        /// Why.
        reason: String,
    },
}

impl ReadFault {
    /// A record that is not there.
    pub fn missing(kind: &'static str, id: impl ToString) -> Self {
        Self::Missing {
            kind,
            id: id.to_string(),
        }
    }
}

impl Catalogue {
    /// A catalogue over a store, with a limit in bytes on the memory of all indexes together.
    pub fn new(store: Arc<dyn Store>, audience: Audience, index_memory: usize) -> Self {
        let indexes = Indexes::new(index_memory);
        Self {
            held: Arc::new(Held {
                store,
                presence: Presence::default(),
                moments: Moments::default(),
                whole: RwLock::default(),
                parts: RwLock::default(),
                indexes,
            }),
            audience,
            given: None,
            moment: None,
        }
    }

    /// The same for another audience.
    #[must_use]
    pub fn seen_by(&self, audience: Audience) -> Self {
        Self {
            held: self.held.clone(),
            audience,
            given: None,
            moment: self.moment,
        }
    }

    /// The same as it was at a moment, where there is one. Who may see a site is up to its policy now, never to that of then.
    #[must_use]
    pub fn as_of(self, moment: Option<Timestamp>) -> Self {
        Self {
            moment: moment.or(self.moment),
            ..self
        }
    }

    /// The moment as of which everything is shown; `None` for now.
    #[must_use]
    pub fn moment(&self) -> Option<Timestamp> {
        self.moment
    }

    /// The same of one surface alone, as it stands now: who goes from surface to surface and changes each need not list
    /// all of them anew each time.
    ///
    /// # Errors
    /// When there is no such surface for this audience, or the store fails.
    pub fn of_surface(&self, id: &SurfaceId) -> Result<Self, ReadFault> {
        let found = self.store().surface(id)?;
        let (site, summary) = found
            .filter(|(site, _)| self.audience.sees(site))
            .ok_or_else(|| ReadFault::missing("surface", id))?;
        Ok(Self {
            given: Some(Arc::new(Listing::of_surface(site, summary))),
            ..self.clone()
        })
    }

    /// Who sees it.
    #[must_use]
    pub fn audience(&self) -> &Audience {
        &self.audience
    }

    /// The store below.
    #[must_use]
    pub fn store(&self) -> &dyn Store {
        &*self.held.store
    }

    /// All sites and surfaces that the audience may see, as of now.
    ///
    /// # Errors
    /// When the store fails.
    pub fn listing(&self) -> Result<Arc<Listing>, ReadFault> {
        if let Some(given) = &self.given {
            return Ok(given.clone());
        }
        if let Some(moment) = self.moment {
            return self
                .held
                .moments
                .listing(self.store(), moment, &self.audience, &*self.whole()?);
        }
        let whole = self.whole()?;
        if let Some(known) = self.known(&whole) {
            return Ok(known);
        }
        let parts = &self.held.parts;
        let part = Arc::new(whole.seen_by(&self.audience));
        let mut held = parts.write().unwrap_or_else(PoisonError::into_inner);
        if held.len() >= REMEMBERED {
            held.clear();
        }
        held.insert(self.audience.clone(), part.clone());
        Ok(part)
    }

    /// The part of all there is that the audience may see, where it is made already.
    fn known(&self, whole: &Arc<Listing>) -> Option<Arc<Listing>> {
        if self.audience == Audience::Local {
            return Some(whole.clone());
        }
        let parts = self.held.parts.read().unwrap_or_else(PoisonError::into_inner);
        let part = parts.get(&self.audience);
        part.filter(|part| part.mark() == whole.mark()).cloned()
    }

    /// The same with the listing that is in memory, so that reading it waits for no store; `None` where that may not be as of now.
    #[must_use]
    pub fn at_hand(&self) -> Option<Self> {
        if self.moment.is_some() || self.away_since().is_some() {
            return None;
        }
        let mark = self.held.store.mark_at_once()?;
        let whole = self
            .held
            .whole
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        let listing = self.known(&whole.filter(|whole| whole.mark() == mark)?)?;
        Some(Self {
            given: Some(listing),
            ..self.clone()
        })
    }

    /// The index of a listed surface where it is in memory, as of now.
    #[must_use]
    pub fn index_at_hand(&self, entry: &SurfaceEntry) -> Option<Arc<Indexed>> {
        self.moment.is_none().then(|| self.held.indexes.at_hand(entry))?
    }

    /// A site that the audience sees all of by its policy now: as it was at the moment that is shown, but for that policy, so
    /// that whoever looks at it decides by the one of now.
    ///
    /// # Errors
    /// When the store fails.
    pub fn site_seen_whole(&self, slug: &Slug) -> Result<Option<Arc<Site>>, ReadFault> {
        let now = Self {
            moment: None,
            ..self.clone()
        };
        let now = now.listing()?.site(slug).cloned();
        let Some(now) = now.filter(|site| self.audience.sees(site)) else {
            return Ok(None);
        };
        if self.moment.is_none() {
            return Ok(Some(now));
        }
        let then = self.listing()?.site(slug).map(|then| Site {
            policy: now.policy,
            ..Site::clone(then)
        });
        Ok(then.map(Arc::new))
    }

    /// All there is, as of now; while the store is away, as it was last seen.
    fn whole(&self) -> Result<Arc<Listing>, ReadFault> {
        let held = &self.held.whole;
        let known = held.read().unwrap_or_else(PoisonError::into_inner).clone();
        match (self.fresh(known.as_ref()), known) {
            (Ok(listing), _) => {
                self.held.presence.here();
                Ok(listing)
            }
            (Err(ReadFault::Store(StoreError::Unreachable(_))), Some(known)) => {
                self.held.presence.away();
                Ok(known)
            }
            (Err(fault), _) => Err(fault),
        }
    }

    /// What is known where the store has not moved since; else what it has now.
    fn fresh(&self, known: Option<&Arc<Listing>>) -> Result<Arc<Listing>, ReadFault> {
        let mark = self.held.store.mark()?;
        if let Some(listing) = known.filter(|listing| listing.mark() == mark) {
            return Ok(listing.clone());
        }
        let fresh = Arc::new(Listing::read(self.store(), mark)?);
        let held = &self.held.whole;
        *held.write().unwrap_or_else(PoisonError::into_inner) = Some(fresh.clone());
        Ok(fresh)
    }

    /// Since when the store is away, and what is shown is of before; `None` while it is there.
    #[must_use]
    pub fn away_since(&self) -> Option<Timestamp> {
        self.held.presence.away_since()
    }

    /// What there is of indexes.
    #[must_use]
    pub fn index_figures(&self) -> IndexFigures {
        self.held.indexes.figures()
    }

    /// The index of a surface, as of now.
    ///
    /// # Errors
    /// When there is no such surface for this audience, or it cannot be read or indexed.
    pub fn index(&self, id: &SurfaceId) -> Result<Arc<Indexed>, ReadFault> {
        let listing = self.listing()?;
        let entry = listing
            .surface(id)
            .ok_or_else(|| ReadFault::missing("surface", id))?;
        self.index_of(entry)
    }

    /// The index of a listed surface, at the revision that the listing has or a later one.
    ///
    /// # Errors
    /// When it cannot be read or indexed.
    pub fn index_of(&self, entry: &SurfaceEntry) -> Result<Arc<Indexed>, ReadFault> {
        match self.moment {
            Some(moment) => self
                .held
                .moments
                .index(self.store(), entry, moment, self.whole()?.mark()),
            None => self.held.indexes.get(self.store(), entry),
        }
    }
}

#[cfg(test)]
mod tests;
