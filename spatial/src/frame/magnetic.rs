//! Magnetic north: the declination at a place on a day.

use super::{Factors, LonLat};
use crate::angle::fold_deg;
use jiff::civil::Date;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;
use world_magnetic_model::{Error, GeomagneticField, WarningZone, time};

/// The first year that the model covers.
pub const FIRST_YEAR: i16 = 2020;
/// The last year that the model covers, to its end.
pub const LAST_YEAR: i16 = 2029;

/// Whether a compass can be trusted at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Compass {
    /// The horizontal field is strong enough.
    Reliable,
    /// It is between 2000 and 6000 nT: a compass is sluggish and the model less exact.
    Weak,
    /// It is below 2000 nT, near a magnetic pole: a compass is of no use.
    Useless,
}

/// The angle from true north to magnetic north.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Declination {
    /// The declination, degrees, east positive: a true azimuth is the magnetic azimuth plus it.
    pub declination_deg: f64,
    /// The model's own standard error at this place, degrees. Iron, cables and magnetic rock near by come on
    /// top.
    pub sd_deg: f64,
    /// Whether a compass can be trusted there.
    pub compass: Compass,
}

/// Why no declination can be given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MagneticFault {
    /// The day is outside the model's years.
    #[error(
        "no declination for {0}: the World Magnetic Model here covers {FIRST_YEAR}-01-01 to {LAST_YEAR}-12-31; \
         give true or grid azimuths for surveys outside these years"
    )]
    Date(Date),
    /// The place is none.
    #[error(
        "no declination at longitude {lon_deg}, latitude {lat_deg}: expected -360 to 360 and -90 to 90 degrees"
    )]
    Place {
        /// Longitude, degrees.
        lon_deg: f64,
        /// Latitude, degrees.
        lat_deg: f64,
    },
    /// The height is outside the model.
    #[error("no declination at a height of {0} m: expected -1000 to 850000 m above the ellipsoid")]
    Height(f64),
}

impl Declination {
    /// The declination of the World Magnetic Model (2020 and 2025 coefficients, by the date).
    ///
    /// # Units
    /// Degrees; height in metres above the WGS 84 ellipsoid. 0 is mostly good enough on land: a kilometre changes
    /// the declination by less than 0.02 degrees between 60° S and 60° N.
    ///
    /// # Errors
    /// A date outside 2020 to 2029, or a place or height outside the model.
    ///
    /// # References
    /// NOAA/NCEI and British Geological Survey, The US/UK World Magnetic Model for 2025-2030.
    pub fn at(place: LonLat, height_m: f64, date: Date) -> Result<Self, MagneticFault> {
        let LonLat { lon_deg, lat_deg } = place;
        let no_place = MagneticFault::Place { lon_deg, lat_deg };
        if !(lon_deg.abs() <= 360.0 && lat_deg.abs() <= 90.0) {
            return Err(no_place);
        }
        let folded_lon_deg = (lon_deg + 180.0).rem_euclid(360.0) - 180.0;
        let field = GeomagneticField::new(
            Length::new::<meter>(height_m as f32),
            Angle::new::<degree>(lat_deg as f32),
            Angle::new::<degree>(folded_lon_deg as f32),
            day_of_model(date)?,
        )
        .map_err(|fault| match fault {
            Error::DateOutsideOfValidityRange { .. } => MagneticFault::Date(date),
            Error::HeightOutsideOfValidityRange { .. } => MagneticFault::Height(height_m),
            Error::InvalidLatitude | Error::InvalidLongitude => no_place,
        })?;
        Ok(Self {
            declination_deg: f64::from(field.declination().get::<degree>()),
            sd_deg: f64::from(field.declination_uncertainty().get::<degree>()),
            compass: match field.declination_warning() {
                None => Compass::Reliable,
                Some(WarningZone::CautionZone) => Compass::Weak,
                Some(WarningZone::BlackoutZone) => Compass::Useless,
            },
        })
    }

