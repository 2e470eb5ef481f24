//! A sample of directions or axes, checked once and kept sorted.

use std::f64::consts::TAU;

use rayon::prelude::*;

use super::CircularError;
use crate::angle::fold_deg;

/// How many directions are summed together. Fixed, so that sums are the same on any number of cores.
const BLOCK: usize = 4096;

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
        let mut sorted_deg: Vec<f64> = azimuths_deg
            .iter()
            .map(|azimuth_deg| match kind {
                Kind::Directions => fold_deg(*azimuth_deg),
                Kind::Axes => fold_deg(2.0 * fold_deg(*azimuth_deg)),
            })
            .collect();
        sorted_deg.par_sort_unstable_by(f64::total_cmp);
        let moments = moments(&sorted_deg);
        let variance = variance(&sorted_deg, &moments);
        let all_equal = !sorted_deg.is_empty() && variance <= ROUNDING_VARIANCE;
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
    for azimuth_deg in block_deg {
        let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
        sums.cosine += cosine;
        sums.sine += sine;
        sums.cosine_2 += 1.0 - 2.0 * sine * sine;
        sums.sine_2 += 2.0 * sine * cosine;
    }
    sums
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
    fn opposite_directions_have_no_mean() {
        let sample = Directions::from_degrees(&[10.0, 190.0]).unwrap();
        assert_eq!(sample.mean_rad(), None);
        assert!(sample.r_bar() < 1e-15);
    }
}
