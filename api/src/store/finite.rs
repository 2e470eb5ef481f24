//! No number that is not finite gets in: a database may store NaN as unknown, or compare it as no number does.

use super::StoreError;
use geo::CoordsIter;
use spatial::model::{ControlPoint, Extent, LocalGrid, Print, Similarity, Site, Surface, Trackway};

/// A record whose numbers can be checked.
pub(super) trait Finite {
    /// What it is called in a message, as in `print P014`.
    fn called(&self) -> String;
    /// Whether every number in it is finite.
    fn is_finite(&self) -> bool;
}

/// Checks records in order.
///
/// # Errors
/// [`StoreError::NotFinite`] with the first that has such a number.
pub(super) fn check_all<'r, R: Finite + 'r>(
    records: impl IntoIterator<Item = &'r R>,
) -> Result<(), StoreError> {
    match records.into_iter().find(|record| !record.is_finite()) {
        Some(record) => Err(StoreError::NotFinite(record.called())),
        None => Ok(()),
    }
}

impl Finite for Print {
    fn called(&self) -> String {
        format!("print {}", self.label)
    }

    fn is_finite(&self) -> bool {
        let required = [self.easting_m, self.northing_m, self.length_m];
        let optional = [
            self.elevation_m,
            self.position_sd_m,
            self.width_m,
            self.depth_m,
            self.azimuth_deg,
            self.azimuth_sd_deg,
            self.preservation.map(f64::from),
        ];
        let samples = self.remarks.iter().flat_map(|remarks| &remarks.depth_samples);
        required
            .into_iter()
            .chain(optional.into_iter().flatten())
            .all(f64::is_finite)
            && samples
                .flat_map(|sample| [sample.along_m, sample.across_m, sample.depth_m])
                .all(f64::is_finite)
    }
}

impl Finite for Site {
    fn called(&self) -> String {
        format!("site {}", self.slug)
    }

    fn is_finite(&self) -> bool {
        self.local_grid.iter().all(|grid| {
            let LocalGrid {
                similarity: s,
                rms_m,
                tolerance_m,
                control,
            } = grid;
            let Similarity {
                east_shift_m,
                north_shift_m,
                scale,
                rotation_deg,
            } = s;
            [
                east_shift_m,
                north_shift_m,
                scale,
                rotation_deg,
                rms_m,
                tolerance_m,
            ]
            .into_iter()
            .all(|number| number.is_finite())
                && control.iter().all(is_finite)
        })
    }
}

fn is_finite(point: &ControlPoint) -> bool {
    [
        point.local_x_m,
        point.local_y_m,
        point.easting_m,
        point.northing_m,
    ]
    .into_iter()
    .all(f64::is_finite)
}

impl Finite for Surface {
    fn called(&self) -> String {
        format!("surface {}", self.label)
    }

    fn is_finite(&self) -> bool {
        [self.strike_deg, self.dip_deg]
            .into_iter()
            .flatten()
            .all(f64::is_finite)
    }
}

impl Finite for Extent {
    fn called(&self) -> String {
        format!("extent {}", self.label)
    }

    fn is_finite(&self) -> bool {
        self.polygon
            .coords_iter()
            .all(|corner| corner.x.is_finite() && corner.y.is_finite())
    }
}

impl Finite for Trackway {
    fn called(&self) -> String {
        format!("trackway {}", self.label)
    }

    fn is_finite(&self) -> bool {
        self.probability.is_none_or(f64::is_finite)
    }
}
