//! What of a surface a plan shows, and how wide its page is.

/// A part of a surface, or all of it, on a page of some width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    part: Option<[[f64; 2]; 2]>,
    width: f64,
}

/// The width of a page that nobody asked to be wider or narrower, pixels.
pub const USUAL_WIDTH: f64 = 1600.0;
/// Below it neither the map nor the legend has room.
pub const NARROWEST: f64 = 480.0;
/// Beyond it more letters than map would be written.
pub const WIDEST: f64 = 4000.0;
/// Grid coordinates are measured to millimetres at best: what is smaller holds nothing to see, metres.
const SMALLEST_M: f64 = 0.02;
/// No surface is wider, metres.
const LARGEST_M: f64 = 1e6;

impl View {
    /// A part by its lower and upper corner, eastings and northings in metres, on a page of a width in pixels.
    ///
    /// # Errors
    /// What was expected, where the corners make no box of 0.02 m to 1000 km or the width is none of 480 to 4000.
    pub fn new(part: Option<[[f64; 2]; 2]>, width: Option<f64>) -> Result<Self, &'static str> {
        let width = width.unwrap_or(USUAL_WIDTH);
        if !(NARROWEST..=WIDEST).contains(&width) {
            return Err("width: expected 480 to 4000 pixels.");
        }
        let sizes = part.map(|[lower, upper]| [upper[0] - lower[0], upper[1] - lower[1]]);
        let fits = |size_m: f64| (SMALLEST_M..=LARGEST_M).contains(&size_m);
        if !sizes.into_iter().flatten().all(fits) {
            return Err("bbox: expected a box of 0.02 m to 1000 km each way.");
        }
        Ok(Self { part, width })
    }

    pub(super) fn part(&self) -> Option<[[f64; 2]; 2]> {
        self.part
    }

    pub(super) fn width(&self) -> f64 {
        self.width
    }
}

impl Default for View {
    fn default() -> Self {
        Self {
            part: None,
            width: USUAL_WIDTH,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_has_a_size_and_a_page_a_width() {
        let of = |part, width| View::new(part, width);
        assert_eq!(of(None, None), Ok(View::default()));
        assert!(of(Some([[0.0, 0.0], [3.0, 2.0]]), Some(600.0)).is_ok());
        for width in [f64::NAN, f64::INFINITY, 0.0, 479.0, 1e9] {
            assert!(of(None, Some(width)).is_err(), "{width}");
        }
        for upper in [[0.0, 2.0], [3.0, 0.0], [-1.0, 2.0], [2e6, 2.0], [f64::NAN, 2.0]] {
            assert!(of(Some([[0.0, 0.0], upper]), None).is_err(), "{upper:?}");
        }
    }
}
