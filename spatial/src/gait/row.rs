//! The prints of one limb kind of a trackway, in walking order, on the ground.

use super::missing::{Gap, Stepped, read_gaps};
use super::{Doubt, Placed};
use crate::angle::{azimuth_rad, turn_rad};
use crate::model::{Limb, Side};

/// Prints nearer to the print before than this are the same print recorded twice.
const SAME_PLACE_M: f64 = 0.001;

/// One row: places are ground metres from its first print.
#[derive(Debug)]
pub(super) struct Row<'a> {
    pub limb: Limb,
    pub prints: Vec<&'a Placed<'a>>,
    /// Each print's place among all that were given.
    pub order: Vec<usize>,
    pub at_m: Vec<[f64; 2]>,
    /// What lies between each print and the next; one fewer than prints.
    pub gaps: Vec<Gap>,
}

impl<'a> Row<'a> {
    /// Takes the prints of one limb kind, each with its place among all, and reads which of their steps are
    /// gaps.
    pub fn of(
        limb: Limb,
        prints: impl Iterator<Item = (usize, &'a Placed<'a>)>,
        scale: f64,
        doubts: &mut Vec<Doubt>,
    ) -> Self {
        let mut row = Self {
            limb,
            prints: Vec::new(),
            order: Vec::new(),
            at_m: Vec::new(),
            gaps: Vec::new(),
        };
        let mut origin = None;
        for (place, placed) in prints {
            let [east, north] = placed.position_m;
            let [east0, north0] = *origin.get_or_insert(placed.position_m);
            let at = [(east - east0) / scale, (north - north0) / scale];
            if row
                .at_m
                .last()
                .is_some_and(|last| length_m(between(*last, at)) < SAME_PLACE_M)
            {
                doubts.push(Doubt::of(
                    placed,
                    "lies where the print before it lies, and is left out",
                ));
                continue;
            }
            row.prints.push(placed);
            row.order.push(place);
            row.at_m.push(at);
        }
        row.gaps = read_gaps(&row.steps());
        for (gap, placed) in row.gaps.iter().zip(row.prints.iter().skip(1)) {
            if gap.side_doubted {
                doubts.push(Doubt::of(
                    placed,
                    "is of the same side as the print a pace before it: one side is probably wrong",
                ));
            }
        }
        row
    }

    fn steps(&self) -> Vec<Stepped> {
        (1..self.prints.len())
            .map(|to| Stepped {
                distance_m: self.distance_m(to - 1, to),
                sides: [self.side(to - 1), self.side(to)],
                given: self.prints[to].missing_before,
            })
            .collect()
    }

    pub fn len(&self) -> usize {
        self.prints.len()
    }

    pub fn side(&self, no: usize) -> Option<Side> {
        self.prints[no].print.side
    }

    fn missing(&self, before: usize) -> u32 {
        self.gaps[before - 1].missing
    }

    pub fn distance_m(&self, from: usize, to: usize) -> f64 {
        length_m(between(self.at_m[from], self.at_m[to]))
    }

    /// The pace that ends at a print.
    pub fn pace_m(&self, to: usize) -> Option<f64> {
        (to > 0 && self.missing(to) == 0).then(|| self.distance_m(to - 1, to))
    }

    /// The print where the stride begins that ends at a print: two prints before, or one where just one is
    /// missing between.
    pub fn stride_from(&self, to: usize) -> Option<usize> {
        let from = match to {
            0 => return None,
            _ if self.missing(to) == 1 => to - 1,
            1 => return None,
            _ if self.missing(to) == 0 && self.missing(to - 1) == 0 => to - 2,
            _ => return None,
        };
        (self.distance_m(from, to) >= SAME_PLACE_M).then_some(from)
    }

    pub fn stride_m(&self, to: usize) -> Option<f64> {
        self.stride_from(to).map(|from| self.distance_m(from, to))
    }

    /// Whether a print and both its neighbours follow on each other, so that they make a pace triangle.
    fn is_middle(&self, no: usize) -> bool {
        no > 0 && no + 1 < self.len() && self.missing(no) == 0 && self.missing(no + 1) == 0
    }

    /// The angle at a print between its two paces.
    pub fn pace_angulation_rad(&self, no: usize) -> Option<f64> {
        self.is_middle(no).then(|| {
            let [x1, y1] = between(self.at_m[no], self.at_m[no - 1]);
            let [x2, y2] = between(self.at_m[no], self.at_m[no + 1]);
            (x1 * y2 - y1 * x2).abs().atan2(x1 * x2 + y1 * y2)
        })
    }

    /// How far a print lies off the line of the stride around it.
    ///
    /// # Formula
    /// The height of the pace triangle on the stride, p₁ p₂ sin(PA) / SL.
    pub fn gauge_m(&self, no: usize) -> Option<f64> {
        let angle = self.pace_angulation_rad(no)?;
        let stride = self.distance_m(no - 1, no + 1);
        (stride >= SAME_PLACE_M)
            .then(|| self.distance_m(no - 1, no) * self.distance_m(no, no + 1) * angle.sin() / stride)
    }

    /// The direction of travel at a print: from the print before it to the one after it; at the ends that of
    /// the nearest stride.
    pub fn travel_rad(&self, no: usize) -> Option<f64> {
        let last = self.len().checked_sub(3)? + 2;
        let (from, to) = match no {
            0 => (0, 2),
            _ if no == last => (last - 2, last),
            _ => (no - 1, no + 1),
        };
        let [east, north] = between(self.at_m[from], self.at_m[to]);
        (length_m([east, north]) >= SAME_PLACE_M).then(|| azimuth_rad(east, north))
    }

    /// The foot's axis against the direction of travel, outward positive.
    pub fn foot_rotation_rad(&self, no: usize) -> Option<f64> {
        let foot = self.prints[no].azimuth_deg?.to_radians();
        let to_the_right = turn_rad(self.travel_rad(no)?, foot);
        Some(match self.side(no)? {
            Side::Right => to_the_right,
            Side::Left => -to_the_right,
        })
    }

    /// The heading of the whole row: from the middle of its first two prints to that of its last two.
    pub fn heading_rad(&self) -> Option<f64> {
        let middle = |a: [f64; 2], b: [f64; 2]| [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
        let way = match self.at_m[..] {
            [] | [_] => return None,
            [first, second] => between(first, second),
            [first, second, .., before, last] => between(middle(first, second), middle(before, last)),
            [first, second, last] => between(middle(first, second), middle(second, last)),
        };
        (length_m(way) >= SAME_PLACE_M).then(|| azimuth_rad(way[0], way[1]))
    }
}

pub(super) fn between(from: [f64; 2], to: [f64; 2]) -> [f64; 2] {
    [to[0] - from[0], to[1] - from[1]]
}

pub(super) fn length_m([east, north]: [f64; 2]) -> f64 {
    east.hypot(north)
}
