//! What a pulse can tell apart.

use super::ground::{permittivity_of, two_way_time_ns};
use crate::model::named;
use serde::Serialize;

named!(
    /// What a survey could show of a print, at best.
    Seen {
        /// Its relief and its outline.
        Resolved = "resolved",
        /// Its relief, and its outline once the Fresnel zone has been collapsed by migration.
        AfterMigration = "resolved after migration",
        /// That something is there: relief or outline is too small.
        Detected = "detected, not resolved",
        /// Nothing: it is smaller than what one pulse averages, both ways.
        Hidden = "not detectable",
    }
);

/// What a pulse of one frequency tells apart at one depth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Resolution {
    /// Velocity of the pulse, metres in a nanosecond.
    pub velocity_m_ns: f64,
    /// Relative permittivity of the ground.
    pub permittivity: f64,
    /// Wavelength in the ground.
    pub wavelength_m: f64,
    /// Time to the depth and back.
    pub two_way_time_ns: f64,
    /// The least relief that is told apart: a quarter of the wavelength.
    pub vertical_resolution_m: f64,
    /// Radius of the first Fresnel zone: what is smaller than its diameter is blurred into its surroundings.
    pub fresnel_radius_m: f64,
    /// The least length that is told apart once the data have been migrated.
    pub migrated_resolution_m: f64,
}

impl Resolution {
    /// The resolution of a pulse; `None` where a number is not finite and above zero (a depth may be zero).
    ///
    /// # Formula
    /// λ = v / f; vertical λ / 4; first Fresnel zone r = √(λ d / 2 + λ² / 16), from (d + λ/4)² = d² + r²; migrated
    /// data tell lengths of about λ / 2 apart (common practice).
    ///
    /// # Units
    /// Metres in a nanosecond, megahertz, metres.
    ///
    /// # References
    /// Sheriff, R. E. & Geldart, L. P. (1995), Exploration Seismology, section 6.4 (vertical resolution and Fresnel zone;
    /// from memory); the same geometry holds for radar.
    #[must_use]
    pub fn of(velocity_m_ns: f64, frequency_mhz: f64, depth_m: f64) -> Option<Self> {
        let sound = |value: f64| value.is_finite() && value > 0.0;
        if !(sound(velocity_m_ns) && sound(frequency_mhz) && depth_m.is_finite() && depth_m >= 0.0) {
            return None;
        }
        let wavelength_m = velocity_m_ns * 1000.0 / frequency_mhz;
        let resolution = Self {
            velocity_m_ns,
            permittivity: permittivity_of(velocity_m_ns),
            wavelength_m,
            two_way_time_ns: two_way_time_ns(velocity_m_ns, depth_m),
            vertical_resolution_m: wavelength_m / 4.0,
            fresnel_radius_m: (wavelength_m * depth_m / 2.0 + wavelength_m.powi(2) / 16.0).sqrt(),
            migrated_resolution_m: wavelength_m / 2.0,
        };
        sound(resolution.fresnel_radius_m).then_some(resolution)
    }

    /// What could be seen of a print of this length and relief. A print shows where it is at least as long as
    /// half the zone that one pulse averages (common practice), or deeper than the pulse tells apart.
    ///
    /// # Units
    /// Metres.
    #[must_use]
    pub fn of_print(&self, length_m: f64, relief_m: f64) -> Seen {
        let relief = relief_m >= self.vertical_resolution_m;
        let outline = length_m >= 2.0 * self.fresnel_radius_m;
        match (relief, outline) {
            (true, true) => Seen::Resolved,
            (true, false) if length_m >= self.migrated_resolution_m => Seen::AfterMigration,
            _ if relief || length_m >= self.fresnel_radius_m => Seen::Detected,
            _ => Seen::Hidden,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{depth_m, velocity_m_ns};
    use super::*;

    #[test]
    fn a_shallow_print_under_a_high_frequency_is_resolved() {
        // 900 MHz in limestone of permittivity 6: λ = 0.136 m, a quarter of it 34 mm; at 0.2 m the zone has 0.24 m.
        let pulse = Resolution::of(velocity_m_ns(6.0), 900.0, 0.2).unwrap();
        assert!((pulse.vertical_resolution_m - 0.034).abs() < 1e-4);
        assert!((2.0 * pulse.fresnel_radius_m - 0.2429).abs() < 1e-3, "{pulse:?}");
        assert_eq!(pulse.of_print(0.30, 0.05), Seen::Resolved);
        assert_eq!(pulse.of_print(0.10, 0.05), Seen::AfterMigration);
        assert_eq!(pulse.of_print(0.30, 0.01), Seen::Detected);
        assert_eq!(pulse.of_print(0.05, 0.01), Seen::Hidden);
    }

    #[test]
    fn depth_and_time_are_each_others_way_back() {
        let velocity = velocity_m_ns(9.0);
        assert!((depth_m(velocity, two_way_time_ns(velocity, 1.3)) - 1.3).abs() < 1e-12);
        assert!((permittivity_of(velocity) - 9.0).abs() < 1e-12);
    }

    #[test]
    fn what_makes_no_sense_has_no_resolution() {
        for [velocity, frequency, depth] in [
            [0.0, 400.0, 1.0],
            [0.1, 0.0, 1.0],
            [0.1, 400.0, -1.0],
            [f64::NAN, 400.0, 1.0],
            [0.1, 400.0, f64::INFINITY],
        ] {
            assert_eq!(Resolution::of(velocity, frequency, depth), None);
        }
        assert!(Resolution::of(0.1, 400.0, 0.0).is_some());
    }
}
