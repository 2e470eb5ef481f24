//! Prints that are missing from a row.

use super::summary::median;
use crate::model::{Side, named};

/// How many neighbouring steps on each side tell what a pace is there. Few, so that an animal which starts to
/// run is not taken for one whose prints are missing.
const NEIGHBOURS: usize = 3;
/// The most prints thought missing in one gap.
const MOST: u32 = 7;
/// What each way of reading a step must gain over the plainer one, as ln of a length ratio: with unknown sides
/// a step is a gap from 1.6 paces on.
const READ_AS_GAP: f64 = 0.25;
/// The same for holding that a side is recorded wrongly: so from 1.2 paces down.
const READ_AS_WRONG_SIDE: f64 = 0.35;

named!(
    /// What tells how many prints are missing before a print.
    GapBasis {
        /// The caller said so.
        Given = "given",
        /// The sides of the prints before and after.
        Sides = "sides",
        /// The distance alone: about two or three times the neighbouring paces.
        Distance = "distance",
    }
);

/// The step from one print of a row to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gap {
    /// Prints missing between the two.
    pub missing: u32,
    pub basis: Option<GapBasis>,
    /// The prints are of one side, yet only a pace apart.
    pub side_doubted: bool,
}

/// What is known of a step before it is read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stepped {
    pub distance_m: f64,
    pub sides: [Option<Side>; 2],
    pub given: Option<u32>,
}

impl Stepped {
    fn same_side(self) -> Option<bool> {
        let [first, second] = self.sides;
        Some(first? == second?)
    }

    /// Its length for one pace, as far as it can be told without the neighbours.
    fn pace_m(self) -> f64 {
        match (self.given, self.same_side()) {
            (Some(missing), _) => self.distance_m / f64::from(missing + 1),
            (None, Some(true)) => self.distance_m / 2.0,
            (None, _) => self.distance_m,
        }
    }
}

/// Reads each step of a row as a pace or as a gap.
pub(super) fn read_gaps(steps: &[Stepped]) -> Vec<Gap> {
    let paces_m: Vec<f64> = steps.iter().map(|step| step.pace_m()).collect();
    (steps.iter().enumerate())
        .map(|(number, step)| {
            let before = &paces_m[number.saturating_sub(NEIGHBOURS)..number];
            let after = &paces_m[number + 1..steps.len().min(number + 1 + NEIGHBOURS)];
            let mut near: Vec<f64> = before.iter().chain(after).copied().collect();
            read(*step, median(&mut near))
        })
        .collect()
}

fn read(step: Stepped, pace_m: Option<f64>) -> Gap {
    if let Some(missing) = step.given {
        return Gap {
            missing,
            basis: (missing > 0).then_some(GapBasis::Given),
            side_doubted: false,
        };
    }
    let same_side = step.same_side();
    let plain = u32::from(same_side == Some(true));
    let cost = |missing: u32| {
        let misfit = pace_m.map_or(0.0, |pace_m| {
            (step.distance_m / (pace_m * f64::from(missing + 1))).ln().abs()
        });
        let wrong_side = same_side.is_some_and(|same| same != (missing % 2 == 1));
        misfit
            + if missing > plain { READ_AS_GAP } else { 0.0 }
            + if wrong_side { READ_AS_WRONG_SIDE } else { 0.0 }
    };
    // Opposite sides are never read as a gap of odd length: there the doubt is about the gap, not about the
    // side.
    let thinkable =
        (0..=MOST).filter(|missing| *missing == 0 || same_side != Some(false) || missing % 2 == 0);
    let missing = thinkable
        .min_by(|a, b| cost(*a).total_cmp(&cost(*b)))
        .unwrap_or(plain);
    let side_doubted = same_side == Some(true) && missing % 2 == 0;
    let basis = match same_side {
        Some(true) if !side_doubted => GapBasis::Sides,
        _ => GapBasis::Distance,
    };
    Gap {
        missing,
        basis: (missing > 0).then_some(basis),
        side_doubted,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn missing(steps: &[(f64, &str)]) -> Vec<u32> {
        let side = |letter: Option<char>| match letter {
            Some('L') => Some(Side::Left),
            Some('R') => Some(Side::Right),
            _ => None,
        };
        let steps: Vec<Stepped> = (steps.iter())
            .map(|&(distance_m, sides)| {
                let mut letters = sides.chars();
                Stepped {
                    distance_m,
                    sides: [side(letters.next()), side(letters.next())],
                    given: None,
                }
            })
            .collect();
        read_gaps(&steps).iter().map(|gap| gap.missing).collect()
    }

    #[test]
    fn a_step_of_two_or_three_paces_is_a_gap() {
        let step = |length| (length, "");
        assert_eq!(
            missing(&[step(1.0), step(1.1), step(2.05), step(0.95), step(2.9), step(1.0)]),
            [0, 0, 1, 0, 2, 0]
        );
        // A pace that is half as long again is a long pace.
        assert_eq!(
            missing(&[step(1.0), step(1.0), step(1.5), step(1.0)]),
            [0, 0, 0, 0]
        );
    }

    #[test]
    fn sides_tell_odd_from_even() {
        assert_eq!(
            missing(&[(1.0, "LR"), (1.9, "RR"), (1.0, "RL"), (3.1, "LR"), (1.0, "RL")]),
            [0, 1, 0, 2, 0]
        );
        assert_eq!(
            missing(&[(2.0, "LL"), (2.1, "LL"), (4.1, "LL"), (2.0, "LL")]),
            [1, 1, 3, 1]
        );
        assert_eq!(
            missing(&[(1.7, "RR")]),
            [1],
            "two prints of one side are a stride"
        );
    }

    #[test]
    fn an_animal_that_starts_to_run_misses_no_print() {
        let walk_then_run: Vec<(f64, &str)> = [1.35; 6].iter().chain(&[2.82; 6]).map(|d| (*d, "")).collect();
        assert_eq!(missing(&walk_then_run), [0; 12]);
    }

    #[test]
    fn one_side_a_pace_apart_is_a_doubt_and_no_gap() {
        let sides = [Some(Side::Left), Some(Side::Right)];
        let pace = Stepped {
            distance_m: 1.0,
            sides,
            given: None,
        };
        let odd = Stepped {
            sides: [Some(Side::Right); 2],
            ..pace
        };
        let read = read_gaps(&[pace, pace, odd, pace, pace]);
        assert_eq!((read[2].missing, read[2].side_doubted), (0, true));
        let told = Stepped {
            given: Some(4),
            ..pace
        };
        let read = read_gaps(&[pace, told, pace]);
        assert_eq!((read[1].missing, read[1].basis), (4, Some(GapBasis::Given)));
    }
}
