//! Breeds: kinds of animals drawn anew for each surface from the ranges that the trade has published.

use super::walker::{Manus, Walker, any_side, normal};
use rand::{Rng, RngExt};
use std::sync::Arc;

/// A kind of animal as one surface has it. Lengths are in pes lengths.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Breed {
    /// The name under which the field party records it.
    pub morphotype: Arc<str>,
    /// Typical pes length, metres.
    pub foot_length_m: f64,
    width_ratio: f64,
    hip_ratio: f64,
    gauge_ratio: f64,
    rotation_rad: f64,
    relative_stride: f64,
    /// The fore feet, if they touch the ground: length over pes length, offset ahead and offset outward.
    manus: Option<[f64; 3]>,
}

/// Relative strides that are known of trackways, from a slow walk to a run (Thulborn 1990; from memory).
const RELATIVE_STRIDES: [f64; 2] = [0.7, 3.5];

impl Breed {
    /// Draws a kind. Hip heights of 3.5 to 6 pes lengths (Alexander 1976; Thulborn & Wade 1984); gauges from
    /// narrow, where the feet stand in one line, to wide (common practice).
    pub fn any<R: Rng + ?Sized>(rng: &mut R, number: usize) -> Self {
        let is_biped = rng.random_bool(0.55);
        let mut within = |low: f64, high: f64| rng.random_range(low..high);
        let (smallest, largest) = if is_biped { (0.1, 0.6) } else { (0.14f64, 0.75f64) };
        let foot_length_m = within(f64::ln(smallest), f64::ln(largest)).exp();
        let (hip_ratio, gauge_ratio, relative_stride) = if is_biped {
            (within(3.8, 5.6), within(0.0, 0.7), within(1.0, 1.7))
        } else {
            (within(3.5, 6.0), within(0.4, 1.5), within(0.8, 1.3))
        };
        let rotation_deg = if is_biped {
            within(-12.0, 8.0)
        } else {
            within(0.0, 30.0)
        };
        let manus = [within(0.4, 0.9), within(0.3, 1.5), within(-0.2, 0.35)];
        Self {
            morphotype: format!("kind-{number}").into(),
            foot_length_m,
            width_ratio: within(0.55, 1.0),
            hip_ratio,
            gauge_ratio,
            rotation_rad: rotation_deg.to_radians(),
            relative_stride,
            manus: (!is_biped).then_some(manus),
        }
    }

    /// One animal of the kind, as fast as it happens to go: one biped in eight runs.
    pub fn individual<R: Rng + ?Sized>(&self, rng: &mut R) -> Walker {
        let runs = self.manus.is_none() && rng.random_bool(0.12);
        let relative_stride = if runs {
            rng.random_range(2.2..RELATIVE_STRIDES[1])
        } else {
            self.relative_stride * normal(rng, 0.15).exp()
        };
        let mut varied = |typical: f64, sd: f64| typical * normal(rng, sd).exp();
        let foot_length_m = varied(self.foot_length_m, 0.15);
        let relative_stride = relative_stride.clamp(RELATIVE_STRIDES[0], RELATIVE_STRIDES[1]);
        let manus = self.manus.map(|[length, ahead, outward]| Manus {
            length_ratio: varied(length, 0.04),
            width_ratio: varied(1.1, 0.05),
            ahead_m: foot_length_m * varied(ahead, 0.10),
            outward_m: foot_length_m * outward,
            rotation_rad: varied(0.35, 0.2),
            sd_m: foot_length_m * varied(0.08, 0.3),
        });
        // Whoever runs sets one foot before the other.
        let gauge = self.gauge_ratio * if runs { 0.4 } else { 1.0 };
        Walker {
            width_ratio: varied(self.width_ratio, 0.05),
            pace_m: relative_stride * self.hip_ratio * foot_length_m / 2.0,
            gauge_m: foot_length_m * varied(gauge, 0.15),
            placement_sd_m: foot_length_m * varied(0.05, 0.3),
            rotation_rad: self.rotation_rad + normal(rng, 0.06),
            manus,
            first_side: any_side(rng),
            ..Walker::steady([0.0, 0.0], 0.0, 0, foot_length_m)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    #[test]
    fn gaits_lie_within_what_is_published() {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let mut paces = Vec::new();
        for number in 0..200 {
            let walker = Breed::any(&mut rng, number).individual(&mut rng);
            let pace = walker.pace_m / walker.foot_length_m;
            // 0.7 × 3.5 / 2 to 3.5 × 6 / 2.
            assert!((1.22..10.5).contains(&pace), "{pace}");
            assert!((0.0..2.5).contains(&(walker.gauge_m / walker.foot_length_m)));
            paces.push(pace);
        }
        paces.sort_by(f64::total_cmp);
        assert!(
            paces[20] < 2.5 && paces[190] > 4.0 && paces[199] > 6.0,
            "slow ones and runners: {paces:?}"
        );
    }
}
