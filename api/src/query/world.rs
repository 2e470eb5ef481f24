//! What a query may see, and the frames it speaks in.

use super::{InputFault, Refusal};
use crate::catalogue::Catalogue;
use crate::crs::{Crs, CrsFault};
use crate::feature::OutputCrs;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use spatial::angle::fold_deg;
use spatial::frame::Factors;
use spatial::index::SurfaceIndex;
use spatial::model::SurfaceId;
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
        match self {
            Self::Grid => fold_deg(azimuth_deg),
            Self::True => fold_deg(azimuth_deg + factors.convergence_deg),
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

    /// A surface by the text of its id.
    ///
    /// # Errors
    /// When the text is no id, or there is no such surface, or it cannot be read.
    pub fn surface(&self, id: &str) -> Result<Arc<SurfaceIndex>, Refusal> {
        let id: SurfaceId = id.parse().map_err(|fault: spatial::model::IdFault| {
            Refusal::Inputs(vec![InputFault::new(
                "surface",
                Some(id.to_owned()),
                fault.to_string(),
            )])
        })?;
        Ok(self.catalogue.index(&id)?)
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
            let given = Some(format!("{},{}", at[0], at[1]));
            Refusal::Inputs(vec![InputFault::new("at", given, expected)])
        })
    }

    /// Convergence and scale at places of a surface (easting, northing).
    ///
    /// # Errors
    /// When PROJ cannot tell.
    pub fn factors(&self, places: &[[f64; 2]], on: &SurfaceIndex) -> Result<Vec<Factors>, Refusal> {
        let crs = Crs::for_site(on.crs())?;
        let factors = crs.factors_of(&crs.to_lonlat(places)?);
        let unknown = || CrsFault::NotTransformed(format!("{} has no scale there", crs.authority_code()));
        Ok(factors
            .into_iter()
            .collect::<Option<Vec<_>>>()
            .ok_or_else(unknown)?)
    }
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
