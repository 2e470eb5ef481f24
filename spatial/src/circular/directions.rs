//! A sample of directions or axes, checked once and kept sorted.

use std::f64::consts::TAU;

use rayon::prelude::*;

use super::CircularError;
use super::sorting::sort_around;
use crate::angle::fold_deg;

/// How many directions are summed together. Fixed, so that sums are the same on any number of cores.
const BLOCK: usize = 4096;

/// Neighbours that may share one sine, if they lie close enough.
const RUN: usize = 64;

/// How close: deviations up to 0.0009 radians.
const NARROW_DEG: f64 = 0.05;

/// Below this circular variance all directions count as equal: it is what rounding alone makes of them.
const ROUNDING_VARIANCE: f64 = 1e-28;

/// Whether a sample's members have a head and a tail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Directions: 0 to 360 degrees.
    Directions,
    /// Axes, 0 to 180 degrees, such as a ripple crest or a trackway of unknown sense. They are doubled for
    /// all statistics; means and spreads are halved again.
    Axes,
}

/// A sample of directions, sorted, with its sums.
///
/// # Formula
/// C = Σ cos θ, S = Σ sin θ, R̄ = √(C² + S²) / n, θ̄ = atan2(S, C). The variance is summed as
/// 1 − R̄ = (2/n) Σ sin²((θ − θ̄)/2), which loses no digits where R̄ is near 1. Axes are doubled first.
///
/// # References
/// Fisher, N. I. (1993), Statistical Analysis of Circular Data, sections 2.3 and 2.4.
#[derive(Debug, Clone)]
pub struct Directions {
    kind: Kind,
    sorted_deg: Vec<f64>,
    moments: Moments,
    variance: f64,
    all_equal: bool,
}

/// Sums over the sample.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    cosine: f64,
    sine: f64,
    cosine_2: f64,
    sine_2: f64,
}

impl Directions {
    /// A sample of directions, in any order and any turn of the circle. It may be empty.
    ///
    /// # Units
    /// Degrees.
    ///
    /// # Errors
    /// [`CircularError::NotFinite`] names the first direction that is not a number.
    pub fn from_degrees(azimuths_deg: &[f64]) -> Result<Self, CircularError> {
        Self::new(azimuths_deg, Kind::Directions)
    }

    /// A sample of axes, each given by either of its two ends.
    ///
    /// # Units
    /// Degrees.
    ///
    /// # Errors
    /// [`CircularError::NotFinite`] names the first axis that is not a number.
    pub fn axes_from_degrees(azimuths_deg: &[f64]) -> Result<Self, CircularError> {
        Self::new(azimuths_deg, Kind::Axes)
    }

    fn new(azimuths_deg: &[f64], kind: Kind) -> Result<Self, CircularError> {
        if let Some(position) = azimuths_deg.iter().position(|azimuth| !azimuth.is_finite()) {
            let value = azimuths_deg[position];
            return Err(CircularError::NotFinite { position, value });
        }
        let folded_deg = azimuths_deg.iter().map(|azimuth_deg| match kind {
            Kind::Directions => fold_quickly_deg(*azimuth_deg),
            Kind::Axes => fold_quickly_deg(2.0 * fold_quickly_deg(*azimuth_deg)),
        });
        let sorted_deg = sort_around(folded_deg.collect());
        let moments = moments(&sorted_deg);
        let variance = variance(&sorted_deg, &moments);
        let all_equal = !sorted_deg.is_empty() && variance <= ROUNDING_VARIANCE;
        let variance = if all_equal { 0.0 } else { variance };
        Ok(Self {
            kind,
            sorted_deg,
            moments,
            variance,
            all_equal,
        })
    }

    /// How many there are.
    #[must_use]
    pub fn n(&self) -> usize {
        self.sorted_deg.len()
    }

    /// Directions or axes.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// True if there is at least one and all are equal, but for rounding.
    #[must_use]
    pub fn all_equal(&self) -> bool {
        self.all_equal
    }

