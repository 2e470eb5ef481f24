//! A trackway as continuation reads it: one row of feet with their steps, in either direction.

use super::limbs::limbs;
use super::options::ContinuationFault;
use super::plane::{Vector, along, dot, left_of, length, minus, plus, times};
use super::reading::{Reader, Unread, read};
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::{Limb, Print, Record, Side};

/// Standard deviation of a position in each axis where the print has none of its own, metres. Common practice: a
/// centimetre by tape, total station or image.
const POSITION_SD_M: f64 = 0.01;
/// The same for a radar anomaly. Common practice: a decimetre, about the spacing of the profiles.
const ANOMALY_SD_M: f64 = 0.1;
/// No coordinate of any projected CRS is larger, metres.
const FARTHEST_M: f64 = 1e8;
/// Places nearer to each other than this are one place.
const SAME_PLACE_M: f64 = 0.001;
/// Only so many of the last prints of a row are read: what an animal did long before says little of its next step.
const MOST_PRINTS: usize = 40;
/// How many prints tell where the walk begins and which foot stands where.
pub(super) const BEGINNING: usize = 6;

/// One print of the row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foot {
    pub no: PrintNo,
    /// Counted in paces from the first print of the row.
    pub step: i32,
    /// Metres from the track's origin.
    pub place: Vector,
    pub position_m2: f64,
}

/// A trackway laid out.
#[derive(Debug, Clone)]
pub(super) struct Track {
    /// All prints that were given.
    pub prints: Vec<PrintNo>,
    /// The main row: pes prints, or manus prints where there are no others.
    pub feet: Vec<Foot>,
    pub limb: Limb,
    /// Manus prints of a pes row, with the step of their set.
    pub fore: Vec<(i32, PrintNo)>,
    pub origin: [f64; 2],
    /// Whether it is read against the way it was walked.
    pub reversed: bool,
    /// Mean foot length, metres.
    pub foot_m: f64,
    /// 1 where even steps stand to the left of the way that it is read in, −1 where to its right.
    pub even_left: f64,
    /// ln odds that even steps are left feet, by the sides recorded.
    pub even_named_left: f64,
}

/// The standard deviation of a print's position in each axis.
pub(super) fn position_sd_m(print: &Print) -> f64 {
    let usual = if print.record == Some(Record::Anomaly) {
        ANOMALY_SD_M
    } else {
        POSITION_SD_M
    };
    print
        .position_sd_m
        .filter(|sd| sd.is_finite() && *sd > 0.0)
        .unwrap_or(usual)
        .min(10.0)
}

/// A print's length; one that is no length must not spoil the sums. 1 mm to 10 m holds all that walked.
pub(super) fn length_m(print: &Print) -> f64 {
    if print.length_m.is_finite() {
        print.length_m.clamp(0.001, 10.0)
    } else {
        0.3
    }
}

/// ln odds that a recorded side is right. Common practice: a few in a hundred are not.
pub(super) const SIDE_ODDS: f64 = 3.5;

impl Track {
    /// Lays a trackway out; `reversed` reads it from its last print to its first.
    pub fn of(
        index: &SurfaceIndex,
        prints: &[PrintNo],
        reversed: bool,
        reader: &Reader,
    ) -> Result<Self, ContinuationFault> {
        Self::of_last(index, prints, reversed, reader, MOST_PRINTS)
    }

