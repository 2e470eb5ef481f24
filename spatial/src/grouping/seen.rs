//! What the rows found show of gaits.

use super::evidence::Foot;
use super::scoring::{Model, Row};
use crate::model::Limb;
use crate::sample::Sample;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// Rows with fewer prints teach nothing: too many of them are there by chance.
const LONG: usize = 6;

/// What rows show of gaits.
#[derive(Debug, Default)]
pub(super) struct Seen {
    pub paces: Sample,
    pub paces_of: Vec<[Sample; 2]>,
    pub pace_changes: Sample,
    pub turns: Sample,
    pub sizes: Sample,
    pub shapes: Sample,
    pub azimuths: Sample,
    pub unsteadiness: Sample,
    pub missing: f64,
    pub prints: f64,
}

impl Seen {
    /// What rows that are long enough show.
    pub fn of(model: &Model, rows: &[Row]) -> Self {
        let mut seen = Self::default();
        seen.paces_of
            .resize(model.evidence.morphotype_shares.len(), Default::default());
        for row in rows.iter().filter(|row| row.prints.len() >= LONG) {
            seen.row(model, row);
        }
        seen
    }

    fn row(&mut self, model: &Model, row: &Row) {
        let evidence = model.evidence;
        let Some(walk) = model.walk(&row.prints, &mut Vec::new()) else {
            return;
        };
        self.unsteadiness.add(walk.unsteadiness().ln());
        self.prints += row.prints.len() as f64;
        self.missing += row
            .missing
            .iter()
            .filter(|missing| **missing <= 2)
            .map(|missing| f64::from(*missing))
            .sum::<f64>();
        let feet: Vec<&Foot> = row.prints.iter().map(|member| evidence.foot(*member)).collect();
        self.sizes.add_deviations(feet.iter().map(|foot| foot.size));
        self.shapes
            .add_deviations(feet.iter().filter_map(|foot| foot.shape));
        self.paces(row, &feet);
        self.azimuths(&feet);
    }

    /// Each azimuth against the way from the print before to the print after, as an axis; and against the row's mean for each foot.
    fn azimuths(&mut self, feet: &[&Foot]) {
        let mut turns: [Vec<f64>; 2] = Default::default();
        for (at, trio) in feet.windows(3).enumerate() {
            if let Some(azimuth) = trio[1].azimuth {
                let turn = (trio[2].place - trio[0].place).turn_to_rad(azimuth);
                let along = if turn.abs() > FRAC_PI_2 {
                    turn - PI.copysign(turn)
                } else {
                    turn
                };
                // What points across the row was a slip, and is allowed for by its own small probability.
                if along.abs() < FRAC_PI_4 {
                    turns[at % 2].push(along);
                }
            }
        }
        for turns in turns {
            self.azimuths.add_deviations(turns.into_iter());
        }
    }

    /// One mean pace a row, since the paces of one animal are not independent; every change and turn.
    fn paces(&mut self, row: &Row, feet: &[&Foot]) {
        let whole: Vec<usize> = (0..row.missing.len())
            .filter(|at| row.missing[*at] == 0)
            .collect();
        let step = |at: usize| feet[at + 1].place - feet[at].place;
        if whole.is_empty() {
            return;
        }
        let size = feet.iter().map(|foot| foot.size).sum::<f64>() / feet.len() as f64;
        let pace = whole
            .iter()
            .map(|at| step(*at).length().max(1e-3).ln())
            .sum::<f64>()
            / whole.len() as f64
            - size;
        self.paces.add(pace);
        for (number, sample) in self.paces_of.iter_mut().enumerate() {
            let of_kind = feet
                .iter()
                .filter(|foot| foot.morphotype == Some(number as u16))
                .count();
            if of_kind * 3 > feet.len() {
                let manus = feet.iter().filter(|foot| foot.limb == Some(Limb::Manus)).count();
                sample[usize::from(manus * 3 > feet.len())].add(pace);
            }
        }
        for pair in whole.windows(2).filter(|pair| pair[1] == pair[0] + 1) {
            let (one, two) = (step(pair[0]), step(pair[1]));
            let change = (two.length().max(1e-3) / one.length().max(1e-3)).ln();
            self.pace_changes.add(change.clamp(-0.7, 0.7));
            self.turns.add(one.cross(two).atan2(one.dot(two)));
        }
    }
}
