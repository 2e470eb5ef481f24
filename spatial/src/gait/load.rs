//! Where the load lay in a print, from the depths inside it.

use crate::angle::fold_deg;
use crate::model::DepthSample;
use serde::Serialize;

/// Said wherever a load is given.
pub const LOAD_CAUTION: &str = "Depth inside a print is made by the ground as well as by the load: wetness, slope, the \
    way in which the foot left, and what has worn off since. Take the load's direction as a hint where several prints agree.";

/// Which part of a foot pressed deepest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Load {
    /// From the print's axis to the side that deepens most, degrees, −180 to 180, to the right positive. `None`
    /// where the samples are fewer than three, in one line, or all of one depth.
    pub in_foot_deg: Option<f64>,
    /// The same from the direction of travel. `None` where the foot's azimuth or the travel is unknown too.
    pub against_travel_deg: Option<f64>,
    /// The same as an azimuth, degrees clockwise from the north that the print's azimuth has.
    pub azimuth_deg: Option<f64>,
    /// Mean depth before the print's centre over mean depth behind it. `None` where one of both was not
    /// sampled.
    pub fore_aft_ratio: Option<f64>,
    /// How many depths it rests on.
    pub n: usize,
}

impl Load {
    /// Reads the depths of a print; `None` where there is none. Depths that are not finite are passed over.
    ///
    /// # Formula
    /// The deepest side is the steepest way down the plane d = a + b·along + c·across that fits the depths
    /// best, atan2(c, b).
    ///
    /// # Units
    /// Degrees; the azimuth and the travel from the same north.
    #[must_use]
    pub fn of(samples: &[DepthSample], azimuth_deg: Option<f64>, travel_deg: Option<f64>) -> Option<Self> {
        let sound: Vec<DepthSample> = (samples.iter().copied())
            .filter(|s| s.along_m.is_finite() && s.across_m.is_finite() && s.depth_m.is_finite())
            .collect();
        if sound.is_empty() {
            return None;
        }
        let in_foot_deg = deepening_deg(&sound);
        let loaded_deg = in_foot_deg
            .zip(azimuth_deg)
            .map(|(turn, foot)| fold_deg(foot + turn));
        Some(Self {
            in_foot_deg,
            against_travel_deg: (loaded_deg.zip(travel_deg))
                .map(|(loaded, travel)| fold_deg(loaded - travel + 180.0) - 180.0),
            azimuth_deg: loaded_deg,
            fore_aft_ratio: fore_aft(&sound),
            n: sound.len(),
        })
    }
}

fn deepening_deg(samples: &[DepthSample]) -> Option<f64> {
    let count = samples.len() as f64;
    let mean = |part: fn(&DepthSample) -> f64| samples.iter().map(part).sum::<f64>() / count;
    let (along0, across0, depth0) = (mean(|s| s.along_m), mean(|s| s.across_m), mean(|s| s.depth_m));
    let [mut aa, mut ac, mut cc, mut ad, mut cd] = [0.0; 5];
    for sample in samples {
        let (a, c, d) = (
            sample.along_m - along0,
            sample.across_m - across0,
            sample.depth_m - depth0,
        );
        aa += a * a;
        ac += a * c;
        cc += c * c;
        ad += a * d;
        cd += c * d;
    }
    let determinant = aa * cc - ac * ac;
    // In one line, or all at one place: no plane.
    if determinant <= 1e-9 * aa * cc || determinant <= 0.0 {
        return None;
    }
    let (b, c) = (
        (ad * cc - cd * ac) / determinant,
        (cd * aa - ad * ac) / determinant,
    );
    // Steeper than one in a million, or the bottom is level.
    (b.hypot(c) > 1e-6).then(|| c.atan2(b).to_degrees())
}

fn fore_aft(samples: &[DepthSample]) -> Option<f64> {
    let mean = |wanted: fn(&DepthSample) -> bool| {
        let chosen: Vec<f64> = samples.iter().filter(|s| wanted(s)).map(|s| s.depth_m).collect();
        (!chosen.is_empty()).then(|| chosen.iter().sum::<f64>() / chosen.len() as f64)
    };
    let (fore, aft) = (mean(|s| s.along_m > 0.0)?, mean(|s| s.along_m < 0.0)?);
    let ratio = fore / aft;
    (aft > 0.0 && ratio.is_finite()).then_some(ratio)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(along_m: f64, across_m: f64, depth_m: f64) -> DepthSample {
        DepthSample {
            along_m,
            across_m,
            depth_m,
        }
    }

    #[test]
    fn deepest_at_the_right_front() {
        // By hand: depth rises by 0.1 a metre forwards and by 0.1 a metre to the right: 45 degrees right of the
        // axis.
        let samples = [
            (0.1, 0.0, 0.03),
            (-0.1, 0.0, 0.01),
            (0.0, 0.1, 0.03),
            (0.0, -0.1, 0.01),
        ];
        let samples = samples.map(|(a, c, d)| sample(a, c, d));
        let load = Load::of(&samples, Some(350.0), Some(10.0)).unwrap();
        assert!((load.in_foot_deg.unwrap() - 45.0).abs() < 1e-9);
        assert!((load.azimuth_deg.unwrap() - 35.0).abs() < 1e-9);
        assert!((load.against_travel_deg.unwrap() - 25.0).abs() < 1e-9);
        assert!((load.fore_aft_ratio.unwrap() - 3.0).abs() < 1e-9);
        assert_eq!(
            Load::of(&samples, None, Some(1.0)).unwrap().against_travel_deg,
            None
        );
    }

    #[test]
    fn level_or_lined_up_depths_have_no_direction() {
        let level = [
            sample(0.1, 0.0, 0.02),
            sample(-0.1, 0.0, 0.02),
            sample(0.0, 0.1, 0.02),
        ];
        let load = Load::of(&level, Some(0.0), Some(0.0)).unwrap();
        assert_eq!((load.in_foot_deg, load.fore_aft_ratio), (None, Some(1.0)));
        let lined = [
            sample(0.1, 0.0, 0.03),
            sample(0.0, 0.0, 0.02),
            sample(-0.1, 0.0, 0.0),
        ];
        let load = Load::of(&lined, None, None).unwrap();
        assert_eq!((load.in_foot_deg, load.fore_aft_ratio), (None, None));
        assert!(Load::of(&[], None, None).is_none());
        assert!(Load::of(&[sample(f64::NAN, 0.0, 0.1)], None, None).is_none());
    }
}