    /// The sample with all its angles doubled once more, as directions: opposite modes fall together.
    pub(super) fn doubled(&self) -> Self {
        let doubled_deg: Vec<f64> = self
            .sorted_deg
            .iter()
            .map(|azimuth_deg| 2.0 * azimuth_deg)
            .collect();
        Self::from_degrees(&doubled_deg).expect("twice a folded angle is finite")
    }

    /// The directions, 0 to 360 degrees, ascending; axes doubled.
    pub(super) fn sorted_deg(&self) -> &[f64] {
        &self.sorted_deg
    }

    /// The circular variance 1 − R̄; 0 for an empty sample.
    pub(super) fn variance(&self) -> f64 {
        self.variance
    }

    /// The mean resultant length R̄, 0 to 1; 0 for an empty sample.
    pub(super) fn r_bar(&self) -> f64 {
        if self.sorted_deg.is_empty() {
            0.0
        } else {
            (1.0 - self.variance).clamp(0.0, 1.0)
        }
    }

    /// Σ cos θ and Σ sin θ; axes doubled.
    pub(super) fn resultant(&self) -> (f64, f64) {
        (self.moments.cosine, self.moments.sine)
    }

    /// The mean in radians, axes doubled; `None` where the resultant is no longer than rounding makes it.
    pub(super) fn mean_rad(&self) -> Option<f64> {
        let (cosine, sine) = self.resultant();
        let rounding = 1e-12 * self.n() as f64;
        (sine.hypot(cosine) > rounding).then(|| sine.atan2(cosine).rem_euclid(TAU))
    }

    /// The mean cosine of twice the deviation from a direction in radians.
    pub(super) fn second_moment_about(&self, mean_rad: f64) -> f64 {
        let (sine, cosine) = (2.0 * mean_rad).sin_cos();
        (self.moments.cosine_2 * cosine + self.moments.sine_2 * sine) / self.n() as f64
    }
}

fn moments(sorted_deg: &[f64]) -> Moments {
    let blocks: Vec<Moments> = sorted_deg.par_chunks(BLOCK).map(block_moments).collect();
    blocks.iter().fold(Moments::default(), |all, block| Moments {
        cosine: all.cosine + block.cosine,
        sine: all.sine + block.sine,
        cosine_2: all.cosine_2 + block.cosine_2,
        sine_2: all.sine_2 + block.sine_2,
    })
}

fn block_moments(block_deg: &[f64]) -> Moments {
    let mut sums = Moments::default();
    for run_deg in block_deg.chunks(RUN) {
        if run_deg.len() == RUN && run_deg[RUN - 1] - run_deg[0] < NARROW_DEG {
            sums.add_narrow(run_deg);
        } else {
            run_deg.iter().for_each(|azimuth_deg| sums.add(*azimuth_deg));
        }
    }
    sums
}

impl Moments {
    fn add(&mut self, azimuth_deg: f64) {
        let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
        self.cosine += cosine;
        self.sine += sine;
        self.cosine_2 += 1.0 - 2.0 * sine * sine;
        self.sine_2 += 2.0 * sine * cosine;
    }

    /// Adds a narrow run by the power sums of its deviations d from its middle: Σ cos d = n − Σd²/2 + Σd⁴/24,
    /// Σ sin d = Σd − Σd³/6. The next terms are below 1e-15, and one sine serves the whole run.
    fn add_narrow(&mut self, run_deg: &[f64]) {
        let middle_deg = run_deg[run_deg.len() / 2];
        let mut powers = [0.0; 4];
        for azimuth_deg in run_deg {
            let deviation = (azimuth_deg - middle_deg).to_radians();
            let square = deviation * deviation;
            powers[0] += deviation;
            powers[1] += square;
            powers[2] += square * deviation;
            powers[3] += square * square;
        }
        let turned = |turns: f64| {
            let (sine, cosine) = (turns * middle_deg.to_radians()).sin_cos();
            let cosines =
                run_deg.len() as f64 - turns.powi(2) * powers[1] / 2.0 + turns.powi(4) * powers[3] / 24.0;
            let sines = turns * powers[0] - turns.powi(3) * powers[2] / 6.0;
            (cosine * cosines - sine * sines, sine * cosines + cosine * sines)
        };
        let ((cosine, sine), (cosine_2, sine_2)) = (turned(1.0), turned(2.0));
        self.cosine += cosine;
        self.sine += sine;
        self.cosine_2 += cosine_2;
        self.sine_2 += sine_2;
    }
}

