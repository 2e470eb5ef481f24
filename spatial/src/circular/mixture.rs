//! Models of a sample of directions, fitted by maximum likelihood and weighed by BIC.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, TAU};

use serde::Serialize;

use super::bessel::ln_i0;
use super::{Directions, kappa};
use crate::angle::fold_deg;

/// κ at most: a spread of 2.6 degrees. No field azimuth is better known, and without a bound two equal
/// directions would make a mode of their own.
const MOST_KAPPA: f64 = 500.0;

/// Steps of expectation and maximisation at most.
const STEPS: usize = 200;

/// The steps end where none moves a mean, a weight or κ by more than this part.
const SETTLED: f64 = 1e-9;

/// Larger samples are counted in cells of half a degree before a mixture is fitted.
const CELLS_FROM: usize = 2_000;

/// A model of directions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Model {
    /// No direction is preferred.
    Uniform,
    /// One von Mises distribution.
    OneMode,
    /// Two opposite von Mises distributions of equal weight and κ.
    Axial,
    /// Two von Mises distributions of free means and weights and one κ.
    TwoModes,
}

/// A fitted model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelFit {
    /// Which model.
    pub model: Model,
    /// The natural logarithm of the likelihood, directions in radians.
    pub log_likelihood: f64,
    /// −2 ln L + (number of parameters) ln n; the least is best.
    pub bic: f64,
    /// The modes.
    pub modes_deg: Vec<f64>,
    /// The share of each mode.
    pub weights: Vec<f64>,
    /// Their κ, at most 500.
    pub kappa: f64,
}

/// Fits all models that the sample allows: two modes need three directions and a tenth of the sample each.
///
/// # Formula
/// von Mises density exp(κ cos(θ − μ)) / (2π I₀(κ)). Mixtures by expectation and maximisation; two modes from
/// several starts around the sample's own axis. BIC = −2 ln L + m ln n, m = 0, 2, 2, 4 parameters. Modes are those of
/// the sample's angles, so doubled for axes.
///
/// # References
/// Schwarz, G. (1978), Annals of Statistics 6, 461-464; Fisher, N. I. (1993), Statistical Analysis of Circular
/// Data, sections 4.6 (mixtures); Dempster, A. P. et al. (1977), Journal of the Royal Statistical Society B 39.
#[must_use]
pub fn fit(sample: &Directions) -> Vec<ModelFit> {
    if sample.n() == 0 {
        return Vec::new();
    }
    let cells = cells(sample.sorted_deg());
    let axial = axial(&cells);
    let two = two_modes(&cells, axial.means_rad[0]);
    let fits = [Some(uniform(&cells)), Some(one_mode(sample)), Some(axial), two];
    fits.into_iter()
        .flatten()
        .map(|fitted| fitted.written(sample.n()))
        .collect()
}

/// A direction and how many lie there.
struct Cell {
    azimuth_rad: f64,
    sine: f64,
    cosine: f64,
    count: f64,
}

impl Cell {
    fn new(azimuth_deg: f64, count: f64) -> Self {
        let azimuth_rad = azimuth_deg.to_radians();
        let (sine, cosine) = azimuth_rad.sin_cos();
        Self {
            azimuth_rad,
            sine,
            cosine,
            count,
        }
    }

    /// The cosine of the angle to the direction that has this sine and cosine.
    fn cosine_to(&self, (sine, cosine): (f64, f64)) -> f64 {
        self.cosine * cosine + self.sine * sine
    }
}

fn cells(sorted_deg: &[f64]) -> Vec<Cell> {
    if sorted_deg.len() < CELLS_FROM {
        return sorted_deg.iter().map(|deg| Cell::new(*deg, 1.0)).collect();
    }
    let cell_of = |deg: &f64| (2.0 * deg).floor();
    sorted_deg
        .chunk_by(|one, next| cell_of(one) == cell_of(next))
        .map(|members| {
            let count = members.len() as f64;
            Cell::new(members.iter().sum::<f64>() / count, count)
        })
        .collect()
}

/// A fit in radians.
struct Fitted {
    model: Model,
    means_rad: Vec<f64>,
    weights: Vec<f64>,
    kappa: f64,
    log_likelihood: f64,
}

impl Fitted {
    fn written(self, n: usize) -> ModelFit {
        let parameters = match self.model {
            Model::Uniform => 0.0,
            Model::OneMode | Model::Axial => 2.0,
            Model::TwoModes => 4.0,
        };
        ModelFit {
            model: self.model,
            log_likelihood: self.log_likelihood,
            bic: parameters * (n as f64).ln() - 2.0 * self.log_likelihood,
            modes_deg: self
                .means_rad
                .iter()
                .map(|mean| fold_deg(mean.to_degrees()))
                .collect(),
            weights: self.weights,
            kappa: self.kappa,
        }
    }
}

