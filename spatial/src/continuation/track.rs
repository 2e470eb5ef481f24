//! A trackway as continuation reads it: one row of feet with their steps, in either direction.

use super::options::ContinuationFault;
use super::plane::{Vector, along, dot, left_of, length, minus, plus, times};
use crate::gait::{Layout, Placed, layouts};
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::{Limb, Print, Record, Side};
use std::sync::Arc;

/// Standard deviation of a position in each axis where the print has none of its own, metres. Common practice: a
/// centimetre by tape, total station or image.
const POSITION_SD_M: f64 = 0.01;
/// The same for a radar anomaly. Common practice: a decimetre, about the spacing of the profiles.
const ANOMALY_SD_M: f64 = 0.1;
/// No coordinate of any projected CRS is larger, metres.
const FARTHEST_M: f64 = 1e8;
/// Places nearer to each other than this are one place.
const SAME_PLACE_M: f64 = 0.001;
/// The most prints that the reading of gaps by neighbouring steps thinks missing.
const MOST_READ: u32 = 7;
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
    /// ln odds that even steps stand to the left of the way it is read in, by the sides recorded.
    pub even_left: f64,
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
    ) -> Result<Self, ContinuationFault> {
        let mut prints = prints.to_vec();
        if reversed {
            prints.reverse();
        }
        let placed: Vec<Placed> = prints.iter().map(|no| Placed::from(index.print(*no))).collect();
        let astray = |placed: &&Placed| !placed.position_m.iter().all(|part| part.abs() <= FARTHEST_M);
        if let Some(placed) = placed.iter().find(astray) {
            return Err(ContinuationFault::Position(placed.print.label.clone()));
        }
        let [main, other] = layouts(&placed);
        if main.order.len() < 3 {
            return Err(ContinuationFault::TooFew(main.order.len()));
        }
        let origin = placed[main.order[0]].position_m;
        let feet = feet(&prints, &placed, &main, origin);
        let count = feet.len() as f64;
        let sizes = feet.iter().map(|foot| length_m(index.print(foot.no)).ln());
        let foot_m = (sizes.sum::<f64>() / count).exp();
        let mut track = Self {
            feet,
            limb: main.limb,
            fore: Vec::new(),
            origin,
            reversed,
            foot_m,
            even_left: 0.0,
            prints,
        };
        if length(track.beginning().pace) < SAME_PLACE_M {
            return Err(ContinuationFault::NoWay);
        }
        track.even_left = track.feet.iter().map(|foot| track.side_says(index, foot)).sum();
        if main.limb == Limb::Pes {
            track.fore = fore(&track, &placed, &other);
        }
        Ok(track)
    }

    fn side_says(&self, index: &SurfaceIndex, foot: &Foot) -> f64 {
        let Some(side) = index.print(foot.no).side else {
            return 0.0;
        };
        let left = (side == Side::Left) != self.reversed;
        if left == (foot.step.rem_euclid(2) == 0) {
            SIDE_ODDS
        } else {
            -SIDE_ODDS
        }
    }

    /// The side that a foot at this step has, and the probability of it; `None` where no side is known.
    pub fn side(&self, step: i32) -> Option<(Side, f64)> {
        if self.even_left == 0.0 {
            return None;
        }
        let even = step.rem_euclid(2) == 0;
        let left = (even == (self.even_left > 0.0)) != self.reversed;
        let sure = 1.0 / (1.0 + (-self.even_left.abs().min(30.0)).exp());
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

    /// The kind that most of its prints have.
    pub fn kind(&self, index: &SurfaceIndex) -> Option<Arc<str>> {
        index.kind_of(&self.prints).map(Arc::from)
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
                ((ss * tp - ts * sp) / determinant, (tt * sp - ts * tp) / determinant)
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

fn feet(prints: &[PrintNo], placed: &[Placed], row: &Layout, origin: [f64; 2]) -> Vec<Foot> {
    let at = |order: usize| minus(placed[order].position_m, origin);
    let mut paces_m: Vec<f64> = (row.order.windows(2).zip(&row.missing))
        .map(|(pair, missing)| length(minus(at(pair[1]), at(pair[0]))) / f64::from(missing + 1))
        .collect();
    paces_m.sort_unstable_by(f64::total_cmp);
    let pace_m = paces_m[paces_m.len() / 2];
    let mut step = 0;
    let mut feet: Vec<Foot> = Vec::with_capacity(row.order.len());
    for (place, order) in row.order.iter().enumerate() {
        let mut missing = if place > 0 { row.missing[place - 1] } else { 0 };
        if missing == MOST_READ {
            let far_m = length(minus(at(*order), at(row.order[place - 1])));
            missing = wide_gap(placed, [row.order[place - 1], *order], far_m / pace_m).max(missing);
        }
        step += i32::try_from(missing).unwrap_or(0) + i32::from(place > 0);
        feet.push(Foot {
            no: prints[*order],
            step,
            place: at(*order),
            position_m2: position_sd_m(placed[*order].print).powi(2),
        });
    }
    feet
}

/// How many prints are missing in a gap of so many paces, by the distance and by the sides where both are known.
fn wide_gap(placed: &[Placed], [from, to]: [usize; 2], paces: f64) -> u32 {
    let paces = paces.clamp(1.0, 1000.0);
    let whole = paces.round();
    let sides = placed[from].print.side.zip(placed[to].print.side);
    let odd_wanted = sides.map(|(one, other)| one != other);
    let odd = (whole as u32) % 2 == 1;
    let whole = match odd_wanted {
        Some(wanted) if wanted != odd => whole + if paces > whole { 1.0 } else { -1.0 },
        _ => whole,
    };
    (whole.max(1.0) as u32) - 1
}

/// Manus prints with the step of the pes print next to them in walking order that lies nearer.
fn fore(track: &Track, placed: &[Placed], row: &Layout) -> Vec<(i32, PrintNo)> {
    let mut orders: Vec<(usize, usize)> = Vec::new();
    for (place, foot) in track.feet.iter().enumerate() {
        if let Some(order) = track.prints.iter().position(|no| *no == foot.no) {
            orders.push((order, place));
        }
    }
    let reach_m = 0.6 * length(track.beginning().pace);
    let sets = row.order.iter().filter_map(|order| {
        let at = minus(placed[*order].position_m, track.origin);
        let next = orders.partition_point(|(other, _)| other < order);
        let near = [next.checked_sub(1), Some(next)];
        let (far_m, step) = (near.into_iter().flatten())
            .filter_map(|place| orders.get(place))
            .map(|(_, place)| {
                let foot = &track.feet[*place];
                (length(minus(at, foot.place)), foot.step)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        (far_m < reach_m).then_some((step, track.prints[*order]))
    });
    sets.collect()
}

/// Where a manus lies from its pes: ahead along the way, and away from the midline for feet that stand left of it.
pub(super) fn set_offset(track: &Track, step: i32, manus: Vector, outward: f64) -> Option<[f64; 2]> {
    let at = track.feet.iter().position(|foot| foot.step == step)?;
    let way = track.way(at);
    let unit = times(way, 1.0 / length(way).max(1e-9));
    let off = minus(manus, track.feet[at].place);
    let sign = if step.rem_euclid(2) == 0 { outward } else { -outward };
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
