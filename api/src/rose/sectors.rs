//! Sectors: the circle, or the half of it that axes have, in equal parts, and the directions in each.

use super::compass::{arc, place};
use crate::ink::{Escaped, Path, Px};
use spatial::angle::fold_deg;
use std::fmt::Write;

/// Narrower sectors would be finer than any azimuth of a footprint.
const NARROWEST_DEG: f64 = 2.0;
/// Above so many sectors none has a title of its own, or a file of many roses would be too large.
const MOST_TITLES: usize = 72;

/// How the turn is parted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sectors {
    number: usize,
    turn_deg: f64,
}

impl Sectors {
    /// Sectors of a width, or of the nearest width that divides the turn.
    pub(super) fn of(width_deg: f64, axial: bool) -> Self {
        let turn_deg = if axial { 180.0 } else { 360.0 };
        let number = (turn_deg / width_deg).round();
        let number = if number.is_finite() { number } else { 12.0 };
        Self {
            number: number.clamp(1.0, turn_deg / NARROWEST_DEG) as usize,
            turn_deg,
        }
    }

    /// 360, for axes 180.
    pub(super) fn turn_deg(self) -> f64 {
        self.turn_deg
    }

    pub(super) fn width_deg(self) -> f64 {
        self.turn_deg / self.number as f64
    }

    /// An azimuth within the turn: 0 (included) to 360, for axes to 180 (excluded).
    pub(super) fn fold(self, azimuth_deg: f64) -> f64 {
        let folded = fold_deg(azimuth_deg);
        if folded >= self.turn_deg {
            folded - self.turn_deg
        } else {
            folded
        }
    }

    /// The sector of an azimuth; an edge belongs to the sector clockwise of it.
    pub(super) fn holding(self, azimuth_deg: f64) -> usize {
        let place = self.fold(azimuth_deg) * self.number as f64 / self.turn_deg;
        // An azimuth written as 14.4 is a little less in binary, and must not fall short of an edge at 14.4.
        (place + 1e-9) as usize % self.number
    }

    /// How many azimuths lie in each sector.
    pub(super) fn count(self, azimuths_deg: &[f64]) -> Vec<usize> {
        let mut counts = vec![0; self.number];
        for azimuth_deg in azimuths_deg {
            counts[self.holding(*azimuth_deg)] += 1;
        }
        counts
    }

    /// The outlines of all sectors that hold something, by the radius that a count has; `turned_deg` turns all.
    pub(super) fn draw(self, counts: &[usize], turned_deg: f64, radius: impl Fn(usize) -> f64) -> String {
        let filled = (0..self.number).filter(|sector| counts[*sector] > 0);
        let outline = |sector: usize| {
            let from_deg = turned_deg + sector as f64 * self.width_deg();
            petal(from_deg, self.width_deg(), radius(counts[sector]))
        };
        let mut svg = String::new();
        if self.number > MOST_TITLES {
            filled.for_each(|sector| svg += &outline(sector).to_string());
            return format!("<path d=\"{svg}\"/>");
        }
        for sector in filled {
            let words = self.in_words(sector, counts[sector]);
            let _ = write!(
                svg,
                "<path d=\"{}\"><title>{}</title></path>",
                outline(sector),
                Escaped(&words)
            );
        }
        svg
    }

    fn in_words(self, sector: usize, count: usize) -> String {
        let edge = |sector: usize| Px(sector as f64 * self.width_deg());
        format!("{}° to {}°: {count}", edge(sector), edge(sector + 1))
    }
}

/// The outline of a sector.
fn petal(from_deg: f64, width_deg: f64, radius: f64) -> Path {
    let mut path = Path::default();
    path.move_to([0.0, 0.0]);
    path.line_to(place(from_deg, radius));
    arc(&mut path, from_deg, width_deg, radius);
    path.close();
    path
}

#[cfg(test)]
mod tests {
    use super::super::tests::config;
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn an_edge_belongs_to_the_sector_clockwise_of_it() {
        let sectors = Sectors::of(20.0, false);
        let of = |azimuth_deg: f64| sectors.holding(azimuth_deg);
        assert_eq!([0.0, -0.0, 360.0, -360.0, 720.0, 1e-320].map(of), [0; 6]);
        assert_eq!([19.999, 20.0, 39.999, 340.0, 359.999].map(of), [0, 1, 1, 17, 17]);
        assert_eq!([-1.0, -1e-18, -20.0, -20.001].map(of), [17, 0, 17, 16]);
        let axes = Sectors::of(20.0, true);
        assert_eq!(
            [0.0, 180.0, 200.0, 360.0, -20.0].map(|a| axes.holding(a)),
            [0, 0, 1, 0, 8]
        );
    }

    #[test]
    fn decimal_edges_are_edges_for_every_width() {
        // Widths in tenths of a degree, and edges as a field sheet would write them.
        for width in (20..=3600).filter(|width| 3600 % width == 0) {
            let sectors = Sectors::of(f64::from(width) / 10.0, false);
            for (sector, edge) in (0..3600).step_by(width as usize).enumerate() {
                let written: f64 = format!("{}.{}", edge / 10, edge % 10).parse().unwrap();
                assert_eq!(sectors.holding(written), sector, "{written} of {width} tenths");
            }
        }
    }

    #[test]
    fn odd_widths_become_widths_that_divide_the_turn() {
        let width = |width_deg, axial| Sectors::of(width_deg, axial).width_deg();
        assert_eq!(width(7.0, false), 360.0 / 51.0);
        assert_eq!([0.001, 2.0, 400.0].map(|w| width(w, false)), [2.0, 2.0, 360.0]);
        assert_eq!([1.0, 180.0, 360.0].map(|w| width(w, true)), [2.0, 180.0, 180.0]);
        assert_eq!(
            [0.0, f64::NAN, f64::INFINITY, -5.0].map(|w| width(w, false)),
            [30.0, 30.0, 360.0, 360.0]
        );
    }

    #[test]
    fn a_whole_circle_is_one_sector() {
        let written = Sectors::of(360.0, false).draw(&[3], 0.0, |_| 10.0);
        assert_eq!(written.matches("a10 10").count(), 3, "{written}");
    }

    proptest! {
        #![proptest_config(config(200))]

        #[test]
        fn each_azimuth_is_counted_once_in_the_sector_that_holds_it(
            azimuths_deg in proptest::collection::vec(-1e4..1e4, 0..60),
            width_deg in 2.0..200.0,
            axial: bool,
        ) {
            let sectors = Sectors::of(width_deg, axial);
            prop_assert_eq!(sectors.count(&azimuths_deg).iter().sum::<usize>(), azimuths_deg.len());
            for azimuth_deg in azimuths_deg {
                let past_edge_deg = sectors.fold(azimuth_deg) - sectors.holding(azimuth_deg) as f64 * sectors.width_deg();
                prop_assert!((-1e-6..sectors.width_deg() + 1e-6).contains(&past_edge_deg));
                prop_assert_eq!(sectors.holding(azimuth_deg), sectors.holding(sectors.fold(azimuth_deg)));
            }
        }
    }
}
