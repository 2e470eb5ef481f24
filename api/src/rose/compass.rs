//! Azimuths on the page: north is up, east is right.

use crate::ink::Path;
use spatial::angle::fold_deg;

/// An arc is written in pieces no wider than this, so that each is less than half a turn.
const WIDEST_ARC_DEG: f64 = 120.0;

/// The point at a distance from the middle.
pub(super) fn place(azimuth_deg: f64, radius: f64) -> [f64; 2] {
    let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
    [radius * sine, -radius * cosine]
}

/// An arc clockwise about the middle, from where the path is.
pub(super) fn arc(path: &mut Path, from_deg: f64, width_deg: f64, radius: f64) {
    let pieces = (width_deg / WIDEST_ARC_DEG).ceil().max(1.0);
    for piece in 1..=pieces as usize {
        let to_deg = from_deg + width_deg * piece as f64 / pieces;
        path.arc_to(radius, place(to_deg, radius));
    }
}

/// A straight line outwards from the middle.
pub(super) fn spoke(path: &mut Path, azimuth_deg: f64, from: f64, to: f64) {
    path.move_to(place(azimuth_deg, from));
    path.line_to(place(azimuth_deg, to));
}

/// How far two azimuths are apart, 0 to 180.
pub(super) fn apart_deg(a: f64, b: f64) -> f64 {
    let turn = fold_deg(a - b);
    turn.min(360.0 - turn)
}

/// An azimuth in words, to a tenth of a degree.
pub(super) fn told(azimuth_deg: f64) -> String {
    let tenths = (fold_deg(azimuth_deg) * 10.0).round() as u64 % 3600;
    match tenths % 10 {
        0 => format!("{}°", tenths / 10),
        rest => format!("{}.{rest}°", tenths / 10),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn north_is_up_and_east_is_right() {
        for (azimuth_deg, x, y) in [(0.0, 0.0, -2.0), (90.0, 2.0, 0.0), (540.0, 0.0, 2.0)] {
            let at = place(azimuth_deg, 2.0);
            assert!((at[0] - x).abs() < 1e-12 && (at[1] - y).abs() < 1e-12, "{at:?}");
        }
    }

    #[test]
    fn a_wide_arc_is_written_in_pieces_and_ends_where_it_should() {
        let mut path = Path::default();
        path.move_to(place(0.0, 10.0));
        arc(&mut path, 0.0, 360.0, 10.0);
        let written = path.to_string();
        assert_eq!(written.matches('a').count(), 3);
        path.line_to(place(0.0, 10.0));
        assert!(path.to_string().ends_with("l0 0"), "back at the start: {path}");
    }

    #[test]
    fn azimuths_are_told_within_the_circle() {
        let told: Vec<String> = [0.0, -0.0, 85.25, 359.96, 360.0, -10.0, 719.5].map(told).to_vec();
        assert_eq!(told, ["0°", "0°", "85.3°", "0°", "0°", "350°", "359.5°"]);
        assert_eq!(apart_deg(350.0, 20.0), 30.0);
    }
}
