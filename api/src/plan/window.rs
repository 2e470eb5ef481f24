//! The window onto the surface: from grid metres to places on the page.

use super::outlines::is_believable;
use geo::CoordsIter;
use spatial::index::SurfaceIndex;
use spatial::model::Print;

/// A box in grid metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub(super) west_m: f64,
    pub(super) south_m: f64,
    pub(super) east_m: f64,
    pub(super) north_m: f64,
}

/// Beyond any grid coordinate; it keeps sums of wild ones finite.
const FARTHEST_M: f64 = 1e9;
/// Far outside any page; it keeps later sums of wild places finite.
const FARTHEST_PX: f64 = 1e7;
/// A window is never narrower, so that one print stands in its surroundings at any size.
const NARROWEST_M: f64 = 1.0;
const NARROWEST_IN_PRINTS: f64 = 3.0;

impl Bounds {
    /// All prints, at their size, and all extents; `None` where there is neither.
    pub(super) fn of(index: &SurfaceIndex) -> Option<Self> {
        let prints = index.prints().iter().map(print_square);
        let extents = index.extents().iter().flat_map(|extent| {
            let vertices = extent.polygon.exterior_coords_iter();
            vertices.map(|c| (c.x, c.y, 0.0))
        });
        Self::around(prints.chain(extents))
    }

    /// The box between two corners.
    pub(super) fn between([lower, upper]: [[f64; 2]; 2]) -> Self {
        Self {
            west_m: lower[0],
            south_m: lower[1],
            east_m: upper[0],
            north_m: upper[1],
        }
    }

    /// Places and how far each reaches, easting, northing and reach; `None` where no place is finite.
    pub(super) fn around(places: impl Iterator<Item = (f64, f64, f64)>) -> Option<Self> {
        let mut all: Option<Self> = None;
        let mut longest_reach_m = 0.0f64;
        for (east_m, north_m, reach_m) in places {
            if !(east_m.is_finite() && north_m.is_finite()) {
                continue;
            }
            let (east_m, north_m) = (inside(east_m), inside(north_m));
            let one = Self {
                west_m: east_m - reach_m,
                south_m: north_m - reach_m,
                east_m: east_m + reach_m,
                north_m: north_m + reach_m,
            };
            longest_reach_m = longest_reach_m.max(reach_m);
            all = Some(all.map_or(one, |all| all.with(one)));
        }
        let narrowest_m = NARROWEST_M.max(NARROWEST_IN_PRINTS * 2.0 * longest_reach_m);
        all.map(|all| all.with_room(narrowest_m))
    }

    fn with(self, other: Self) -> Self {
        Self {
            west_m: self.west_m.min(other.west_m),
            south_m: self.south_m.min(other.south_m),
            east_m: self.east_m.max(other.east_m),
            north_m: self.north_m.max(other.north_m),
        }
    }

    /// Some room on all sides, for labels and so that nothing touches the frame.
    fn with_room(self, narrowest_m: f64) -> Self {
        let widest_m = self.width_m().max(self.height_m());
        let grow = |span_m: f64| 0.04 * widest_m + 0.5 * (narrowest_m - span_m).max(0.0);
        let (across_m, along_m) = (grow(self.width_m()), grow(self.height_m()));
        Self {
            west_m: self.west_m - across_m,
            south_m: self.south_m - along_m,
            east_m: self.east_m + across_m,
            north_m: self.north_m + along_m,
        }
    }

    /// Whether a print, at its size, reaches inside.
    pub(super) fn meets(&self, print: &Print) -> bool {
        let (east_m, north_m, reach_m) = print_square(print);
        let within = |at_m: f64, from_m: f64, to_m: f64| at_m + reach_m >= from_m && at_m - reach_m <= to_m;
        within(east_m, self.west_m, self.east_m) && within(north_m, self.south_m, self.north_m)
    }

    pub(super) fn width_m(&self) -> f64 {
        self.east_m - self.west_m
    }

    pub(super) fn height_m(&self) -> f64 {
        self.north_m - self.south_m
    }
}

/// A print's place and how far it reaches; a wild length reaches nowhere.
pub(super) fn print_square(print: &Print) -> (f64, f64, f64) {
    let reach_m = if is_believable(print) {
        0.5 * print.length_m
    } else {
        0.0
    };
    (print.easting_m, print.northing_m, reach_m)
}

fn inside(coordinate_m: f64) -> f64 {
    coordinate_m.clamp(-FARTHEST_M, FARTHEST_M)
}

/// The frame of the map on the page, and what of the grid it shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) px_per_m: f64,
    /// What the frame shows, its corners.
    pub(super) shown: Bounds,
}

impl Window {
    /// Fits bounds into a frame, centred, at one scale both ways.
    pub(super) fn fit(bounds: Bounds, left: f64, top: f64, width: f64, height: f64) -> Self {
        let px_per_m = (width / bounds.width_m()).min(height / bounds.height_m());
        let (middle_east, middle_north) = (
            0.5 * (bounds.west_m + bounds.east_m),
            0.5 * (bounds.south_m + bounds.north_m),
        );
        let (half_width_m, half_height_m) = (0.5 * width / px_per_m, 0.5 * height / px_per_m);
        let shown = Bounds {
            west_m: middle_east - half_width_m,
            south_m: middle_north - half_height_m,
            east_m: middle_east + half_width_m,
            north_m: middle_north + half_height_m,
        };
        Self {
            left,
            top,
            width,
            height,
            px_per_m,
            shown,
        }
    }

    /// The place on the page of an easting and northing; wild ones end far outside the frame.
    pub(super) fn at(&self, [east_m, north_m]: [f64; 2]) -> [f64; 2] {
        [
            self.left + (east_m - self.shown.west_m) * self.px_per_m,
            self.top + (self.shown.north_m - north_m) * self.px_per_m,
        ]
        .map(|px| px.clamp(-FARTHEST_PX, FARTHEST_PX))
    }

    pub(super) fn right(&self) -> f64 {
        self.left + self.width
    }

    pub(super) fn bottom(&self) -> f64 {
        self.top + self.height
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn north_is_up_and_east_is_right_at_one_scale() {
        let bounds = Bounds {
            west_m: 100.0,
            south_m: 200.0,
            east_m: 110.0,
            north_m: 205.0,
        };
        let window = Window::fit(bounds, 50.0, 20.0, 1000.0, 800.0);
        assert_eq!(window.px_per_m, 100.0);
        assert_eq!(
            window.at([105.0, 202.5]),
            [550.0, 420.0],
            "the middle stays in the middle"
        );
        let ([x0, y0], [x1, y1]) = (window.at([105.0, 202.5]), window.at([106.0, 203.5]));
        assert_eq!([x1 - x0, y1 - y0], [100.0, -100.0]);
    }
}
