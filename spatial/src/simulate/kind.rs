//! Kinds of walkers: the proportions of their feet and steps.

/// A kind of animal by the proportions that its prints show. Lengths are in pes lengths.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kind {
    /// The name under which the field party records it.
    pub morphotype: &'static str,
    /// Typical pes length, metres.
    pub foot_length_m: f64,
    /// Pes width.
    pub width_ratio: f64,
    /// Pace along the midline.
    pub pace_ratio: f64,
    /// Gauge.
    pub gauge_ratio: f64,
    /// Outward rotation of the pes, degrees.
    pub rotation_deg: f64,
    /// The fore feet, if they touch the ground: length over pes length, offset ahead and offset outward.
    pub manus: Option<[f64; 3]>,
}

impl Kind {
    /// Six invented kinds: three bipeds and three quadrupeds.
    pub const ALL: [Self; 6] = [
        Self::biped("slender-toed", [0.28, 0.75, 4.6, 0.25, -4.0]),
        Self::biped("broad-toed", [0.42, 0.95, 3.3, 0.55, -8.0]),
        Self::biped("small-toed", [0.14, 0.70, 5.2, 0.30, 3.0]),
        Self::quadruped("round-footed", [0.55, 0.80, 2.5, 1.15, 18.0], [0.55, 0.95, 0.18]),
        Self::quadruped("long-footed", [0.24, 0.60, 3.1, 0.95, 10.0], [0.70, 1.15, 0.05]),
        Self::quadruped("hand-footed", [0.18, 0.85, 3.0, 1.00, 6.0], [0.50, 0.80, -0.12]),
    ];

    const fn biped(morphotype: &'static str, measures: [f64; 5]) -> Self {
        let [foot_length_m, width_ratio, pace_ratio, gauge_ratio, rotation_deg] = measures;
        Self {
            morphotype,
            foot_length_m,
            width_ratio,
            pace_ratio,
            gauge_ratio,
            rotation_deg,
            manus: None,
        }
    }

    const fn quadruped(morphotype: &'static str, measures: [f64; 5], manus: [f64; 3]) -> Self {
        Self {
            manus: Some(manus),
            ..Self::biped(morphotype, measures)
        }
    }
}