/// [`fold_deg`] without a division where one turn at most is to be added.
fn fold_quickly_deg(azimuth_deg: f64) -> f64 {
    if (0.0..360.0).contains(&azimuth_deg) {
        // Adding zero makes a negative zero positive, so that it does not sort apart.
        azimuth_deg + 0.0
    } else if azimuth_deg > -360.0 && azimuth_deg < -1e-9 {
        azimuth_deg + 360.0
    } else {
        fold_deg(azimuth_deg) + 0.0
    }
}

fn variance(sorted_deg: &[f64], moments: &Moments) -> f64 {
    if sorted_deg.is_empty() {
        return 0.0;
    }
    let n = sorted_deg.len() as f64;
    let r_bar = moments.sine.hypot(moments.cosine) / n;
    // Away from 1 the plain difference has all its digits, and a second pass would only cost time.
    if r_bar < 0.9 {
        return 1.0 - r_bar;
    }
    let mean_rad = moments.sine.atan2(moments.cosine);
    let blocks: Vec<f64> = sorted_deg
        .par_chunks(BLOCK)
        .map(|block| {
            let half_sines = block
                .iter()
                .map(|deg| (0.5 * (deg.to_radians() - mean_rad)).sin());
            half_sines.map(|half_sine| half_sine * half_sine).sum()
        })
        .collect();
    2.0 * blocks.iter().sum::<f64>() / n
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_direction_that_is_no_number_is_named() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            let refused = Directions::from_degrees(&[10.0, bad, f64::NAN]);
            assert!(matches!(
                refused,
                Err(CircularError::NotFinite { position: 1, .. })
            ));
        }
    }

    #[test]
    fn an_axis_may_be_given_by_either_end() {
        let ends = Directions::axes_from_degrees(&[10.0, 190.0, 370.0]).unwrap();
        assert!(ends.all_equal());
        assert_eq!(ends.n(), 3);
    }

    #[test]
    fn a_narrow_sample_keeps_its_variance() {
        // Two directions a millionth of a degree apart: 1 - cos(half a millionth), by its series.
        let sample = Directions::from_degrees(&[90.0, 90.000_001]).unwrap();
        let half_rad = 0.5e-6f64.to_radians();
        assert!((sample.variance() / (half_rad * half_rad / 2.0) - 1.0).abs() < 1e-6);
        assert!(!sample.all_equal());
    }

    #[test]
    fn narrow_runs_sum_like_single_directions() {
        let azimuths: Vec<f64> = (0..9_000).map(|k| 77.0 + 0.000_7 * f64::from(k)).collect();
        let together = Directions::from_degrees(&azimuths).unwrap();
        let mut single = Moments::default();
        azimuths.iter().for_each(|azimuth_deg| single.add(*azimuth_deg));
        let sums = together.moments;
        for (one, other) in [
            (sums.cosine, single.cosine),
            (sums.sine, single.sine),
            (sums.cosine_2, single.cosine_2),
            (sums.sine_2, single.sine_2),
        ] {
            assert!((one / other - 1.0).abs() < 1e-13, "{one} beside {other}");
        }
    }

    #[test]
    fn opposite_directions_have_no_mean() {
        let sample = Directions::from_degrees(&[10.0, 190.0]).unwrap();
        assert_eq!(sample.mean_rad(), None);
        assert!(sample.r_bar() < 1e-15);
    }
}
