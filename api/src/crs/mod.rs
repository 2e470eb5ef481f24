//! Coordinate reference systems: what PROJ knows of an EPSG code, and coordinates from one to another.
//!
//! Inside the program x is the easting or longitude and y the northing or latitude, always. Where a
//! CRS's authority has it the other way, [`Crs::northing_first`] says so, and whoever writes or reads
//! coordinates in that CRS at the program's edge swaps them once.

mod database;
mod environment;
mod factors;
mod site_fit;
mod transform;
mod wkt;

pub use environment::forget_installed_database;
pub use transform::stay;

use spatial::frame::{Factors, LonLat};
use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

/// Longitude and latitude in that order, on WGS 84: the CRS of GeoJSON.
pub const CRS84: &str = "OGC:CRS84";

/// What PROJ knows of one EPSG code.
#[derive(Debug, Clone, PartialEq)]
pub struct Crs {
    /// The EPSG code.
    pub code: u32,
    /// The name in words.
    pub name: String,
    /// Whether its authority writes northing (or latitude) before easting (or longitude).
    pub northing_first: bool,
    /// Whether it is a projection with metre axes, fit for a site.
    pub projected: bool,
    /// Whether its axes are latitude and longitude.
    pub geographic: bool,
    /// Whether its axes count eastings and northings (or longitudes and latitudes), in either order, and
    /// not westings or southings.
    pub east_and_north: bool,
    /// Whether it is a projection that keeps angles: it has one scale in all directions at a place, so
    /// that azimuths and distances measured on it are those of the ground but for a turn and a factor.
    pub conformal: bool,
    /// The longitude from Greenwich of the meridian that its own longitudes are counted from, degrees.
    pub prime_meridian_deg: f64,
    /// Where it may be used, in words.
    pub area_name: String,
    /// Where it may be used: `[[west, south], [east, north]]`, degrees; it crosses the antimeridian where west is greater than east.
    pub area_deg: [[f64; 2]; 2],
    /// The box around its area of use in its own coordinates, x before y.
    pub area: [[f64; 2]; 2],
}

/// Why a CRS cannot be used, or coordinates cannot be transformed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CrsFault {
    /// The text is no EPSG code.
    #[error("{0:?} is no EPSG code: expected a form such as EPSG:25830")]
    NoCode(String),
    /// There is no CRS with this code.
    #[error("EPSG:{0} is not known: expected the code of a projected CRS, such as EPSG:25830")]
    Unknown(u32),
    /// The CRS has degrees, and a site needs metres.
    #[error(
        "EPSG:{code} ({name}) has longitude and latitude: a site needs a projected CRS in metres, such as the UTM zone of the place"
    )]
    Geographic {
        /// The code.
        code: u32,
        /// The CRS's name.
        name: String,
    },
    /// The CRS is projected, but not in metres, or is of another kind.
    #[error("EPSG:{code} ({name}) does not fit: a site needs a projected CRS with two axes in metres")]
    NotMetres {
        /// The code.
        code: u32,
        /// The CRS's name.
        name: String,
    },
    /// The CRS is projected in metres, but counts westings or southings.
    #[error(
        "EPSG:{code} ({name}) counts westings or southings: a site needs eastings and northings, such as those of the UTM zone of the place"
    )]
    OtherWay {
        /// The code.
        code: u32,
        /// The CRS's name.
        name: String,
    },
    /// The CRS is projected in metres, but distorts angles.
    #[error(
        "EPSG:{code} ({name}) is not conformal: directions and distances measured on it are distorted; a site needs a conformal projection, such as the UTM zone of the place"
    )]
    NotConformal {
        /// The code.
        code: u32,
        /// The CRS's name.
        name: String,
    },
    /// PROJ cannot transform.
    #[error("coordinates cannot be transformed: {0}")]
    NotTransformed(String),
    /// The CRS database cannot be read.
    #[error("the CRS database cannot be read: {0}")]
    NoDatabase(String),
}

impl Crs {
    /// What PROJ knows of a code; looked up once, then remembered.
    ///
    /// # Errors
    /// When there is no such CRS.
    pub fn find(code: u32) -> Result<Arc<Crs>, CrsFault> {
        static FOUND: LazyLock<Mutex<HashMap<u32, Arc<Crs>>>> = LazyLock::new(Mutex::default);
        let found = || FOUND.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(crs) = found().get(&code) {
            return Ok(crs.clone());
        }
        let crs = Arc::new(look_up(code)?);
        found().insert(code, crs.clone());
        Ok(crs)
    }

