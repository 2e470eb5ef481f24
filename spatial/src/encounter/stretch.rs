//! Where two paths run side by side, measured.

use super::path::{Path, between_rad, distance_m};
use crate::angle::turn_rad;

/// Which stretches count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    /// No farther apart.
    pub apart_m: f64,
    /// Headings differ by no more.
    pub turned_rad: f64,
    /// The same way, or opposite ways.
    pub same_way: bool,
}

/// One place of a stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Abreast {
    /// How far along the first path.
    pub one_m: f64,
    /// How far along the second.
    pub other_m: f64,
    /// The place on the first path.
    pub at: [f64; 2],
    /// The nearest place of the second path.
    pub beside: [f64; 2],
    /// How far the second lies to the right of the first; to its left it is negative.
    pub right_m: f64,
    /// The turn from the heading of the first to that of the second (or to its reverse, for opposite ways).
    pub turn_rad: f64,
}

/// A stretch along which two paths run side by side, from place to place of the first at equal distances.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stretch {
    pub places: Vec<Abreast>,
    /// The distance from place to place, along the first.
    pub step_m: f64,
}

/// Places along the longest path that are looked at.
const MOST_PLACES: usize = 2000;

impl Stretch {
    /// The longest stretch along which the second path is nowhere farther from the first than allowed, leads as it
    /// does, and goes on steadily; `None` where there is none.
    pub fn longest(one: &Path, other: &Path, bounds: Bounds) -> Option<Self> {
        let legs = one.line_m.len() - 1;
        let length_m = one.length_m();
        // Two places to a leg, so that no bend is cut off.
        let pieces = (2 * legs).min(MOST_PLACES);
        let step_m = length_m / pieces as f64;
        let mut longest: Option<Vec<Abreast>> = None;
        let mut run: Vec<Abreast> = Vec::new();
        for piece in 0..=pieces {
            let place = abreast(one, other, step_m * piece as f64, bounds);
            let goes_on = match (run.last(), &place) {
                (Some(last), Some(place)) => steady(last, place, step_m, bounds),
                _ => true,
            };
            if place.is_none() || !goes_on {
                keep_longer(&mut longest, &mut run);
            }
            run.extend(place);
        }
        keep_longer(&mut longest, &mut run);
        let places = longest.filter(|places| places.len() >= 2)?;
        Some(Self { places, step_m })
    }

    /// From where to where along the first path, metres.
    pub fn along_one_m(&self) -> [f64; 2] {
        [self.places[0].one_m, self.places[self.places.len() - 1].one_m]
    }

    /// From where to where along the second.
    pub fn along_other_m(&self) -> [f64; 2] {
        let (first, last) = (self.places[0].other_m, self.places[self.places.len() - 1].other_m);
        [first.min(last), first.max(last)]
    }

    /// The mean of both lengths.
    pub fn length_m(&self) -> f64 {
        let [one, other] = [self.along_one_m(), self.along_other_m()].map(|[from, to]| to - from);
        (one + other) / 2.0
    }

    /// The line half way between the two.
    pub fn line_m(&self) -> Vec<[f64; 2]> {
        let half = |place: &Abreast| [0, 1].map(|axis| (place.at[axis] + place.beside[axis]) / 2.0);
        self.places.iter().map(half).collect()
    }

    /// Mean and standard deviation of a measure of each place; the deviation is 0 for one place.
    pub fn mean_sd(&self, measure: impl Fn(&Abreast) -> f64) -> (f64, f64) {
        let values: Vec<f64> = self.places.iter().map(measure).collect();
        mean_sd(values.iter().copied())
    }
}

/// The mean and the sample standard deviation.
pub(super) fn mean_sd(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count.max(1.0);
    let squares: f64 = values.map(|value| (value - mean).powi(2)).sum();
    (mean, (squares / (count - 1.0).max(1.0)).sqrt())
}

fn keep_longer(longest: &mut Option<Vec<Abreast>>, run: &mut Vec<Abreast>) {
    let run = std::mem::take(run);
    if longest.as_ref().is_none_or(|longest| run.len() > longest.len()) && !run.is_empty() {
        *longest = Some(run);
    }
}

/// Whether the second path goes on too: not back by more than two steps, nor ahead by more than the way around.
fn steady(last: &Abreast, place: &Abreast, step_m: f64, bounds: Bounds) -> bool {
    let on_m = (place.other_m - last.other_m) * if bounds.same_way { 1.0 } else { -1.0 };
    on_m >= -2.0 * step_m && on_m <= 3.0 * step_m + 2.0 * last.right_m.abs().max(place.right_m.abs())
}

