//! A standing trackway as a line along its middle.

use crate::angle::{azimuth_rad, turn_rad};
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::{Label, Limb, Trackway};
use serde::Serialize;

/// Prints nearer to each other than this lie at one place.
const SAME_PLACE_M: f64 = 0.001;
/// No coordinate of any projected CRS is larger, metres.
const FARTHEST_M: f64 = 1e8;

/// A trackway as encounters see it.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// The trackway's label.
    pub trackway: Label,
    /// The prints of its main row in walking order: pes prints, or manus prints where there are no others.
    pub prints: Vec<PrintNo>,
    /// The middle of the trackway beside each of those prints; easting and northing, metres.
    pub line_m: Vec<[f64; 2]>,
    /// How far along the line each of them lies, metres from the first.
    pub walked_m: Vec<f64>,
    /// The mean length of those prints, metres.
    pub foot_m: f64,
    /// How far each step leads along the line, metres: half a stride. Where prints are missing, for one step.
    pub half_strides_m: Vec<f64>,
    /// Its speed, where the caller knows it.
    pub speed: Option<SpeedRange>,
}

/// A speed and what it may be, metres a second.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpeedRange {
    /// The most probable.
    pub speed_m_s: f64,
    /// It is hardly less.
    pub low_m_s: f64,
    /// It is hardly more.
    pub high_m_s: f64,
}

impl Path {
    /// The paths of all standing trackways of a surface, in the order of labels, and the labels of those that make no
    /// path: fewer than three prints of one limb at different places.
    #[must_use]
    pub fn all(index: &SurfaceIndex) -> (Vec<Self>, Vec<Label>) {
        let (mut paths, mut left_out) = (Vec::new(), Vec::new());
        for trackway in index.standing_trackways() {
            match Self::of(index, trackway) {
                Some(path) => paths.push(path),
                None => left_out.push(trackway.label.clone()),
            }
        }
        (paths, left_out)
    }

    /// One trackway's path; `None` where fewer than three prints of one limb lie at different places.
    #[must_use]
    pub fn of(index: &SurfaceIndex, trackway: &Trackway) -> Option<Self> {
        let all = index.prints_of(trackway);
        let is_pes = |no: &PrintNo| index.print(*no).limb != Some(Limb::Manus);
        let row: Vec<PrintNo> = if all.iter().any(is_pes) {
            all.into_iter().filter(is_pes).collect()
        } else {
            all
        };
        let place = |no: &PrintNo| [index.print(*no).easting_m, index.print(*no).northing_m];
        let mut prints: Vec<PrintNo> = Vec::with_capacity(row.len());
        for no in row {
            let apart = prints
                .last()
                .is_none_or(|last| distance_m(place(last), place(&no)) > SAME_PLACE_M);
            if apart && place(&no).iter().all(|part| part.abs() <= FARTHEST_M) {
                prints.push(no);
            }
        }
        let places: Vec<[f64; 2]> = prints.iter().map(place).collect();
        let line_m = midline(&places)?;
        let lengths = prints.iter().map(|no| index.print(*no).length_m);
        let known: Vec<f64> = lengths
            .filter(|length| length.is_finite() && *length > 0.0)
            .collect();
        Some(Self {
            trackway: trackway.label.clone(),
            foot_m: known.iter().sum::<f64>() / known.len().max(1) as f64,
            half_strides_m: half_strides_m(&places, &line_m),
            speed: None,
            walked_m: walked(&line_m),
            prints,
            line_m,
        })
    }

    /// A path through places that are already its middle, a step each, for scenes of one's own; `None` for fewer than
    /// two different ones, and where one is no place.
    #[must_use]
    pub fn along(trackway: Label, mut line_m: Vec<[f64; 2]>, foot_m: f64) -> Option<Self> {
        line_m.dedup_by(|a, b| distance_m(*a, *b) <= SAME_PLACE_M);
        let sound = line_m.iter().flatten().all(|part| part.abs() <= FARTHEST_M);
        (line_m.len() >= 2 && sound).then(|| Self {
            trackway,
            prints: Vec::new(),
            half_strides_m: half_strides_m(&line_m, &line_m),
            speed: None,
            walked_m: walked(&line_m),
            line_m,
            foot_m,
        })
    }

    /// Its length along the line, metres.
    #[must_use]
    pub fn length_m(&self) -> f64 {
        self.walked_m.last().copied().unwrap_or(0.0)
    }

    /// The mean stride, metres.
    #[must_use]
    pub fn stride_m(&self) -> Option<f64> {
        let count = self.half_strides_m.len();
        (count > 0).then(|| 2.0 * self.half_strides_m.iter().sum::<f64>() / count as f64)
    }

    /// The direction from its first place to its last, radians from grid north.
    #[must_use]
    pub fn heading_rad(&self) -> f64 {
        let (first, last) = (self.line_m[0], self.line_m[self.line_m.len() - 1]);
        azimuth_rad(last[0] - first[0], last[1] - first[1])
    }

    /// The place half way along the line, easting and northing, metres.
    #[must_use]
    pub fn middle_m(&self) -> [f64; 2] {
        self.at_m(self.length_m() / 2.0)
    }

    /// The place so far along the line; the first or last place beyond its ends.
    #[must_use]
    pub fn at_m(&self, along_m: f64) -> [f64; 2] {
        let leg = self.leg_at(along_m);
        let (from, to) = (self.line_m[leg], self.line_m[leg + 1]);
        let length = self.walked_m[leg + 1] - self.walked_m[leg];
        let part = ((along_m - self.walked_m[leg]) / length).clamp(0.0, 1.0);
        [0, 1].map(|axis| from[axis] + part * (to[axis] - from[axis]))
    }

