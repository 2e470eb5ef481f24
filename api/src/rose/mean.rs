//! The mean with its interval, and the named azimuth.

use super::Group;
use super::compass::{arc, place, spoke};
use super::figure::Figure;
use crate::ink::{Path, Px};

/// How thick the arc of the interval is.
pub(super) const ARC: f64 = 2.2;

impl Figure<'_> {
    /// The mean as a line from the middle through the rim, and its interval as an arc outside of it.
    pub(super) fn mean(&self, group: &Group) -> String {
        let Some(mean_deg) = group.sound_mean_deg() else {
            return String::new();
        };
        let mut line = Path::default();
        for azimuth_deg in self.both_ways(mean_deg) {
            spoke(
                &mut line,
                azimuth_deg,
                0.0,
                self.rim + 0.85 * self.sizes.mean_band,
            );
        }
        let interval = group.interval_deg(self.sectors.turn_deg());
        let interval = interval.map_or(String::new(), |[from_deg, width_deg]| {
            let at = self.rim + 0.45 * self.sizes.mean_band;
            let mut path = Path::default();
            for from_deg in self.both_ways(from_deg) {
                interval_mark(&mut path, from_deg, width_deg, at, 0.33 * self.sizes.mean_band);
            }
            format!("<path d=\"{path}\" stroke-width=\"{ARC}\"/>")
        });
        let thick = self.sizes.mean_line;
        // The white seam keeps the line apart from dark edges that it runs along.
        format!(
            "<g fill=\"none\"><path d=\"{line}\" stroke=\"#fff\" stroke-width=\"{}\"/><g stroke=\"#000\">\
             <path d=\"{line}\" stroke-width=\"{thick}\"/>{interval}</g></g>",
            Px(1.8 * thick)
        )
    }

    /// An open triangle that stands on the rim.
    pub(super) fn named(&self) -> String {
        let mut path = Path::default();
        for azimuth_deg in self
            .named_deg()
            .into_iter()
            .flat_map(|named| self.both_ways(named))
        {
            let height = 0.8 * self.sizes.mean_band;
            triangle(&mut path, azimuth_deg, self.rim + 0.5, height);
        }
        if path.is_empty() {
            return String::new();
        }
        format!("<path d=\"{path}\" {OPEN}/>")
    }
}

/// The look of the triangle.
pub(super) const OPEN: &str = "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.5\" stroke-linejoin=\"round\"";

/// An arc with a tick at either end.
pub(super) fn interval_mark(path: &mut Path, from_deg: f64, width_deg: f64, radius: f64, tick: f64) {
    path.move_to(place(from_deg, radius));
    arc(path, from_deg, width_deg, radius);
    for end_deg in [from_deg, from_deg + width_deg] {
        spoke(path, end_deg, radius - tick, radius + tick);
    }
}

/// A triangle with its tip at a radius, pointing inwards.
pub(super) fn triangle(path: &mut Path, azimuth_deg: f64, tip: f64, height: f64) {
    let [x, y] = place(azimuth_deg, tip + height);
    let [across_x, across_y] = place(azimuth_deg + 90.0, 0.5 * height);
    path.move_to(place(azimuth_deg, tip));
    path.line_to([x + across_x, y + across_y]);
    path.line_to([x - across_x, y - across_y]);
    path.close();
}
