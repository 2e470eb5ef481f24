//! The north that azimuths are counted from, and the way from it to grid north, which the record has.

use super::cell;
use crate::crs::{Crs, CrsFault};
use jiff::civil::Date;
use spatial::frame::magnetic::{Compass, Declination, MagneticFault};
use spatial::frame::{Factors, LonLat};
use spatial::model::LocalGrid;

/// The north that azimuths are counted from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum North {
    /// The northing axis of the site's CRS.
    #[default]
    Grid,
    /// The y axis of the site's local grid.
    Local,
    /// The Earth's axis.
    True,
    /// The needle of a compass.
    Magnetic {
        /// The day of the survey, for what has no day of its own.
        surveyed_on: Option<Date>,
    },
}

/// Why options name no north.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NorthFault {
    /// There is no such north.
    #[error("{0:?} is no north: expected grid, true, magnetic or local")]
    Name(String),
    /// The text is no day.
    #[error("{0:?} is no day of a survey: expected {1}")]
    Day(String, String),
    /// A day with a north that it does not move.
    #[error(
        "a day of the survey goes with magnetic north alone, which moves with the years: leave it out, or say that north is magnetic"
    )]
    NotMagnetic,
}

/// Where, how high and when an azimuth was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sighting {
    /// Easting and northing, metres in the site's CRS.
    pub position: [f64; 2],
    /// Height, metres; 0 where it is unknown, which is mostly good enough (see [`Declination::at`]).
    pub height_m: f64,
    /// The day, where it is known.
    pub day: Option<Date>,
}

/// The way of an azimuth to grid north.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// What has to be added to the azimuth, degrees, −180 to 180.
    pub turn_deg: f64,
    /// The declination in it, where north is magnetic.
    pub declination: Option<Declination>,
}

/// Why an azimuth cannot be turned to grid north; what was expected instead.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoTurn {
    /// Magnetic north moves, and the day is unknown.
    #[error(
        "the day on which the compass was read, since magnetic north moves; where a whole sheet lacks it, give that of the survey (surveyed_on)"
    )]
    NoDay,
    /// The model gives no declination.
    #[error("a day, a place and a height that the model of the Earth's field knows: {0}")]
    Unknown(MagneticFault),
    /// The needle does not point anywhere.
    #[error(
        "a true or grid azimuth: so near to a magnetic pole the horizontal field is below 2000 nT, and a compass is of no use"
    )]
    Useless,
    /// The site has no local grid.
    #[error("another north: the site has no local grid; tie one first with `stridebed site tie`")]
    NoGrid,
    /// The projection cannot be undone.
    #[error("a place in the projection of {0}")]
    NoPlace(String),
}

impl North {
    /// The names of all norths.
    pub const NAMES: [&str; 4] = ["grid", "true", "magnetic", "local"];

    /// The north of this name, grid north where there is none; and the day of the survey.
    ///
    /// # Errors
    /// A name or a day that is none, or a day with another north than the magnetic one.
    pub fn named(name: Option<&str>, surveyed_on: Option<&str>) -> Result<Self, NorthFault> {
        let day = |text: &str| cell::day(text).map_err(|expected| NorthFault::Day(text.to_owned(), expected));
        let surveyed_on = surveyed_on.map(day).transpose()?;
        let north = match name {
            None | Some("grid") => Self::Grid,
            Some("true") => Self::True,
            Some("local") => Self::Local,
            Some("magnetic") => return Ok(Self::Magnetic { surveyed_on }),
            Some(other) => return Err(NorthFault::Name(other.to_owned())),
        };
        surveyed_on.map_or(Ok(north), |_| Err(NorthFault::NotMagnetic))
    }