    /// The true azimuth of a magnetic azimuth, 0 to 360.
    ///
    /// # Units
    /// Degrees.
    #[must_use]
    pub fn true_from_magnetic_deg(&self, magnetic_azimuth_deg: f64) -> f64 {
        fold_deg(magnetic_azimuth_deg + self.declination_deg)
    }

    /// The grid azimuth of a magnetic azimuth, by way of the true one, 0 to 360.
    ///
    /// # Units
    /// Degrees.
    #[must_use]
    pub fn grid_from_magnetic_deg(&self, magnetic_azimuth_deg: f64, factors: &Factors) -> f64 {
        factors.grid_from_true_deg(self.true_from_magnetic_deg(magnetic_azimuth_deg))
    }
}

fn day_of_model(date: Date) -> Result<time::Date, MagneticFault> {
    if !(FIRST_YEAR..=LAST_YEAR).contains(&date.year()) {
        return Err(MagneticFault::Date(date));
    }
    let day_of_year = u16::try_from(date.day_of_year()).expect("a day of the year is 1 to 366");
    time::Date::from_ordinal_date(i32::from(date.year()), day_of_year).map_err(|_| MagneticFault::Date(date))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    const LEDGE: LonLat = LonLat {
        lon_deg: -5.0,
        lat_deg: 43.5,
    };

    #[test]
    fn surveys_outside_the_model_are_refused_with_its_years() {
        for day in [date(2019, 12, 31), date(2030, 1, 1), date(1987, 6, 1)] {
            let fault = Declination::at(LEDGE, 0.0, day).unwrap_err();
            assert_eq!(fault, MagneticFault::Date(day));
            assert!(fault.to_string().contains("2020-01-01 to 2029-12-31"), "{fault}");
        }
        for day in [date(2020, 1, 1), date(2029, 12, 31), date(2024, 12, 31)] {
            assert!(Declination::at(LEDGE, 0.0, day).is_ok(), "{day}");
        }
    }

    #[test]
    fn places_that_are_none_are_refused() {
        for (lon_deg, lat_deg) in [
            (f64::NAN, 0.0),
            (0.0, 90.1),
            (0.0, f64::NAN),
            (f64::INFINITY, 0.0),
        ] {
            let fault = Declination::at(LonLat { lon_deg, lat_deg }, 0.0, date(2026, 1, 1)).unwrap_err();
            assert!(matches!(fault, MagneticFault::Place { .. }), "{fault}");
        }
        for height_m in [f64::NAN, 1e7, -2000.0] {
            let fault = Declination::at(LEDGE, height_m, date(2026, 1, 1)).unwrap_err();
            assert!(matches!(fault, MagneticFault::Height(_)), "{fault}");
        }
    }

    #[test]
    fn height_hardly_matters_on_land() {
        for lat_deg in [-60.0, -35.0, 0.0, 35.0, 60.0] {
            for lon_deg in [-150.0, -75.0, 0.0, 75.0, 150.0] {
                let at = |height_m| {
                    Declination::at(LonLat { lon_deg, lat_deg }, height_m, date(2026, 7, 1)).unwrap()
                };
                let change = (at(1000.0).declination_deg - at(0.0).declination_deg).abs();
                assert!(change < 0.02, "{lon_deg} {lat_deg}: {change}");
            }
        }
    }

    #[test]
    fn east_declination_is_added_and_convergence_is_taken_off() {
        let declination = Declination {
            declination_deg: 20.0,
            sd_deg: 0.4,
            compass: Compass::Reliable,
        };
        let factors = Factors {
            convergence_deg: -1.5,
            scale: 1.0,
        };
        assert_eq!(declination.true_from_magnetic_deg(350.0), 10.0);
        assert_eq!(declination.grid_from_magnetic_deg(350.0, &factors), 11.5);
    }

    #[test]
    fn a_compass_near_the_pole_is_useless() {
        let near = LonLat {
            lon_deg: 139.0,
            lat_deg: 85.8,
        };
        let declination = Declination::at(near, 0.0, date(2025, 1, 1)).unwrap();
        assert_eq!(declination.compass, Compass::Useless);
        assert!(declination.sd_deg > 2.0);
    }
}