    /// The CRS of a code that a site can have: projected, with metre axes to the east and the north, conformal.
    ///
    /// # Errors
    /// When there is no such CRS, or it is of another kind.
    pub fn for_site(code: u32) -> Result<Arc<Crs>, CrsFault> {
        let crs = Self::find(code)?;
        if crs.projected && crs.east_and_north && crs.conformal {
            Ok(crs)
        } else {
            Err(unfit(&crs))
        }
    }

    /// Its definition in the older well-known text (OGC 01-009).
    ///
    /// # Errors
    /// When PROJ has none.
    pub fn wkt1(&self) -> Result<String, CrsFault> {
        wkt::wkt1(&self.authority_code())
    }

    /// Longitudes and latitudes of points in this CRS (x before y), degrees.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn to_lonlat(&self, points: &[[f64; 2]]) -> Result<Vec<LonLat>, CrsFault> {
        let moved = transform::transform(&self.authority_code(), CRS84, points)?;
        Ok(moved
            .into_iter()
            .map(|[lon_deg, lat_deg]| LonLat { lon_deg, lat_deg })
            .collect())
    }

    /// Points in this CRS (x before y) from longitudes and latitudes.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn from_lonlat(&self, places: &[LonLat]) -> Result<Vec<[f64; 2]>, CrsFault> {
        let points: Vec<_> = places
            .iter()
            .map(|place| [place.lon_deg, place.lat_deg])
            .collect();
        transform::transform(CRS84, &self.authority_code(), &points)
    }

    /// Points of this CRS in another (x before y in both).
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn to(&self, other: &Crs, points: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, CrsFault> {
        transform::transform(&self.authority_code(), &other.authority_code(), points)
    }

    /// The box in longitude and latitude around a box in this CRS.
    ///
    /// # Errors
    /// When PROJ cannot transform.
    pub fn bounds_to_lonlat(&self, bounds: [[f64; 2]; 2]) -> Result<[[f64; 2]; 2], CrsFault> {
        transform::bounds(&self.authority_code(), CRS84, bounds)
    }

    /// The box in this CRS around a box in longitude and latitude.
    ///
    /// # Errors
    /// When PROJ cannot transform, or the box reaches to where the projection is not defined.
    pub fn bounds_from_lonlat(&self, bounds_deg: [[f64; 2]; 2]) -> Result<[[f64; 2]; 2], CrsFault> {
        transform::bounds(CRS84, &self.authority_code(), bounds_deg)
    }

    /// The box in another CRS around a box in this one.
    ///
    /// # Errors
    /// When PROJ cannot transform, or the box reaches to where the projection is not defined.
    pub fn bounds_to(&self, other: &Crs, bounds: [[f64; 2]; 2]) -> Result<[[f64; 2]; 2], CrsFault> {
        transform::bounds(&self.authority_code(), &other.authority_code(), bounds)
    }

    /// Grid convergence and point scale factor at a place; `None` where the projection is not defined.
    #[must_use]
    pub fn factors(&self, at: LonLat) -> Option<Factors> {
        self.factors_of(&[at]).pop().flatten()
    }

    /// Grid convergence and point scale factor at each of several places.
    ///
    /// The places are taken as if they were of the CRS's own datum. Datums differ by some hundred metres at
    /// most and turn against each other by some seconds of arc, so that the convergence is off by less than 0.003
    /// degrees for it (measured over three CRSs of each method in the EPSG register).
    #[must_use]
    pub fn factors_of(&self, places: &[LonLat]) -> Vec<Option<Factors>> {
        let own: Vec<LonLat> = places.iter().map(|place| self.by_own_meridian(*place)).collect();
        transform::where_kept(|| factors::factors(self.code, &own))
    }

    fn by_own_meridian(&self, LonLat { lon_deg, lat_deg }: LonLat) -> LonLat {
        LonLat {
            lon_deg: lon_deg - self.prime_meridian_deg,
            lat_deg,
        }
    }

    /// The code as people write it: `EPSG:25830`.
    #[must_use]
    pub fn authority_code(&self) -> String {
        format!("EPSG:{}", self.code)
    }
}

