//! Speed from stride and hip height.

use crate::model::named;
use serde::Serialize;

/// The acceleration of free fall, m/s².
pub const GRAVITY_M_S2: f64 = 9.81;
/// Below this relative stride an animal walks; at it, it trots.
pub const TROT_FROM: f64 = 2.0;
/// Below this relative stride an animal trots; at it, it runs, and the running formula holds.
pub const RUN_FROM: f64 = 2.9;

named!(
    /// How an animal moves, by its relative stride λ/h.
    GaitClass {
        /// λ/h below 2.0.
        Walk = "walk",
        /// λ/h from 2.0 (included) to 2.9 (excluded).
        Trot = "trot",
        /// λ/h from 2.9 (included).
        Run = "run",
    }
);
named!(
    /// Which formula gave a speed.
    SpeedFormula {
        /// v = 0.25 g^0.5 λ^1.67 h^−1.17.
        Alexander = "Alexander 1976",
        /// v = [g h (λ / 1.8 h)^2.56]^0.5.
        Running = "Thulborn & Wade 1984",
    }
);

/// How fast, and how.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Motion {
    /// Stride over hip height, λ/h.
    pub relative_stride: f64,
    /// Walk, trot or run.
    pub gait: GaitClass,
    /// Metres a second.
    pub speed_m_s: f64,
    /// The formula that holds there.
    pub speed_formula: SpeedFormula,
}

impl Motion {
    /// The speed of a stride at a hip height; `None` where they give no finite speed above zero.
    ///
    /// Alexander's formula for walk and trot, the running one from λ/h = 2.9. The two do not join there: at h =
    /// 1 m they give 4.63 and 5.77 m/s. Both rest on living animals of few kinds.
    ///
    /// # Units
    /// Metres, and metres a second.
    ///
    /// # References
    /// Alexander, R. McN. (1976), Nature 261, 129-130. Thulborn, R. A. & Wade, M. (1984), Memoirs of the
    /// Queensland Museum 21, 413-517. The classes by λ/h are theirs; the edges fall to the faster gait.
    #[must_use]
    pub fn of(stride_m: f64, hip_height_m: f64) -> Option<Self> {
        if !(stride_m > 0.0 && hip_height_m > 0.0) {
            return None;
        }
        let relative_stride = stride_m / hip_height_m;
        let (speed_m_s, speed_formula) = if relative_stride >= RUN_FROM {
            (running_m_s(stride_m, hip_height_m), SpeedFormula::Running)
        } else {
            (alexander_m_s(stride_m, hip_height_m), SpeedFormula::Alexander)
        };
        let sound = relative_stride.is_finite() && speed_m_s.is_finite() && speed_m_s > 0.0;
        sound.then_some(Self {
            relative_stride,
            gait: GaitClass::of(relative_stride),
            speed_m_s,
            speed_formula,
        })
    }
}

impl GaitClass {
    /// The class of a relative stride.
    #[must_use]
    pub fn of(relative_stride: f64) -> Self {
        match relative_stride {
            slow if slow < TROT_FROM => Self::Walk,
            middle if middle < RUN_FROM => Self::Trot,
            _ => Self::Run,
        }
    }
}

/// The speed of a walk.
///
/// # Formula
/// v = 0.25 g^0.5 λ^1.67 h^−1.17, λ the stride and h the hip height.
///
/// # Units
/// Metres, and metres a second.
///
/// # References
/// Alexander, R. McN. (1976), Estimates of speeds of dinosaurs, Nature 261, 129-130.
#[must_use]
pub fn alexander_m_s(stride_m: f64, hip_height_m: f64) -> f64 {
    0.25 * GRAVITY_M_S2.sqrt() * stride_m.powf(1.67) * hip_height_m.powf(-1.17)
}

/// The speed of a run.
///
/// # Formula
/// v = [g h (λ / 1.8 h)^2.56]^0.5, λ the stride and h the hip height.
///
/// # Units
/// Metres, and metres a second.
///
/// # References
/// Thulborn, R. A. & Wade, M. (1984), Dinosaur trackways in the Winton Formation, Memoirs of the Queensland
/// Museum 21, 413-517.
#[must_use]
pub fn running_m_s(stride_m: f64, hip_height_m: f64) -> f64 {
    (GRAVITY_M_S2 * hip_height_m * (stride_m / (1.8 * hip_height_m)).powf(2.56)).sqrt()
}

/// The logarithm of [`Motion::of`]'s speed, from logarithms: both formulas are products of powers, and sums are
/// quicker.
pub(super) fn ln_speed(ln_stride: f64, ln_hip_height: f64) -> f64 {
    let ln_relative = ln_stride - ln_hip_height;
    let ln_root_g = GRAVITY_M_S2.ln() / 2.0;
    if ln_relative >= RUN_FROM.ln() {
        ln_root_g + ln_hip_height / 2.0 + 1.28 * (ln_relative - 1.8f64.ln())
    } else {
        0.25f64.ln() + ln_root_g + 1.67 * ln_stride - 1.17 * ln_hip_height
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_fall_to_the_faster_gait() {
        for (relative, gait) in [
            (1.999_999, GaitClass::Walk),
            (2.0, GaitClass::Trot),
            (2.899_999, GaitClass::Trot),
            (2.9, GaitClass::Run),
        ] {
            assert_eq!(Motion::of(relative, 1.0).unwrap().gait, gait, "{relative}");
        }
        assert_eq!(Motion::of(2.9, 1.0).unwrap().speed_formula, SpeedFormula::Running);
    }

    #[test]
    fn the_formulas_do_not_join() {
        // By hand, h = 1 m, λ = 2.9 m: 0.25 · 3.13209 · 2.9^1.67 = 4.634; [9.81 · (2.9/1.8)^2.56]^0.5 = 5.767.
        assert!((alexander_m_s(2.9, 1.0) - 4.634).abs() < 1e-3);
        assert!((running_m_s(2.9, 1.0) - 5.767).abs() < 1e-3);
    }

    #[test]
    fn by_logarithms_it_is_the_same() {
        for (stride, hip) in [(1.2, 1.0), (2.0, 1.0), (2.95, 1.0), (5.65, 1.93), (0.2, 0.15)] {
            let speed = Motion::of(stride, hip).unwrap().speed_m_s;
            assert!(
                (ln_speed(stride.ln(), hip.ln()) - speed.ln()).abs() < 1e-12,
                "{stride} {hip}"
            );
        }
    }

    #[test]
    fn nothing_gives_no_speed() {
        for (stride, hip) in [
            (0.0, 1.0),
            (1.0, 0.0),
            (f64::NAN, 1.0),
            (1.0, f64::NAN),
            (-1.0, 1.0),
            (1.0, 1e-300),
        ] {
            assert_eq!(Motion::of(stride, hip), None, "{stride} {hip}");
        }
    }
}