    /// The direction of the leg so far along the line, radians from grid north.
    #[must_use]
    pub fn azimuth_at_rad(&self, along_m: f64) -> f64 {
        let leg = self.leg_at(along_m);
        let (from, to) = (self.line_m[leg], self.line_m[leg + 1]);
        azimuth_rad(to[0] - from[0], to[1] - from[1])
    }

    /// The mean distance between neighbouring places of the line, metres.
    #[must_use]
    pub fn pace_m(&self) -> f64 {
        self.length_m() / (self.line_m.len() - 1) as f64
    }

    /// The prints next before and after a place so far along the line; none before the first and after the last.
    #[must_use]
    pub fn prints_beside(&self, along_m: f64) -> [Option<PrintNo>; 2] {
        let after = self.walked_m.partition_point(|walked| *walked <= along_m);
        [after.checked_sub(1), Some(after)].map(|at| self.prints.get(at?).copied())
    }

    fn leg_at(&self, along_m: f64) -> usize {
        let after = self.walked_m.partition_point(|walked| *walked <= along_m);
        after.saturating_sub(1).min(self.line_m.len() - 2)
    }
}

/// The middle of a trackway beside each of its prints; `None` for fewer than three or where it leads nowhere.
///
/// # Formula
/// mᵢ = (pᵢ₋₁ + 2 pᵢ + pᵢ₊₁) / 4: feet that stand alternately half a gauge to the left and to the right of a straight
/// way come out on it. The first and the last go on from their neighbour by half the stride there.
fn midline(prints: &[[f64; 2]]) -> Option<Vec<[f64; 2]>> {
    let count = prints.len();
    if count < 3 {
        return None;
    }
    let inner = |at: usize| {
        [0, 1].map(|axis| (prints[at - 1][axis] + 2.0 * prints[at][axis] + prints[at + 1][axis]) / 4.0)
    };
    let mut line: Vec<[f64; 2]> = Vec::with_capacity(count);
    line.push([0, 1].map(|axis| inner(1)[axis] - (prints[2][axis] - prints[0][axis]) / 2.0));
    line.extend((1..count - 1).map(inner));
    let half = [0, 1].map(|axis| (prints[count - 1][axis] - prints[count - 3][axis]) / 2.0);
    let last = line[count - 2];
    line.push([last[0] + half[0], last[1] + half[1]]);
    // Prints may go to and fro so that the middle stands still; a leg of no length has no direction.
    line.dedup_by(|a, b| distance_m(*a, *b) <= SAME_PLACE_M);
    (line.len() == count).then_some(line)
}

/// What each step leads along the line; a step that is twice or more the middling one has prints missing in it.
fn half_strides_m(places: &[[f64; 2]], line_m: &[[f64; 2]]) -> Vec<f64> {
    let mut advances_m: Vec<f64> = (places.windows(2).zip(line_m.windows(2)))
        .map(|(step, leg)| {
            let along = [0, 1].map(|axis| (step[1][axis] - step[0][axis]) * (leg[1][axis] - leg[0][axis]));
            (along[0] + along[1]) / distance_m(leg[0], leg[1])
        })
        .collect();
    let mut sorted = advances_m.clone();
    sorted.sort_unstable_by(f64::total_cmp);
    let middling = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    for advance in &mut advances_m {
        *advance /= (*advance / middling).round().max(1.0);
    }
    advances_m
}

fn walked(line_m: &[[f64; 2]]) -> Vec<f64> {
    let mut walked_m = Vec::with_capacity(line_m.len());
    let mut sum = 0.0;
    walked_m.push(sum);
    for pair in line_m.windows(2) {
        sum += distance_m(pair[0], pair[1]);
        walked_m.push(sum);
    }
    walked_m
}

pub(super) fn distance_m(one: [f64; 2], other: [f64; 2]) -> f64 {
    (other[0] - one[0]).hypot(other[1] - one[1])
}

/// The angle between two directions, 0 to π.
pub(super) fn between_rad(one_rad: f64, other_rad: f64) -> f64 {
    turn_rad(one_rad, other_rad).abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_a_straight_trackway_is_straight() {
        let prints: Vec<[f64; 2]> = (0..7)
            .map(|step| [f64::from(step), if step % 2 == 0 { 0.2 } else { -0.2 }])
            .collect();
        let line = midline(&prints).unwrap();
        for (step, place) in line.iter().enumerate() {
            assert!(
                (place[0] - step as f64).abs() < 1e-12 && place[1].abs() < 1e-12,
                "{step}: {place:?}"
            );
        }
    }

    #[test]
    fn what_leads_nowhere_is_no_path() {
        assert_eq!(midline(&[[0.0, 0.0], [1.0, 0.0]]), None);
        assert_eq!(midline(&[[0.0, 0.0], [1.0, 0.0], [0.0, 0.0]]), None);
    }

    #[test]
    fn places_along_a_path() {
        let path = Path::along(
            "T1".parse().unwrap(),
            vec![[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]],
            0.3,
        )
        .unwrap();
        assert_eq!(path.length_m(), 7.0);
        assert_eq!(path.at_m(5.0), [3.0, 2.0]);
        assert_eq!(path.at_m(-1.0), [0.0, 0.0]);
        assert_eq!(path.at_m(9.0), [3.0, 4.0]);
        assert_eq!(path.azimuth_at_rad(5.0), 0.0);
    }
}
