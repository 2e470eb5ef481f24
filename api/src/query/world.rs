//! What a query may see, and the frames it speaks in.

use super::Refusal;
use crate::catalogue::{Catalogue, Indexed, ReadFault};
use crate::crs::{Crs, CrsFault};
use crate::feature::OutputCrs;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use spatial::angle::fold_deg;
use spatial::frame::{Factors, LonLat};
use spatial::index::SurfaceIndex;
use spatial::model::{IdFault, Slug, SurfaceId, TrackwayId};
use std::str::FromStr;
use std::sync::Arc;

/// The north that azimuths of an answer are counted from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum North {
    /// The Earth's axis.
    #[default]
    True,
    /// The northing axis of the site's CRS.
    Grid,
}

impl North {
    /// A grid azimuth as one from this north.
    ///
    /// # Units
    /// Degrees.
    #[must_use]
    pub fn from_grid(self, azimuth_deg: f64, factors: Factors) -> f64 {
        fold_deg(azimuth_deg + self.to_grid_deg(factors))
    }

    /// The azimuth of grid north from this north, degrees.
    #[must_use]
    pub fn to_grid_deg(self, factors: Factors) -> f64 {
        match self {
            Self::Grid => 0.0,
            Self::True => factors.convergence_deg,
        }
    }

    /// Its name in a sentence.
    #[must_use]
    pub fn told(self) -> &'static str {
        match self {
            Self::True => "true north",
            Self::Grid => "grid north",
        }
    }
}

/// What a query may see: the surfaces of a catalogue.
pub struct World<'a> {
    catalogue: &'a Catalogue,
    asked: OutputCrs,
}

impl<'a> World<'a> {
    /// The world of a catalogue, for an asker who gives and wants coordinates in a CRS.
    #[must_use]
    pub fn new(catalogue: &'a Catalogue, asked: OutputCrs) -> Self {
        Self { catalogue, asked }
    }

    /// The catalogue below.
    pub(super) fn catalogue(&self) -> &Catalogue {
        self.catalogue
    }

    /// A surface by the text of its id.
    ///
    /// # Errors
    /// When the text is no id, or there is no such surface, or it cannot be read.
    pub fn surface(&self, id: &str) -> Result<Arc<Indexed>, Refusal> {
        Ok(self.catalogue.index(&self.id::<SurfaceId>("surface", id)?)?)
    }

    /// A trackway by the text of its id, with its surface.
    ///
    /// # Errors
    /// When the text is no id, or there is no such trackway, or it cannot be read.
    pub fn trackway(&self, id: &str) -> Result<(Arc<Indexed>, usize), Refusal> {
        let id: TrackwayId = self.id("trackway", id)?;
        let index = self.catalogue.index(&id.surface)?;
        let place = index
            .trackways()
            .iter()
            .position(|trackway| trackway.label == id.label);
        let place = place.ok_or_else(|| ReadFault::missing("trackway", &id))?;
        Ok((index, place))
    }

    /// All surfaces of a site by the text of its slug, in the order of ids.
    ///
    /// # Errors
    /// When the text is no slug, or there is no such site, or a surface cannot be read.
    pub fn site(&self, slug: &str) -> Result<Vec<Arc<Indexed>>, Refusal> {
        let slug: Slug = self.id("site", slug)?;
        let listing = self.catalogue.listing()?;
        listing
            .site(&slug)
            .ok_or_else(|| ReadFault::missing("site", &slug))?;
        let surfaces = listing
            .surfaces_of(&slug)
            .map(|entry| self.catalogue.index_of(entry));
        Ok(surfaces.collect::<Result<_, _>>()?)
    }

    fn id<Id: FromStr<Err = IdFault>>(&self, input: &str, text: &str) -> Result<Id, Refusal> {
        text.parse()
            .map_err(|fault: IdFault| Refusal::input(input, text, fault.to_string()))
    }

    /// A place that the asker gave, on a surface.
    ///
    /// # Errors
    /// When it lies where the surface's projection is not defined.
    pub fn place(&self, at: [f64; 2], on: &SurfaceIndex) -> Result<Place, Refusal> {
        let crs = Crs::for_site(on.crs())?;
        let moved = self.asked.unproject(&crs, &[self.asked.read(at)]);
        let place = moved.ok().and_then(|moved| within(&crs, *moved.first()?));
        place.ok_or_else(|| {
            let (asked, code, name) = (self.asked.uri(), crs.authority_code(), &crs.name);
            let expected = format!("a place in {asked}, within the projection of {code} ({name})");
            let given = format!("{},{}", at[0], at[1]);
            Refusal::input("at", given, expected)
        })
    }

    /// Convergence and scale at places of a surface (easting, northing).
    ///
    /// # Errors
    /// When PROJ cannot tell.
    pub fn factors(&self, places: &[[f64; 2]], on: &SurfaceIndex) -> Result<Vec<Factors>, Refusal> {
        let crs = Crs::for_site(on.crs())?;
        factors_at(&crs, &crs.to_lonlat(places)?)
    }
}

/// Convergence and scale of a CRS at places.
///
/// # Errors
/// When PROJ cannot tell.
pub(super) fn factors_at(crs: &Crs, places: &[LonLat]) -> Result<Vec<Factors>, Refusal> {
    let factors = crs.factors_of(places);
    let unknown = || CrsFault::NotTransformed(format!("{} has no scale there", crs.authority_code()));
    Ok(factors
        .into_iter()
        .collect::<Option<Vec<_>>>()
        .ok_or_else(unknown)?)
}

/// A place on a surface, and what its projection does there.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// Easting and northing, metres.
    pub position: [f64; 2],
    /// Convergence and scale.
    pub factors: Factors,
}

/// A place whose projection can be undone: far outside, PROJ gives numbers that mean nothing.
fn within(crs: &Crs, position: [f64; 2]) -> Option<Place> {
    const SAME_M: f64 = 1.0;
    let lonlat = *crs.to_lonlat(&[position]).ok()?.first()?;
    let back = *crs.from_lonlat(&[lonlat]).ok()?.first()?;
    let same = (back[0] - position[0]).hypot(back[1] - position[1]) < SAME_M;
    let factors = crs.factors(lonlat)?;
    same.then_some(Place { position, factors })
}
