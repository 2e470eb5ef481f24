//! Ground radar: how fast a pulse runs, how deep it was turned back, and what it can tell apart.
//!
//! All of it holds for ground that loses little of the pulse. Salt water and wet clay swallow it.

mod ground;
mod resolution;

pub use ground::{MATERIALS, Material, depth_m, permittivity_of, two_way_time_ns, velocity_m_ns};
pub use resolution::{Resolution, Seen};

/// The speed of light, metres in a nanosecond.
pub const LIGHT_M_NS: f64 = 0.299_792_458;

/// Said wherever it is told what radar could show.
pub const RADAR_CAUTION: &str = "Resolution is the best that such a pulse allows, not what a survey will show: loss in clay or salt \
    water, scatter, a poor contrast between the print's fill and the ground, and a line that misses the print all come on top. The \
    antenna's frequency falls in the ground. A radar survey needs a licence or a permit in most places; local rules, and those who keep the \
    ground, decide.";