    /// The name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Grid => "grid",
            Self::Local => "local",
            Self::True => "true",
            Self::Magnetic { .. } => "magnetic",
        }
    }

    /// The options that say it, by name and value; none for grid north.
    #[must_use]
    pub fn options(self) -> Vec<(&'static str, String)> {
        let mut options = Vec::new();
        if self != Self::Grid {
            options.push(("north", self.name().to_owned()));
        }
        if let Self::Magnetic {
            surveyed_on: Some(day),
        } = self
        {
            options.push(("surveyed_on", day.to_string()));
        }
        options
    }

    /// The way of each azimuth to grid north, or why there is none.
    ///
    /// # Formula
    /// Grid azimuth = true azimuth − convergence; true azimuth = magnetic azimuth + declination; grid azimuth =
    /// local azimuth + rotation of the local grid.
    ///
    /// # Units
    /// Metres in, degrees out.
    ///
    /// # Errors
    /// When PROJ cannot be used at all.
    pub fn turns(
        self,
        crs: &Crs,
        local: Option<&LocalGrid>,
        sightings: &[Sighting],
    ) -> Result<Vec<Result<Turn, NoTurn>>, CrsFault> {
        let everywhere = |turn_deg| Turn {
            turn_deg,
            declination: None,
        };
        let surveyed_on = match self {
            Self::Grid => return Ok(vec![Ok(everywhere(0.0)); sightings.len()]),
            Self::Local => {
                let turn = local.map(|grid| everywhere(fold_turn_deg(grid.similarity.rotation_deg)));
                return Ok(vec![turn.ok_or(NoTurn::NoGrid); sightings.len()]);
            }
            Self::True => None,
            Self::Magnetic { surveyed_on } => Some(surveyed_on),
        };
        let grounds = grounds(crs, sightings)?;
        let turn = |(sighting, ground): (&Sighting, Option<Ground>)| {
            let ground = ground.ok_or_else(|| NoTurn::NoPlace(crs.authority_code()))?;
            let declination = match surveyed_on {
                None => None,
                Some(day) => Some(declination(ground.place, sighting, day)?),
            };
            let declination_deg = declination.map_or(0.0, |found| found.declination_deg);
            Ok(Turn {
                turn_deg: fold_turn_deg(declination_deg - ground.convergence_deg),
                declination,
            })
        };
        Ok(sightings.iter().zip(grounds).map(turn).collect())
    }
}

/// A place and its convergence.
struct Ground {
    place: LonLat,
    convergence_deg: f64,
}

/// PROJ answers for many places at once far faster than for each by itself.
fn grounds(crs: &Crs, sightings: &[Sighting]) -> Result<Vec<Option<Ground>>, CrsFault> {
    let positions: Vec<[f64; 2]> = sightings.iter().map(|sighting| sighting.position).collect();
    let places = match crs.to_lonlat(&positions) {
        Ok(places) => places,
        // One of them has no place, and PROJ does not say which.
        Err(CrsFault::NotTransformed(_)) if positions.len() > 1 => {
            let alone =
                |sighting: &Sighting| Ok(grounds(crs, std::slice::from_ref(sighting))?.pop().flatten());
            return sightings.iter().map(alone).collect();
        }
        Err(CrsFault::NotTransformed(_)) => return Ok(vec![None]),
        Err(fault) => return Err(fault),
    };
    let factors = crs.factors_of(&places).into_iter();
    let ground = |(place, factors): (LonLat, Option<Factors>)| {
        Some(Ground {
            place,
            convergence_deg: factors?.convergence_deg,
        })
    };
    Ok(places.into_iter().zip(factors).map(ground).collect())
}

/// The declination at a sighting; the day of the survey counts where it has none of its own.
fn declination(place: LonLat, sighting: &Sighting, surveyed_on: Option<Date>) -> Result<Declination, NoTurn> {
    let day = sighting.day.or(surveyed_on).ok_or(NoTurn::NoDay)?;
    let found = Declination::at(place, sighting.height_m, day).map_err(NoTurn::Unknown)?;
    match found.compass {
        Compass::Useless => Err(NoTurn::Useless),
        Compass::Reliable | Compass::Weak => Ok(found),
    }
}

/// A turn folded into −180 (excluded) to 180 degrees; one that is there already stays to the last bit.
fn fold_turn_deg(turn_deg: f64) -> f64 {
    if turn_deg > -180.0 && turn_deg <= 180.0 {
        return turn_deg;
    }
    180.0 - (180.0 - turn_deg).rem_euclid(360.0)
}

#[cfg(test)]
#[path = "north_tests.rs"]
mod tests;
