//! Coordinates of GeoJSON geometries as places of the site.

use super::Fault;
use super::batch::Stop;
use super::place::Ground;
use crate::crs::{Crs, CrsFault, parse_code};
use serde_json::Value;
use spatial::frame::LonLat;
use std::sync::Arc;

/// What a document's coordinates are, and how they become the site's.
pub(super) struct Locator<'s> {
    site: &'s Crs,
    ground: Ground,
    given: Given,
}

enum Given {
    /// Longitude and latitude on WGS 84, as RFC 7946 has it.
    LonLat,
    /// Those of the site's own CRS.
    Own,
    /// Those of another CRS, x before y.
    Other(Arc<Crs>),
}

impl<'s> Locator<'s> {
    /// Coordinates as longitude and latitude, until a `crs` says otherwise.
    pub(super) fn new(site: &'s Crs, ground: Ground) -> Self {
        Self {
            site,
            ground,
            given: Given::LonLat,
        }
    }

    /// Where the site's prints can lie.
    pub(super) fn ground(&self) -> &Ground {
        &self.ground
    }

    /// Takes the older member `crs` of a collection (GeoJSON 2008): `{"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::25830"}}`.
    ///
    /// # Errors
    /// A fault where it names no known CRS.
    pub(super) fn take_crs(&mut self, member: &Value) -> Result<(), Fault> {
        if member.is_null() {
            return Ok(());
        }
        let name = member["properties"]["name"].as_str().unwrap_or_default();
        self.given = if name.ends_with("CRS84") {
            Given::LonLat
        } else {
            let found = parse_code(name).and_then(Crs::find);
            let other = found.map_err(|fault| {
                let given = if name.is_empty() {
                    member.to_string()
                } else {
                    name.to_owned()
                };
                Fault {
                    row: None,
                    ..Fault::of_cell(0, "crs", &given, format!("a CRS by its EPSG code: {fault}"))
                }
            })?;
            if other.code == self.site.code {
                Given::Own
            } else {
                Given::Other(other)
            }
        };
        Ok(())
    }

    /// The site's coordinates of each given point, or what was expected of it.
    ///
    /// # Errors
    /// When PROJ cannot be used at all.
    pub(super) fn locate(&self, given: &[[f64; 2]]) -> Result<Vec<Result<[f64; 2], String>>, Stop> {
        let moved = if given.iter().all(|point| self.is_possible(*point)) {
            match self.transform(given) {
                Ok(moved) => moved.into_iter().map(Some).collect(),
                Err(CrsFault::NotTransformed(_)) => self.one_by_one(given)?,
                Err(fault) => return Err(Stop::Crs(fault)),
            }
        } else {
            self.one_by_one(given)?
        };
        let checked = moved.into_iter().zip(given);
        Ok(checked.map(|(moved, given)| self.check(*given, moved)).collect())
    }

    fn transform(&self, given: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, CrsFault> {
        match &self.given {
            Given::Own => Ok(given.to_vec()),
            Given::Other(other) => other.to(self.site, given),
            Given::LonLat => {
                let place = |&[lon_deg, lat_deg]: &[f64; 2]| LonLat { lon_deg, lat_deg };
                self.site
                    .from_lonlat(&given.iter().map(place).collect::<Vec<_>>())
            }
        }
    }

    /// PROJ writes to the standard error when it is given a latitude of half a million.
    fn is_possible(&self, [first, second]: [f64; 2]) -> bool {
        !matches!(self.given, Given::LonLat) || (first.abs() <= 180.0 && second.abs() <= 90.0)
    }

    /// PROJ gives up all points when one has no place in the projection; this finds which.
    fn one_by_one(&self, given: &[[f64; 2]]) -> Result<Vec<Option<[f64; 2]>>, Stop> {
        let one = |point: &[f64; 2]| {
            if !self.is_possible(*point) {
                return Ok(None);
            }
            match self.transform(std::slice::from_ref(point)) {
                Ok(moved) => Ok(moved.first().copied()),
                Err(CrsFault::NotTransformed(_)) => Ok(None),
                Err(fault) => Err(Stop::Crs(fault)),
            }
        };
        given.iter().map(one).collect()
    }

    fn check(&self, given: [f64; 2], moved: Option<[f64; 2]>) -> Result<[f64; 2], String> {
        let checked = match moved {
            Some([easting_m, northing_m]) => self
                .ground
                .check(easting_m, northing_m)
                .map(|()| [easting_m, northing_m]),
            None => Err(self.ground.outside()),
        };
        checked.map_err(|expected| self.hint(given).unwrap_or(expected))
    }

    /// What coordinates look like that are no longitude and latitude of the site.
    fn hint(&self, [first, second]: [f64; 2]) -> Option<String> {
        if !matches!(self.given, Given::LonLat) {
            return None;
        }
        if first.abs() > 180.0 || second.abs() > 180.0 {
            return Some(
                "longitude and latitude in degrees (RFC 7946): these look like metres; name their CRS in the collection's member crs, or give the properties easting_m and northing_m".to_owned(),
            );
        }
        let [[west, south], [east, north]] = self.site.area_deg;
        let in_width = if west <= east {
            (west..=east).contains(&second)
        } else {
            second >= west || second <= east
        };
        (in_width && (south..=north).contains(&first))
            .then(|| "longitude first, then latitude (RFC 7946): they look swapped".to_owned())
    }
}
