//! The pace triangle from its three sides, as a tape measures them.

/// Rounded sides may miss a triangle by this factor.
const FORGIVEN: f64 = 1.01;

/// The pace angulation at the middle print; `None` for sides that are not all above zero, or that miss a
/// triangle by more than rounding.
///
/// # Formula
/// cos PA = (p₁² + p₂² − SL²) / (2 p₁ p₂). Rounded sides may miss a triangle; up to a hundredth they are taken
/// as in one line.
///
/// # Units
/// Metres (or any length), and degrees.
///
/// # References
/// Leonardi, G. (ed.) (1987), Glossary and Manual of Tetrapod Footprint Palaeoichnology.
#[must_use]
pub fn pace_angulation_deg(pace_1_m: f64, pace_2_m: f64, stride_m: f64) -> Option<f64> {
    let sides = [pace_1_m, pace_2_m, stride_m];
    if !sides.iter().all(|side| *side > 0.0 && side.is_finite()) {
        return None;
    }
    let (widest, narrowest) = (pace_1_m + pace_2_m, (pace_1_m - pace_2_m).abs());
    if stride_m > FORGIVEN * widest || stride_m * FORGIVEN < narrowest {
        return None;
    }
    let cosine =
        (pace_1_m * pace_1_m + pace_2_m * pace_2_m - stride_m * stride_m) / (2.0 * pace_1_m * pace_2_m);
    Some(cosine.clamp(-1.0, 1.0).acos().to_degrees())
}

/// The width of the pace-angulation pattern: the height of the pace triangle on the stride.
///
/// # Formula
/// p₁ p₂ sin(PA) / SL.
///
/// # Units
/// Metres.
///
/// # References
/// Marty, D. (2008), from memory.
#[must_use]
pub fn pattern_width_m(pace_1_m: f64, pace_2_m: f64, stride_m: f64) -> Option<f64> {
    let angle = pace_angulation_deg(pace_1_m, pace_2_m, stride_m)?.to_radians();
    Some(pace_1_m * pace_2_m * angle.sin() / stride_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        // 3-4-5: a right angle; its height on the side of 5 is 12/5.
        assert!((pace_angulation_deg(3.0, 4.0, 5.0).unwrap() - 90.0).abs() < 1e-9);
        assert!((pattern_width_m(3.0, 4.0, 5.0).unwrap() - 2.4).abs() < 1e-9);
        assert_eq!(pace_angulation_deg(1.0, 1.0, 1.0).map(f64::round), Some(60.0));
    }

    #[test]
    fn rounding_is_forgiven_and_nonsense_is_not() {
        assert_eq!(pace_angulation_deg(1.0, 1.0, 2.01), Some(180.0));
        assert_eq!(pace_angulation_deg(1.0, 1.0, 2.5), None);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(pace_angulation_deg(bad, 1.0, 1.0), None);
            assert_eq!(pattern_width_m(1.0, 1.0, bad), None);
        }
    }
}