/// The nearest place of the second path that leads alike, beside a place of the first; `None` where it is too far or
/// the second path does not reach there.
fn abreast(one: &Path, other: &Path, one_m: f64, bounds: Bounds) -> Option<Abreast> {
    let at = one.at_m(one_m);
    let heading = one.azimuth_at_rad(one_m);
    let last_leg = other.line_m.len() - 2;
    let mut nearest: Option<(f64, Abreast)> = None;
    for leg in 0..=last_leg {
        let (from, to) = (other.line_m[leg], other.line_m[leg + 1]);
        let length_m = other.walked_m[leg + 1] - other.walked_m[leg];
        let way = [0, 1].map(|axis| (to[axis] - from[axis]) / length_m);
        let along_m = (at[0] - from[0]) * way[0] + (at[1] - from[1]) * way[1];
        let slack_m = 1e-9 * (1.0 + length_m);
        if (leg == 0 && along_m < -slack_m) || (leg == last_leg && along_m > length_m + slack_m) {
            continue;
        }
        let along_m = along_m.clamp(0.0, length_m);
        let beside = [0, 1].map(|axis| from[axis] + along_m * way[axis]);
        let apart_m = distance_m(at, beside);
        if apart_m > bounds.apart_m || nearest.as_ref().is_some_and(|(least, _)| *least <= apart_m) {
            continue;
        }
        let leads = if bounds.same_way {
            way
        } else {
            way.map(|part| -part)
        };
        let turn = turn_rad(heading, leads[0].atan2(leads[1]));
        if turn.abs() > bounds.turned_rad {
            continue;
        }
        let (sine, cosine) = heading.sin_cos();
        let to_right = (beside[0] - at[0]) * cosine - (beside[1] - at[1]) * sine;
        nearest = Some((
            apart_m,
            Abreast {
                one_m,
                other_m: other.walked_m[leg] + along_m,
                at,
                beside,
                right_m: apart_m.copysign(to_right),
                turn_rad: turn,
            },
        ));
    }
    nearest.map(|(_, place)| place)
}

/// How often two lines cross, touching not counted.
pub(super) fn crossings(one: &Path, other: &Path) -> usize {
    let side = |from: [f64; 2], to: [f64; 2], at: [f64; 2]| {
        (to[0] - from[0]) * (at[1] - from[1]) - (to[1] - from[1]) * (at[0] - from[0])
    };
    // A vertex on the other line belongs to one side, so that going through it counts once.
    let parts = |a: f64, b: f64| (a >= 0.0) != (b >= 0.0);
    let mut count = 0;
    for a in one.line_m.windows(2) {
        for b in other.line_m.windows(2) {
            let crosses = parts(side(a[0], a[1], b[0]), side(a[0], a[1], b[1]))
                && parts(side(b[0], b[1], a[0]), side(b[0], b[1], a[1]));
            count += usize::from(crosses);
        }
    }
    count
}

/// The greatest difference of headings along a stretch, radians.
pub(super) fn greatest_turn_rad(stretch: &Stretch) -> f64 {
    (stretch.places.iter())
        .map(|place| between_rad(0.0, place.turn_rad))
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn numbers(value: &Value) -> Vec<Vec<f64>> {
        serde_json::from_value(value.clone()).unwrap()
    }

    /// Places along lines, and how far along and how far off a place beside them lies, as GEOS finds them;
    /// `fixtures/reference/along_lines.json` names its version.
    #[test]
    fn distances_along_and_off_lines_are_those_of_geos() {
        let file = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../fixtures/reference/along_lines.json"
        );
        let fixture: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
        let label = || "T1".parse().unwrap();
        let bounds = Bounds {
            apart_m: 1e6,
            turned_rad: 4.0,
            same_way: true,
        };
        let mut compared = 0;
        for case in fixture["cases"].as_array().unwrap() {
            let line = numbers(&case["line"]).iter().map(|at| [at[0], at[1]]).collect();
            let path = Path::along(label(), line, 0.3).unwrap();
            assert!((path.length_m() - case["length"].as_f64().unwrap()).abs() < 1e-8);
            for along in numbers(&case["along"]) {
                assert!(
                    distance_m(path.at_m(along[0]), [along[1], along[2]]) < 1e-6,
                    "{along:?}"
                );
            }
            for beside in numbers(&case["beside"]) {
                let (at, along_m, apart_m) = ([beside[0], beside[1]], beside[2], beside[3]);
                // Beyond its ends a path is not abreast of anything.
                if along_m < 1e-6 || along_m > path.length_m() - 1e-6 {
                    continue;
                }
                let from = Path::along(label(), vec![at, [at[0] + 1.0, at[1]]], 0.3).unwrap();
                let found = abreast(&from, &path, 0.0, bounds).unwrap();
                assert!(
                    (found.right_m.abs() - apart_m).abs() < 1e-6,
                    "{beside:?} {found:?}"
                );
                assert!((found.other_m - along_m).abs() < 1e-4, "{beside:?} {found:?}");
                compared += 1;
            }
        }
        assert!(compared > 80, "{compared} places compared");
    }
}
