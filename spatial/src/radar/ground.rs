//! Velocity, depth and time.

use super::LIGHT_M_NS;

/// A kind of ground as a handbook lists it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Material {
    /// Its name.
    pub name: &'static str,
    /// The least and the greatest relative permittivity.
    pub permittivity: [f64; 2],
}

/// Kinds of ground and their relative permittivity.
///
/// # References
/// Davis, J. L. & Annan, A. P. (1989), Geophysical Prospecting 37, 531-551, table 1, as taught by others.
pub const MATERIALS: &[Material] = &[
    Material {
        name: "air",
        permittivity: [1.0, 1.0],
    },
    Material {
        name: "fresh water",
        permittivity: [80.0, 80.0],
    },
    Material {
        name: "ice",
        permittivity: [3.0, 4.0],
    },
    Material {
        name: "dry sand",
        permittivity: [3.0, 5.0],
    },
    Material {
        name: "saturated sand",
        permittivity: [20.0, 30.0],
    },
    Material {
        name: "limestone",
        permittivity: [4.0, 8.0],
    },
    Material {
        name: "shale",
        permittivity: [5.0, 15.0],
    },
    Material {
        name: "silt",
        permittivity: [5.0, 30.0],
    },
    Material {
        name: "clay",
        permittivity: [5.0, 40.0],
    },
    Material {
        name: "granite",
        permittivity: [4.0, 6.0],
    },
];

/// The velocity of a pulse in ground that loses little of it.
///
/// # Formula
/// v = c / √ε.
///
/// # Units
/// Metres in a nanosecond.
///
/// # References
/// Davis & Annan (1989).
#[must_use]
pub fn velocity_m_ns(permittivity: f64) -> f64 {
    LIGHT_M_NS / permittivity.sqrt()
}

/// The relative permittivity of ground with this velocity: the way back.
///
/// # Units
/// Metres in a nanosecond.
#[must_use]
pub fn permittivity_of(velocity_m_ns: f64) -> f64 {
    (LIGHT_M_NS / velocity_m_ns).powi(2)
}

/// The depth from which a pulse came back.
///
/// # Formula
/// d = v t / 2.
///
/// # Units
/// Metres and nanoseconds.
#[must_use]
pub fn depth_m(velocity_m_ns: f64, two_way_time_ns: f64) -> f64 {
    velocity_m_ns * two_way_time_ns / 2.0
}

/// The time of a pulse to a depth and back.
///
/// # Units
/// Metres and nanoseconds.
#[must_use]
pub fn two_way_time_ns(velocity_m_ns: f64, depth_m: f64) -> f64 {
    2.0 * depth_m / velocity_m_ns
}