fn count(cells: &[Cell]) -> f64 {
    cells.iter().map(|cell| cell.count).sum()
}

fn uniform(cells: &[Cell]) -> Fitted {
    let log_likelihood = -count(cells) * TAU.ln();
    Fitted {
        model: Model::Uniform,
        means_rad: Vec::new(),
        weights: Vec::new(),
        kappa: 0.0,
        log_likelihood,
    }
}

fn bounded_kappa(r_bar: f64) -> f64 {
    kappa(1.0 - r_bar).unwrap_or(MOST_KAPPA).min(MOST_KAPPA)
}

fn one_mode(sample: &Directions) -> Fitted {
    let (n, r_bar) = (sample.n() as f64, sample.r_bar());
    let kappa = bounded_kappa(r_bar);
    Fitted {
        model: Model::OneMode,
        means_rad: vec![sample.mean_rad().unwrap_or(0.0)],
        weights: vec![1.0],
        kappa,
        log_likelihood: n * (kappa * r_bar - ln_i0(kappa) - TAU.ln()),
    }
}

/// Density cosh(κ cos(θ − μ)) / (2π I₀(κ)); a direction belongs to the near mode with odds e^(2κ cos).
fn axial(cells: &[Cell]) -> Fitted {
    let n = count(cells);
    let mut doubled = (0.0, 0.0);
    for cell in cells {
        let (sine, cosine) = (2.0 * cell.azimuth_rad).sin_cos();
        doubled = (doubled.0 + cell.count * sine, doubled.1 + cell.count * cosine);
    }
    let mut mean = 0.5 * doubled.0.atan2(doubled.1);
    let mut kappa = 1.0;
    for _ in 0..STEPS {
        let (mut sine, mut cosine) = (0.0, 0.0);
        let towards = mean.sin_cos();
        for cell in cells {
            let side = cell.count * (kappa * cell.cosine_to(towards)).tanh();
            sine += side * cell.sine;
            cosine += side * cell.cosine;
        }
        let before = (mean, kappa);
        mean = sine.atan2(cosine);
        kappa = bounded_kappa(sine.hypot(cosine) / n);
        if settled(before.0, mean) && settled(before.1, kappa) {
            break;
        }
    }
    let ln_cosh = |x: f64| x.abs() + (-2.0 * x.abs()).exp().ln_1p() - 2f64.ln();
    let fits = cells
        .iter()
        .map(|cell| cell.count * ln_cosh(kappa * (cell.azimuth_rad - mean).cos()));
    Fitted {
        model: Model::Axial,
        means_rad: vec![mean, mean + PI],
        weights: vec![0.5, 0.5],
        kappa,
        log_likelihood: fits.sum::<f64>() - n * (TAU.ln() + ln_i0(kappa)),
    }
}

/// The best of several starts around an axis; `None` where one of the modes is next to empty.
fn two_modes(cells: &[Cell], axis_rad: f64) -> Option<Fitted> {
    let starts = [
        [0.0, PI],
        [FRAC_PI_2, -FRAC_PI_2],
        [FRAC_PI_4, -FRAC_PI_4],
        [PI - FRAC_PI_4, PI + FRAC_PI_4],
        [0.0, FRAC_PI_2],
        [0.0, -FRAC_PI_2],
        [PI, FRAC_PI_2],
        [PI, -FRAC_PI_2],
    ];
    let n = count(cells);
    let least_weight = (3.0 / n).max(0.1);
    starts
        .into_iter()
        .map(|start| two_modes_from(cells, start.map(|turn| axis_rad + turn)))
        .filter(|fitted| fitted.weights.iter().all(|weight| *weight >= least_weight))
        .max_by(|one, other| one.log_likelihood.total_cmp(&other.log_likelihood))
}

