//! Coordinates on their way out: in which CRS, with how many decimals, in which order of axes.

use crate::crs::{self, CRS84, Crs, CrsFault};
use geo::{CoordsIter, Geometry, MapCoords};
use geojson::GeometryValue;
use std::cell::RefCell;
use std::sync::Arc;

/// The CRS that an asker wants coordinates in.
#[derive(Debug, Clone, PartialEq)]
pub enum OutputCrs {
    /// Longitude and latitude, degrees.
    Crs84,
    /// A CRS with an EPSG code.
    Epsg(Arc<Crs>),
}

/// Coordinates as they are written: rounded, and in the authority's order of axes.
pub type Written = [f64; 2];

const CRS84_URI: &str = "http://www.opengis.net/def/crs/OGC/1.3/CRS84";

impl OutputCrs {
    /// Reads the URI of a CRS, or a short form such as `EPSG:25830` or `CRS84`.
    ///
    /// # Errors
    /// When the text names no CRS that is known.
    pub fn parse(text: &str) -> Result<Self, CrsFault> {
        if [CRS84_URI, "CRS84", CRS84, "urn:ogc:def:crs:OGC:1.3:CRS84"].contains(&text) {
            return Ok(Self::Crs84);
        }
        Ok(Self::Epsg(Crs::find(crs::parse_code(text)?)?))
    }

    /// The CRS's URI.
    #[must_use]
    pub fn uri(&self) -> String {
        match self {
            Self::Crs84 => CRS84_URI.to_owned(),
            Self::Epsg(crs) => format!("http://www.opengis.net/def/crs/EPSG/0/{}", crs.code),
        }
    }

    /// Whether its authority writes northing or latitude first.
    #[must_use]
    pub fn northing_first(&self) -> bool {
        matches!(self, Self::Epsg(crs) if crs.northing_first)
    }

    /// A point of this CRS as the asker wrote it, with x first.
    #[must_use]
    pub fn read(&self, written: Written) -> [f64; 2] {
        if self.northing_first() {
            [written[1], written[0]]
        } else {
            written
        }
    }

    /// A point of this CRS, x first, as it is to be written: 9 decimals of a degree or 4 of a metre.
    #[must_use]
    pub fn write(&self, point: [f64; 2]) -> Written {
        let scale = if self.in_degrees() { 1e9 } else { 1e4 };
        let [x, y] = point.map(|value| (value * scale).round() / scale);
        if self.northing_first() { [y, x] } else { [x, y] }
    }

    /// Points of a site's CRS in this one, x first and not rounded.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn project(&self, from: &Crs, points: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, CrsFault> {
        match self {
            Self::Crs84 => {
                let places = from.to_lonlat(points)?;
                Ok(places
                    .into_iter()
                    .map(|place| [place.lon_deg, place.lat_deg])
                    .collect())
            }
            Self::Epsg(to) => from.to(to, points),
        }
    }

    /// Points of this CRS, x first, in a site's.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn unproject(&self, to: &Crs, points: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, CrsFault> {
        match self {
            Self::Crs84 => {
                let place = |[lon_deg, lat_deg]: &[f64; 2]| spatial::frame::LonLat {
                    lon_deg: *lon_deg,
                    lat_deg: *lat_deg,
                };
                to.from_lonlat(&points.iter().map(place).collect::<Vec<_>>())
            }
            Self::Epsg(from) => from.to(to, points),
        }
    }

    /// Geometries of a site's CRS as GeoJSON in this one; one call of PROJ for all.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn geometries(
        &self,
        from: &Crs,
        geometries: &[Option<Geometry<f64>>],
    ) -> Result<Vec<Option<GeometryValue>>, CrsFault> {
        let points: Vec<[f64; 2]> = geometries
            .iter()
            .flatten()
            .flat_map(CoordsIter::coords_iter)
            .map(Into::into)
            .collect();
        let mut written = self
            .project(from, &points)?
            .into_iter()
            .map(|point| self.write(point));
        let geometries = geometries.iter();
        Ok(geometries
            .map(|geometry| Some(GeometryValue::from(&replaced(geometry.as_ref()?, &mut written))))
            .collect())
    }

    /// One geometry of a site's CRS in this one, x first and not rounded.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn moved(&self, from: &Crs, geometry: &Geometry<f64>) -> Result<Geometry<f64>, CrsFault> {
        let points: Vec<[f64; 2]> = geometry.coords_iter().map(Into::into).collect();
        Ok(replaced(geometry, &mut self.project(from, &points)?.into_iter()))
    }

    /// A geometry of this CRS, x first, with as many decimals as are written.
    #[must_use]
    pub fn rounded(&self, geometry: &Geometry<f64>) -> Geometry<f64> {
        geometry.map_coords(|coord| self.read(self.write(coord.into())).into())
    }

    /// The box in a site's CRS around a box in this one.
    ///
    /// # Errors
    /// When PROJ cannot transform, or the box reaches to where the projection is not defined.
    pub fn bounds_into(&self, to: &Crs, bounds: [[f64; 2]; 2]) -> Result<[[f64; 2]; 2], CrsFault> {
        match self {
            Self::Crs84 => to.bounds_from_lonlat(bounds),
            Self::Epsg(from) => from.bounds_to(to, bounds),
        }
    }

    /// Whether its coordinates are degrees.
    #[must_use]
    pub fn in_degrees(&self) -> bool {
        match self {
            Self::Crs84 => true,
            Self::Epsg(crs) => crs.geographic,
        }
    }
}

/// A geometry with other points, taken in the order in which its own are walked.
fn replaced(geometry: &Geometry<f64>, points: &mut dyn Iterator<Item = [f64; 2]>) -> Geometry<f64> {
    let points = RefCell::new(points);
    // The same walk over the same geometry gave as many points: there is one for each.
    geometry.map_coords(|coord| points.borrow_mut().next().map_or(coord, Into::into))
}