    /// The same of no more than so many of the last prints.
    pub fn of_last(
        index: &SurfaceIndex,
        prints: &[PrintNo],
        reversed: bool,
        reader: &Reader,
        most: usize,
    ) -> Result<Self, ContinuationFault> {
        let mut prints = prints.to_vec();
        if reversed {
            prints.reverse();
        }
        let astray = |no: &&PrintNo| {
            let print = index.print(**no);
            print.easting_m.abs() > FARTHEST_M || print.northing_m.abs() > FARTHEST_M
        };
        if let Some(no) = prints.iter().find(astray) {
            return Err(ContinuationFault::Position(index.print(*no).label.clone()));
        }
        let limbs = limbs(index, &prints);
        let limb = if limbs.contains(&Limb::Pes) {
            Limb::Pes
        } else {
            Limb::Manus
        };
        let mut row = distinct(index, &prints, &limbs, limb);
        if row.len() < 3 {
            return Err(ContinuationFault::TooFew(row.len()));
        }
        row.drain(..row.len().saturating_sub(most));
        let origin = place_of(index, row[0]);
        let sizes = row.iter().map(|no| length_m(index.print(*no)).ln());
        let foot_m = (sizes.sum::<f64>() / row.len() as f64).exp();
        let unread: Vec<Unread> = (row.iter())
            .map(|no| Unread {
                place: minus(place_of(index, *no), origin),
                position_m2: position_sd_m(index.print(*no)).powi(2),
                side: index.print(*no).side,
            })
            .collect();
        let read = read(reader, foot_m, &unread, reversed).ok_or(ContinuationFault::NoWay)?;
        let feet: Vec<Foot> = (row.iter().zip(&unread).zip(&read.steps))
            .map(|((no, unread), step)| Foot {
                no: *no,
                step: *step,
                place: unread.place,
                position_m2: unread.position_m2,
            })
            .collect();
        let mut track = Self {
            feet,
            limb,
            fore: Vec::new(),
            origin,
            reversed,
            foot_m,
            even_left: read.even_left,
            even_named_left: 0.0,
            prints,
        };
        track.even_named_left = track.feet.iter().map(|foot| track.side_says(index, foot)).sum();
        if limb == Limb::Pes {
            track.fore = fore(index, &track, &limbs);
        }
        Ok(track)
    }

    fn side_says(&self, index: &SurfaceIndex, foot: &Foot) -> f64 {
        let Some(side) = index.print(foot.no).side else {
            return 0.0;
        };
        if (side == Side::Left) == (foot.step.rem_euclid(2) == 0) {
            SIDE_ODDS
        } else {
            -SIDE_ODDS
        }
    }

    /// The side that a foot at this step has, and the probability of it; `None` where no side is known.
    pub fn side(&self, step: i32) -> Option<(Side, f64)> {
        if self.even_named_left == 0.0 {
            return None;
        }
        let left = (step.rem_euclid(2) == 0) == (self.even_named_left > 0.0);
        let sure = 1.0 / (1.0 + (-self.even_named_left.abs().min(30.0)).exp());
        Some((if left { Side::Left } else { Side::Right }, sure))
    }

    /// How far feet of even steps stand to the left of the line between their neighbours, summed over the row.
    pub fn leaning_m(&self) -> f64 {
        let lean = |trio: &[Foot]| {
            let [s0, s1, s2] = [trio[0].step, trio[1].step, trio[2].step];
            if (s1 - s0) % 2 == 0 || (s2 - s1) % 2 == 0 {
                return 0.0;
            }
            let way = minus(trio[2].place, trio[0].place);
            let part = f64::from(s1 - s0) / f64::from(s2 - s0);
            let between = plus(trio[0].place, times(way, part));
            let off = dot(minus(trio[1].place, between), left_of(way)) / length(way).max(1e-9);
            if s1.rem_euclid(2) == 0 { off } else { -off }
        };
        self.feet.windows(3).map(lean).sum()
    }

    /// The regular walk through the first prints.
    pub fn beginning(&self) -> Regular {
        Regular::through(&self.feet[..self.feet.len().min(BEGINNING)])
    }

    /// The direction in which the row is read at one of its feet: from the foot two before to that two after, or of
    /// the nearest such pair at its ends.
    pub fn way(&self, at: usize) -> Vector {
        let last = self.feet.len() - 1;
        let (mut from, mut to) = (at.saturating_sub(2), (at + 2).min(last));
        // Ends of different feet would turn the way by the gauge.
        if (self.feet[to].step - self.feet[from].step) % 2 != 0 {
            if at > from {
                from += 1;
            } else {
                to -= 1;
            }
        }
        let way = minus(self.feet[to].place, self.feet[from].place);
        if length(way) < SAME_PLACE_M {
            self.beginning().pace
        } else {
            way
        }
    }

    pub fn last(&self) -> &Foot {
        &self.feet[self.feet.len() - 1]
    }
}

/// A regular walk: midline, pace and half gauge, without noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Regular {
    pub midline: Vector,
    pub pace: Vector,
}

