//! Whether an easting and a northing can be a place of the site.

use crate::crs::Crs;
use spatial::model::{Similarity, Site, Slug};

/// The part of the plane where a site's prints can lie: its CRS's area of use, and a little more.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    area: [[f64; 2]; 2],
    code: String,
    name: String,
    area_name: String,
    slug: Slug,
    grid: Option<Similarity>,
}

impl Ground {
    /// Sites near the edge of a zone are often kept in the zone that most of them lie in, so each side
    /// reaches this part of the area's size further (common practice).
    const MARGIN: f64 = 0.05;

    /// The area of use of a site's CRS, and its local grid.
    pub(super) fn of(site: &Site, crs: &Crs) -> Self {
        let [[west, south], [east, north]] = crs.area;
        let (across, up) = (Self::MARGIN * (east - west), Self::MARGIN * (north - south));
        Self {
            area: [[west - across, south - up], [east + across, north + up]],
            code: crs.authority_code(),
            name: crs.name.clone(),
            // After a colon, the database lists every country and sea.
            area_name: crs.area_name.split(':').next().unwrap_or_default().to_owned(),
            slug: site.slug.clone(),
            grid: site.local_grid.as_ref().map(|grid| grid.similarity),
        }
    }

    /// How the site's local grid lies.
    ///
    /// # Errors
    /// What was expected, where there is none.
    pub(super) fn grid(&self) -> Result<Similarity, String> {
        self.grid.ok_or_else(|| {
            format!(
                "easting_m and northing_m: the site has no local grid yet; tie one with `stridebed site tie {}` and control points, then take the sheet again",
                self.slug
            )
        })
    }

    /// The place of a local x and y, checked.
    ///
    /// # Units
    /// Metres in the site's local grid, and in its CRS.
    ///
    /// # Errors
    /// What was expected, and what the numbers look like.
    pub(super) fn of_local(&self, [x_m, y_m]: [f64; 2]) -> Result<[f64; 2], String> {
        let [easting_m, northing_m] = self.grid()?.forward([x_m, y_m]);
        if self.check(easting_m, northing_m).is_ok() {
            return Ok([easting_m, northing_m]);
        }
        let Self { code, name, .. } = self;
        Err(if self.holds(x_m, y_m) || self.holds(y_m, x_m) {
            format!(
                "metres in the site's local grid: these look like an easting and a northing in {code}; give them as easting_m and northing_m"
            )
        } else {
            format!(
                "metres in the site's local grid: it puts this at easting {easting_m:.3}, northing {northing_m:.3}, outside the area of {code} ({name})"
            )
        })
    }

    /// Checks a place.
    ///
    /// # Units
    /// Metres in the site's CRS.
    ///
    /// # Errors
    /// What was expected, and what the numbers look like.
    pub(super) fn check(&self, easting_m: f64, northing_m: f64) -> Result<(), String> {
        let degrees = |first: f64, second: f64| first.abs() <= 180.0 && second.abs() <= 90.0;
        // Asked first: the areas of some CRSs hold their own origin, but never a print beside it.
        if degrees(easting_m, northing_m) || degrees(northing_m, easting_m) {
            Err(self.degrees())
        } else if self.holds(easting_m, northing_m) {
            Ok(())
        } else if self.holds(northing_m, easting_m) {
            Err(self.swapped())
        } else {
            Err(self.outside())
        }
    }

    fn holds(&self, easting_m: f64, northing_m: f64) -> bool {
        let [[west, south], [east, north]] = self.area;
        (west..=east).contains(&easting_m) && (south..=north).contains(&northing_m)
    }

    fn degrees(&self) -> String {
        let Self { code, name, .. } = self;
        format!(
            "metres in {code} ({name}): these look like longitude and latitude in degrees; transform them to {code}, or import them as GeoJSON"
        )
    }

    fn swapped(&self) -> String {
        let Self { code, area_name, .. } = self;
        format!(
            "a place in the area of {code} ({area_name}): easting and northing look swapped, for the other way round they would lie in it"
        )
    }

    /// What is expected of a place that lies elsewhere.
    pub(super) fn outside(&self) -> String {
        let [[west, south], [east, north]] = self.area;
        let Self {
            code,
            name,
            area_name,
            ..
        } = self;
        format!(
            "a place in the area of {code} ({name}; {area_name}): easting {west:.0} to {east:.0}, northing {south:.0} to {north:.0}; is the site's CRS the sheet's?"
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ground(code: u32) -> Ground {
        let site = Site::new("cove".parse().unwrap(), code);
        Ground::of(&site, &Crs::for_site(code).unwrap())
    }

    fn fault(code: u32, easting_m: f64, northing_m: f64) -> String {
        ground(code).check(easting_m, northing_m).unwrap_err()
    }

    #[test]
    fn a_place_in_the_area_of_use_is_taken() {
        let ground = ground(25830);
        assert!(ground.check(480_000.0, 4_790_000.0).is_ok());
        // Some kilometres over the edge of the zone, where sites are kept in it all the same.
        assert!(ground.check(230_000.0, 4_790_000.0).is_ok());
    }

    #[test]
    fn degrees_are_seen_in_either_order_and_inside_the_box_too() {
        assert!(fault(25830, -2.9, 43.4).contains("longitude and latitude"));
        assert!(fault(25830, 43.4, -2.9).contains("longitude and latitude"));
        assert!(fault(2193, 174.8, -41.3).contains("longitude and latitude"));
        // The box around the British National Grid's area of use holds its own origin.
        assert!(fault(27700, -2.1, 50.6).contains("longitude and latitude"));
    }

    #[test]
    fn what_lies_elsewhere_is_named() {
        assert!(fault(25830, 4_790_000.0, 480_000.0).contains("swapped"));
        let outside = fault(25830, 480_000.0, 47_900_000.0);
        assert!(
            outside.contains("EPSG:25830") && outside.contains("ETRS89"),
            "{outside}"
        );
    }
}
