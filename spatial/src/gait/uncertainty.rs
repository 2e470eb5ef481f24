//! How sure a speed is.

use super::hip::HipHeight;
use super::row::{Row, between, length_m};
use super::speed::ln_speed;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// The standard deviation that errors of position give to the mean stride, metres.
///
/// # Formula
/// To first order: each print's gradient of the mean is the sum of the unit vectors of the strides that end
/// there less those that begin there, over the number of strides; the variance is Σ σ² |gradient|². Prints
/// inside the row cancel for a straight path, so many strides make the mean sure.
pub(super) fn mean_stride_sd_m(row: &Row, default_sd_m: f64) -> f64 {
    let mut gradients = vec![[0.0f64; 2]; row.len()];
    let mut strides = 0.0;
    for to in 0..row.len() {
        let Some(from) = row.stride_from(to) else { continue };
        let way = between(row.at_m[from], row.at_m[to]);
        let length = length_m(way);
        strides += 1.0;
        for axis in 0..2 {
            gradients[to][axis] += way[axis] / length;
            gradients[from][axis] -= way[axis] / length;
        }
    }
    let sound = |sd: &f64| sd.is_finite() && *sd >= 0.0;
    let variance: f64 = (row.prints.iter().zip(&gradients))
        .map(|(placed, gradient)| {
            let sd = placed.print.position_sd_m.filter(sound).unwrap_or(default_sd_m);
            (sd * length_m(*gradient)).powi(2)
        })
        .sum();
    variance.sqrt() / f64::max(strides, 1.0)
}

/// The middle 95 % of speeds drawn with log-normal stride and hip height, so that neither can fall below zero.
///
/// Each draw takes the formula that its own λ/h asks for, so near λ/h = 2.9 the interval holds speeds of both.
/// `None` without draws, or where stride or hip height make no sense.
///
/// # Units
/// Metres and metres a second; `stride` is the mean and its standard deviation.
#[must_use]
pub fn speed_interval_m_s(stride: (f64, f64), hip: &HipHeight, draws: usize, seed: u64) -> Option<[f64; 2]> {
    let last = draws.checked_sub(1)?;
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let stride_spread = log_sd(stride.0, stride.1);
    let hip_spread = log_sd(hip.height_m, hip.sd_m);
    let (ln_stride, ln_hip) = (stride.0.ln(), hip.height_m.ln());
    let mut standard = || -> f64 { StandardNormal.sample(&mut random) };
    let mut ln_speeds: Vec<f64> = (0..draws)
        .map(|_| {
            ln_speed(
                ln_stride + stride_spread * standard(),
                ln_hip + hip_spread * standard(),
            )
        })
        .collect();
    let mut quantile = |part: f64| {
        let place = (part * last as f64).round() as usize;
        ln_speeds.select_nth_unstable_by(place, f64::total_cmp).1.exp()
    };
    let interval = [quantile(0.025), quantile(0.975)];
    interval.iter().all(|end| end.is_finite()).then_some(interval)
}

/// The spread of the logarithm of a log-normal quantity with this mean and standard deviation.
fn log_sd(mean: f64, sd: f64) -> f64 {
    (1.0 + (sd / mean).powi(2)).ln().sqrt()
}

#[cfg(test)]
mod tests {
    use super::super::{speed::Motion, summary::Summary};
    use super::*;

    fn hip(height_m: f64, sd_m: f64) -> HipHeight {
        HipHeight {
            height_m,
            sd_m,
            ratio: None,
            source: "",
        }
    }

    #[test]
    fn far_from_a_run_the_draws_agree_with_the_formula() {
        // Alexander's formula is a product of powers, so ln v is normal: sd² = (1.67 s_λ)² + (1.17 s_h)².
        let interval = speed_interval_m_s((1.2, 0.06), &hip(1.0, 0.1), 100_000, 5).unwrap();
        let spread = (1.67 * log_sd(1.2, 0.06)).hypot(1.17 * log_sd(1.0, 0.1));
        let middle = Motion::of(1.2, 1.0).unwrap().speed_m_s;
        for (end, sign) in interval.iter().zip([-1.0, 1.0]) {
            let exact = middle * (sign * 1.959_964 * spread).exp();
            assert!((end / exact - 1.0).abs() < 0.01, "{end} {exact}");
        }
    }

    #[test]
    fn errors_of_position_as_by_moving_the_prints() {
        use crate::gait::Placed;
        use crate::model::{Limb, Print};
        // A walk with a bend, every print moved by 2 cm in each axis, 20,000 times.
        let prints: Vec<Print> = (0..9)
            .map(|no| {
                let (along, off) = (0.6 * f64::from(no), if no % 2 == 0 { -0.1 } else { 0.1 });
                let label = format!("P{no}").parse().unwrap();
                Print::new(label, off + 0.05 * along * along, along, 0.3)
            })
            .collect();
        let placed: Vec<Placed> = prints.iter().map(Placed::from).collect();
        let mut row = Row::of(Limb::Pes, placed.iter().enumerate(), 1.0, &mut Vec::new());
        let first_order = mean_stride_sd_m(&row, 0.02);
        let still = row.at_m.clone();
        let mut random = ChaCha8Rng::seed_from_u64(11);
        let means: Vec<f64> = (0..20_000)
            .map(|_| {
                for (at, [east, north]) in row.at_m.iter_mut().zip(&still) {
                    let mut error = || -> f64 { StandardNormal.sample(&mut random) };
                    *at = [east + 0.02 * error(), north + 0.02 * error()];
                }
                (2..9).filter_map(|to| row.stride_m(to)).sum::<f64>() / 7.0
            })
            .collect();
        let drawn = Summary::of(means.iter().copied()).sd.unwrap();
        assert!((first_order / drawn - 1.0).abs() < 0.02, "{first_order} {drawn}");
    }

    #[test]
    fn what_is_exactly_known_has_no_width() {
        let [low, high] = speed_interval_m_s((1.2, 0.0), &hip(1.0, 0.0), 100, 1).unwrap();
        assert_eq!(low, high);
        assert_eq!(speed_interval_m_s((1.2, 0.0), &hip(1.0, 0.0), 0, 1), None);
    }

    #[test]
    fn the_same_seed_gives_the_same_interval() {
        let of = |seed| speed_interval_m_s((1.2, 0.1), &hip(1.0, 0.1), 500, seed);
        assert_eq!(of(3), of(3));
        assert_ne!(of(3), of(4));
    }
}
