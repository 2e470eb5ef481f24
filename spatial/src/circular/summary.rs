//! The summary of a sample of directions.

use serde::Serialize;

use super::{CircularError, Directions, Kind, MeanInterval, kappa, kappa_corrected, mean_interval};

/// Mean, spread and concentration of a sample. What cannot be given is `None`, and `notes` says why.
///
/// # Units
/// Degrees; `r_bar`, `circular_variance` and the two κ have none. For axes R̄, variance and κ are those of the
/// doubled angles, while means, interval and deviations are halved back to axes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// How many directions.
    pub n: usize,
    /// The mean direction, 0 to 360, or the mean axis, 0 to 180.
    pub mean_deg: Option<f64>,
    /// The mean resultant length R̄, 0 to 1.
    pub r_bar: Option<f64>,
    /// 1 − R̄.
    pub circular_variance: Option<f64>,
    /// √(−2 ln R̄).
    pub circular_sd_deg: Option<f64>,
    /// √(2 (1 − R̄)), which never passes 81 degrees.
    pub angular_deviation_deg: Option<f64>,
    /// κ by maximum likelihood.
    pub kappa: Option<f64>,
    /// κ corrected for the bias of small samples.
    pub kappa_corrected: Option<f64>,
    /// The 95 % interval of the mean: from, to, clockwise. It may pass north.
    pub mean_ci_deg: Option<[f64; 2]>,
    /// How the interval was found.
    pub mean_ci_method: Option<&'static str>,
    /// Why something is missing, a sentence each.
    pub notes: Vec<String>,
}

/// Summarises a sample of any size, the empty one included.
///
/// # Formula
/// Circular variance 1 − R̄, circular standard deviation √(−2 ln R̄), angular deviation √(2 (1 − R̄)).
/// Some programs give the name "standard deviation" to the last, or "variance" to 2 (1 − R̄).
///
/// # Examples
/// ```
/// use spatial::circular::{Directions, summary};
/// // Zar, Biostatistical Analysis, data of example 26.4.
/// let sample = Directions::from_degrees(&[45.0, 55.0, 81.0, 96.0, 110.0, 117.0, 132.0, 154.0])?;
/// let summary = summary(&sample);
/// assert!((summary.mean_deg.unwrap() - 98.987752).abs() < 1e-6);
/// assert!((summary.circular_sd_deg.unwrap() - 35.514880).abs() < 1e-6);
/// # Ok::<(), spatial::circular::CircularError>(())
/// ```
///
/// # References
/// Fisher, N. I. (1993), Statistical Analysis of Circular Data, sections 2.3 and 4.5.5; Batschelet, E.
/// (1981), Circular Statistics in Biology, section 2.3 (angular deviation).
#[must_use]
pub fn summary(sample: &Directions) -> Summary {
    let n = sample.n();
    let fold = if sample.kind() == Kind::Axes { 0.5 } else { 1.0 };
    let (variance, r_bar) = (sample.variance(), sample.r_bar());
    let some = |value: f64| (n > 0).then_some(value);
    let mean_rad = sample.mean_rad();
    let one = (n < 2).then_some(CircularError::TooFew { n, least: 2 });
    let kappa = if one.is_some() { None } else { kappa(variance) };
    let interval = mean_interval(sample);
    Summary {
        n,
        mean_deg: mean_rad.map(|mean| crate::angle::fold_deg(mean.to_degrees()) * fold),
        r_bar: some(r_bar),
        circular_variance: some(variance),
        circular_sd_deg: mean_rad.map(|_| fold * (-2.0 * (-variance).ln_1p()).max(0.0).sqrt().to_degrees()),
        angular_deviation_deg: some(fold * (2.0 * variance).sqrt().to_degrees()),
        kappa,
        kappa_corrected: kappa.map(|kappa| kappa_corrected(kappa, n)),
        mean_ci_deg: interval.as_ref().ok().map(|interval| interval.degrees),
        mean_ci_method: interval.as_ref().ok().map(|interval| interval.method),
        notes: notes(sample, &interval),
    }
}

fn notes(sample: &Directions, interval: &Result<MeanInterval, CircularError>) -> Vec<String> {
    let mut notes = Vec::new();
    let n = sample.n();
    if n == 0 {
        notes.push("no directions".to_owned());
    } else if sample.mean_rad().is_none() {
        notes.push("mean_deg and circular_sd_deg: the directions cancel, so there is no mean".to_owned());
    }
    if n == 1 {
        notes.push("kappa: one direction has no spread to measure".to_owned());
    } else if sample.all_equal() {
        notes.push("kappa: all directions are equal, so it is infinite".to_owned());
    }
    if let Err(why) = interval {
        notes.push(format!("mean_ci_deg: {why}"));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_one_and_two_directions() {
        let none = summary(&Directions::from_degrees(&[]).unwrap());
        assert_eq!(
            (none.n, none.mean_deg, none.r_bar, none.kappa),
            (0, None, None, None)
        );
        let one = summary(&Directions::from_degrees(&[370.0]).unwrap());
        assert!((one.mean_deg.unwrap() - 10.0).abs() < 1e-12);
        assert_eq!((one.r_bar, one.kappa, one.mean_ci_deg), (Some(1.0), None, None));
        let two = summary(&Directions::from_degrees(&[350.0, 10.0]).unwrap());
        assert!(two.mean_deg.unwrap().min(360.0 - two.mean_deg.unwrap()) < 1e-9);
        assert!(two.kappa.unwrap() > 30.0);
        assert_eq!(two.mean_ci_deg, None);
    }

    #[test]
    fn equal_directions_have_no_finite_kappa() {
        let equal = summary(&Directions::from_degrees(&[123.4; 7]).unwrap());
        assert!((equal.mean_deg.unwrap() - 123.4).abs() < 1e-9);
        assert!(equal.circular_sd_deg.unwrap() < 1e-9);
        assert_eq!(
            (equal.kappa, equal.kappa_corrected, equal.mean_ci_deg),
            (None, None, None)
        );
        assert!(equal.notes.iter().any(|note| note.contains("infinite")));
    }

    #[test]
    fn cancelling_directions_have_no_mean_but_a_kappa_of_zero() {
        let cross = summary(&Directions::from_degrees(&[0.0, 90.0, 180.0, 270.0]).unwrap());
        assert_eq!((cross.mean_deg, cross.circular_sd_deg), (None, None));
        assert!(cross.kappa.unwrap() < 1e-12);
        assert!((cross.circular_variance.unwrap() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn axes_are_doubled_and_halved() {
        let axes = summary(&Directions::axes_from_degrees(&[5.0, 175.0, 185.0, 355.0]).unwrap());
        let mean_deg = axes.mean_deg.unwrap();
        assert!(mean_deg.min(180.0 - mean_deg) < 1e-9);
        // The doubled angles are 10 degrees from north.
        assert!((axes.r_bar.unwrap() - 10f64.to_radians().cos()).abs() < 1e-12);
        let doubled = summary(&Directions::from_degrees(&[10.0, 350.0, 10.0, 350.0]).unwrap());
        assert!((axes.circular_sd_deg.unwrap() * 2.0 - doubled.circular_sd_deg.unwrap()).abs() < 1e-9);
    }
}