/// Reads `EPSG:25830`, a bare code, an OGC URI or an OGC URN.
///
/// # Errors
/// When the text has none of these forms.
pub fn parse_code(text: &str) -> Result<u32, CrsFault> {
    let fault = || CrsFault::NoCode(text.chars().take(80).collect());
    let bare = text
        .strip_prefix("http://www.opengis.net/def/crs/EPSG/")
        .and_then(|rest| rest.split_once('/'))
        .or_else(|| {
            text.strip_prefix("urn:ogc:def:crs:EPSG:")
                .and_then(|rest| rest.split_once(':'))
        })
        .map(|(_version, code)| code)
        .or_else(|| text.strip_prefix("EPSG:").or_else(|| text.strip_prefix("epsg:")))
        .unwrap_or(text);
    let digits = !bare.is_empty() && bare.bytes().all(|b| b.is_ascii_digit());
    if digits {
        bare.parse().map_err(|_| fault())
    } else {
        Err(fault())
    }
}

fn unfit(crs: &Crs) -> CrsFault {
    let (code, name) = (crs.code, crs.name.clone());
    if crs.geographic {
        CrsFault::Geographic { code, name }
    } else if !crs.projected {
        CrsFault::NotMetres { code, name }
    } else if !crs.east_and_north {
        CrsFault::OtherWay { code, name }
    } else {
        CrsFault::NotConformal { code, name }
    }
}

fn look_up(code: u32) -> Result<Crs, CrsFault> {
    if !database::knows(code) {
        return Err(CrsFault::Unknown(code));
    }
    let text = format!("EPSG:{code}");
    let described = described(transform::builder()?, &text).ok_or(CrsFault::Unknown(code))?;
    let kind = described["type"].as_str().unwrap_or_default();
    let axes = described["coordinate_system"]["axis"]
        .as_array()
        .map(Vec::as_slice)
        .unwrap_or_default();
    if !kind.ends_with("CRS") || axes.len() < 2 {
        return Err(CrsFault::Unknown(code));
    }
    let area = if described["bbox"].is_object() {
        &described
    } else {
        &described["usages"][0]
    };
    let edge = |name: &str, otherwise: f64| area["bbox"][name].as_f64().unwrap_or(otherwise);
    let area_deg = [
        [edge("west_longitude", -180.0), edge("south_latitude", -90.0)],
        [edge("east_longitude", 180.0), edge("north_latitude", 90.0)],
    ];
    let projected =
        kind == "ProjectedCRS" && axes.len() == 2 && axes.iter().all(|axis| axis["unit"] == "metre");
    let geographic = kind.starts_with("Geographic");
    let own = if geographic {
        area_deg
    } else {
        transform::bounds(CRS84, &text, area_deg)?
    };
    let prime_meridian_deg = site_fit::prime_meridian_deg(&described);
    Ok(Crs {
        code,
        name: described["name"].as_str().unwrap_or(&text).to_owned(),
        northing_first: northing_first(axes),
        projected,
        geographic,
        east_and_north: site_fit::east_and_north(axes),
        conformal: projected && site_fit::is_conformal(code, &described, area_deg, prime_meridian_deg),
        prime_meridian_deg,
        area_name: area["area"].as_str().unwrap_or("the world").to_owned(),
        area_deg,
        area: own,
    })
}

/// The CRS as PROJJSON; `None` where PROJ cannot make it.
fn described(builder: proj::ProjBuilder, text: &str) -> Option<serde_json::Value> {
    let object = builder.proj(text).ok()?;
    let described = object.to_projjson(Some(false), None, None).ok()?;
    serde_json::from_str(&described).ok()
}

/// Polar projections have two axes that both point north or south; their names tell them apart.
fn northing_first(axes: &[serde_json::Value]) -> bool {
    let first = &axes[0];
    let name = first["name"].as_str().unwrap_or_default().to_lowercase();
    if name.contains("northing") || name.contains("latitude") {
        return true;
    }
    !name.contains("easting") && !name.contains("longitude") && first["direction"] == "north"
}

#[cfg(test)]
mod tests;