fn two_modes_from(cells: &[Cell], start_rad: [f64; 2]) -> Fitted {
    let n = count(cells);
    let (mut means, mut weight, mut kappa) = (start_rad, 0.5, 2.0);
    for _ in 0..STEPS {
        let mut sums = [(0.0, 0.0); 2];
        let mut first_share = 0.0;
        let towards = means.map(f64::sin_cos);
        for cell in cells {
            let first = belongs_to_first(cell, towards, weight, kappa);
            first_share += cell.count * first;
            for (sum, share) in sums.iter_mut().zip([first, 1.0 - first]) {
                sum.0 += cell.count * share * cell.sine;
                sum.1 += cell.count * share * cell.cosine;
            }
        }
        let before = (means, weight, kappa);
        means = sums.map(|(sine, cosine)| sine.atan2(cosine));
        weight = first_share / n;
        kappa = bounded_kappa(sums.iter().map(|(sine, cosine)| sine.hypot(*cosine)).sum::<f64>() / n);
        let still = settled(before.0[0], means[0]) && settled(before.0[1], means[1]);
        if still && settled(before.1, weight) && settled(before.2, kappa) {
            break;
        }
    }
    let heights = cells.iter().map(|cell| {
        let [first, second] = means.map(|mean| (kappa * ((cell.azimuth_rad - mean).cos() - 1.0)).exp());
        cell.count
            * (weight * first + (1.0 - weight) * second)
                .max(f64::MIN_POSITIVE)
                .ln()
    });
    let log_likelihood = heights.sum::<f64>() + n * (kappa - ln_i0(kappa) - TAU.ln());
    Fitted {
        model: Model::TwoModes,
        means_rad: means.to_vec(),
        weights: vec![weight, 1.0 - weight],
        kappa,
        log_likelihood,
    }
}

/// Whether a step has moved a value by next to nothing.
fn settled(before: f64, now: f64) -> bool {
    (now - before).abs() <= SETTLED * now.abs().max(1.0)
}

fn belongs_to_first(cell: &Cell, means: [(f64, f64); 2], weight: f64, kappa: f64) -> f64 {
    let [first, second] = means.map(|mean| cell.cosine_to(mean));
    let odds_second = (1.0 - weight) / weight.max(f64::MIN_POSITIVE) * (kappa * (second - first)).exp();
    1.0 / (1.0 + odds_second)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn best(azimuths_deg: &[f64]) -> ModelFit {
        let fits = fit(&Directions::from_degrees(azimuths_deg).unwrap());
        fits.into_iter()
            .min_by(|one, other| one.bic.total_cmp(&other.bic))
            .unwrap()
    }

    #[test]
    fn each_model_fits_its_own_kind_best() {
        let offsets = [-25.0, -17.0, -11.0, -6.0, -2.0, 1.0, 5.0, 12.0, 16.0, 27.0];
        let around = |modes_deg: &[f64]| -> Vec<f64> {
            modes_deg
                .iter()
                .flat_map(|mode| offsets.map(|offset| mode + offset))
                .collect()
        };
        assert_eq!(best(&around(&[350.0])).model, Model::OneMode);
        assert_eq!(best(&around(&[20.0, 200.0])).model, Model::Axial);
        let two = best(&around(&[20.0, 120.0]));
        assert_eq!(two.model, Model::TwoModes);
        let mut modes = two.modes_deg.clone();
        modes.sort_by(f64::total_cmp);
        assert!(
            (modes[0] - 20.0).abs() < 3.0 && (modes[1] - 120.0).abs() < 3.0,
            "{modes:?}"
        );
        let even: Vec<f64> = (0..30).map(|k| 12.0 * f64::from(k)).collect();
        assert_eq!(best(&even).model, Model::Uniform);
    }

    #[test]
    fn equal_directions_and_single_ones_stay_finite() {
        for azimuths in [
            vec![40.0; 6],
            vec![40.0],
            vec![0.0, 180.0],
            vec![0.0, 90.0, 180.0, 270.0],
        ] {
            for fitted in fit(&Directions::from_degrees(&azimuths).unwrap()) {
                assert!(
                    fitted.bic.is_finite() && fitted.kappa.is_finite(),
                    "{azimuths:?}: {fitted:?}"
                );
            }
        }
        assert!(fit(&Directions::from_degrees(&[]).unwrap()).is_empty());
    }

    #[test]
    fn cells_change_little() {
        let azimuths: Vec<f64> = (0..3000).map(|k| 40.0 + 0.03 * f64::from(k % 1000)).collect();
        let sample = Directions::from_degrees(&azimuths).unwrap();
        let whole: Vec<Cell> = sample
            .sorted_deg()
            .iter()
            .map(|deg| Cell::new(*deg, 1.0))
            .collect();
        let (coarse, fine) = (axial(&cells(sample.sorted_deg())), axial(&whole));
        assert!((coarse.log_likelihood / fine.log_likelihood - 1.0).abs() < 1e-3);
    }
}