impl Regular {
    /// Least squares of place on the step and, where both feet are there, on the foot's sign.
    pub fn through(feet: &[Foot]) -> Self {
        let sign = |foot: &Foot| if foot.step.rem_euclid(2) == 0 { 1.0 } else { -1.0 };
        let count = feet.len() as f64;
        let mean = |part: &dyn Fn(&Foot) -> f64| feet.iter().map(part).sum::<f64>() / count;
        let (step, signs) = (mean(&|foot| f64::from(foot.step)), mean(&sign));
        let about = |foot: &Foot| (f64::from(foot.step) - step, sign(foot) - signs);
        let (mut tt, mut ts, mut ss) = (0.0, 0.0, 0.0);
        for (t, s) in feet.iter().map(about) {
            (tt, ts, ss) = (tt + t * t, ts + t * s, ss + s * s);
        }
        let determinant = tt * ss - ts * ts;
        let slope = |axis: usize| {
            let (mut tp, mut sp) = (0.0, 0.0);
            for foot in feet {
                let (t, s) = about(foot);
                (tp, sp) = (tp + t * foot.place[axis], sp + s * foot.place[axis]);
            }
            // With one foot only there is no gauge to tell.
            if determinant > 1e-6 * tt * (ss + 1e-12) {
                (
                    (ss * tp - ts * sp) / determinant,
                    (tt * sp - ts * tp) / determinant,
                )
            } else {
                (tp / tt.max(1e-9), 0.0)
            }
        };
        let (east, north) = (slope(0), slope(1));
        let first = feet[0].step;
        let start = |axis: usize, (pace, gauge): (f64, f64)| {
            mean(&|foot| foot.place[axis]) - pace * (step - f64::from(first)) - gauge * signs
        };
        Self {
            midline: [start(0, east), start(1, north)],
            pace: [east.0, north.0],
        }
    }
}

fn place_of(index: &SurfaceIndex, no: PrintNo) -> [f64; 2] {
    let print = index.print(no);
    [print.easting_m, print.northing_m]
}

/// The prints of a trackway's main row.
pub(super) fn main_row(index: &SurfaceIndex, prints: &[PrintNo]) -> Vec<PrintNo> {
    let limbs = limbs(index, prints);
    let limb = if limbs.contains(&Limb::Pes) {
        Limb::Pes
    } else {
        Limb::Manus
    };
    distinct(index, prints, &limbs, limb)
}

/// The prints of a limb, without those that lie where the one before lies: they are one print recorded twice.
fn distinct(index: &SurfaceIndex, prints: &[PrintNo], limbs: &[Limb], limb: Limb) -> Vec<PrintNo> {
    let mut row: Vec<PrintNo> = Vec::new();
    for (no, _) in prints.iter().zip(limbs).filter(|(_, of)| **of == limb) {
        let before = row.last().map(|last| place_of(index, *last));
        if before.is_none_or(|before| length(minus(place_of(index, *no), before)) >= SAME_PLACE_M) {
            row.push(*no);
        }
    }
    row
}

/// Manus prints with the step of the pes print next to them in walking order that lies nearer.
fn fore(index: &SurfaceIndex, track: &Track, limbs: &[Limb]) -> Vec<(i32, PrintNo)> {
    let reach_m = 0.6 * length(track.beginning().pace);
    let mut next = 0;
    let mut sets = Vec::new();
    for (no, limb) in track.prints.iter().zip(limbs) {
        if track.feet.get(next).is_some_and(|foot| foot.no == *no) {
            next += 1;
        }
        if *limb != Limb::Manus {
            continue;
        }
        let at = minus(place_of(index, *no), track.origin);
        let near = [next.checked_sub(1), Some(next)].into_iter().flatten();
        let nearest = near
            .filter_map(|place| track.feet.get(place))
            .map(|foot| (length(minus(at, foot.place)), foot.step))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        sets.extend(
            nearest
                .filter(|(far_m, _)| *far_m < reach_m)
                .map(|(_, step)| (step, *no)),
        );
    }
    sets
}

/// Where a manus lies from its pes: ahead along the way, and away from the midline for feet that stand left of it.
pub(super) fn set_offset(track: &Track, step: i32, manus: Vector, outward: f64) -> Option<[f64; 2]> {
    let at = track.feet.iter().position(|foot| foot.step == step)?;
    let way = track.way(at);
    let unit = times(way, 1.0 / length(way).max(1e-9));
    let off = minus(manus, track.feet[at].place);
    let sign = if step.rem_euclid(2) == 0 {
        outward
    } else {
        -outward
    };
    Some([dot(off, unit), sign * dot(off, left_of(unit))])
}

/// The place of a manus beside a pes.
pub(super) fn beside(pes: Vector, heading_rad: f64, offset: [f64; 2], sign: f64) -> Vector {
    let ahead = along(heading_rad);
    plus(
        pes,
        plus(times(ahead, offset[0]), times(left_of(ahead), sign * offset[1])),
    )
}
