//! Which headings the animals of a surface prefer, and headings drawn like theirs.

use super::path::Path;
use crate::angle::{mean_direction_rad, turn_rad};
use std::f64::consts::{FRAC_PI_2, PI};

/// Which headings a surface's animals prefer: one, or either way along one axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Preferred {
    heading_rad: f64,
    sd_rad: f64,
    either_way: bool,
    /// By how much the variance that a sample was drawn from is larger than its own.
    unbiased: f64,
}

/// By how much the variance that a sample was drawn from is larger than its own.
pub(super) fn unbiased(count: usize) -> f64 {
    count as f64 / count.saturating_sub(1).max(1) as f64
}

/// Headings that spread more than this are blurred no further, radians.
const WIDEST_RAD: f64 = 0.6;

impl Preferred {
    /// # Formula
    /// s = √(−2 ln R̄); of an axis half of that of the doubled angles; the narrower is taken.
    ///
    /// # References
    /// Mardia, K. V. & Jupp, P. E. (2000), Directional Statistics, section 2.3 (from memory).
    pub fn of(paths: &[Path]) -> Self {
        let of = |fold: f64| {
            let headings = paths.iter().map(|path| fold * path.heading_rad());
            let (mean_rad, r) = mean_direction_rad(headings).unwrap_or((0.0, 0.0));
            let sd_rad = (-2.0 * r.clamp(1e-9, 1.0).ln()).sqrt() / fold;
            (mean_rad / fold, sd_rad)
        };
        let (one, axis) = (of(1.0), of(2.0));
        let either_way = axis.1 < one.1;
        let (heading_rad, sd_rad) = if either_way { axis } else { one };
        Self {
            heading_rad,
            sd_rad,
            either_way,
            unbiased: unbiased(paths.len()),
        }
    }

    /// A heading like one that was seen: drawn to the preferred one by c and moved by a normal draw, so that their spread is
    /// kept, but no two are as alike as companions'.
    pub fn blurred(self, seen_rad: f64, kept: f64, drawn: f64) -> f64 {
        let off_rad = turn_rad(self.heading_rad, seen_rad);
        let centre_rad = if self.either_way && off_rad.abs() > FRAC_PI_2 {
            self.heading_rad + PI
        } else {
            self.heading_rad
        };
        let noise_rad = (self.unbiased * (1.0 - kept * kept)).sqrt() * self.sd_rad.min(WIDEST_RAD) * drawn;
        if self.sd_rad > WIDEST_RAD {
            return seen_rad + noise_rad;
        }
        centre_rad + kept * turn_rad(centre_rad, seen_rad) + noise_rad
    }
}
