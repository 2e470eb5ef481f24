//! What is held of gaits beforehand, and learnt from the trackways found.

use super::evidence::{Evidence, Foot, Member};
use super::scoring::{Model, Row};
use crate::angle::turn_rad;
use crate::model::Limb;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

/// A normal distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Normal {
    pub mean: f64,
    pub sd: f64,
}

impl Normal {
    pub fn ln_density(self, value: f64) -> f64 {
        let off = (value - self.mean) / self.sd;
        -0.5 * off * off - self.sd.ln() - 0.918_938_533_204_672_7
    }
}

/// What is expected of every row of prints.
#[derive(Debug, Clone)]
pub(super) struct Gait {
    /// ln of pace over foot length.
    pub pace: Normal,
    /// The same for each morphotype's pes and manus, where enough rows were found.
    pub pace_of: Vec<[Option<Normal>; 2]>,
    /// Standard deviation of the ln of one pace over the pace before.
    pub pace_change_sd: f64,
    /// Standard deviation of the turn from one pace to the next, radians: 0 where prints stand in one line.
    pub zigzag_sd_rad: f64,
    /// Typical unsteadiness of a row, as a part of its pace.
    pub unsteadiness: f64,
    /// Standard deviation of ln length and of ln (width / length) within a row.
    pub size_sd: f64,
    pub shape_sd: f64,
    /// Standard deviation of a foot's azimuth against the heading, its rotation allowed for, radians.
    pub azimuth_sd_rad: f64,
    /// The probability that a side, limb or morphotype is recorded wrongly.
    pub wrong: f64,
    /// The probability that a print is missing where the rock is exposed.
    pub missing: f64,
    /// ln of the odds of a row's beginning and ending where it does.
    pub ends: f64,
    /// The part of all prints that would lie where they lie without any row.
    pub background: f64,
}

impl Gait {
    /// Broad beliefs before anything is seen. Common practice: paces of two to eight foot lengths, more for the
    /// small fore feet of quadrupeds and for runners; pace angulation from 100 to 180 degrees; paces that vary by
    /// 5 to 15 % within a trackway.
    pub fn broad() -> Self {
        Self {
            pace: Normal {
                mean: 3.8f64.ln(),
                sd: 0.5,
            },
            pace_of: Vec::new(),
            pace_change_sd: 0.18,
            zigzag_sd_rad: 0.7,
            unsteadiness: 0.07,
            size_sd: 0.08,
            shape_sd: 0.1,
            azimuth_sd_rad: 0.3,
            wrong: 0.03,
            missing: 0.12,
            ends: -5.0,
            background: 0.3,
        }
    }

    /// The longest pace that is thought of for a foot of this length.
    pub fn longest_pace_m(&self, length_m: f64) -> f64 {
        length_m * (self.pace.mean + 2.2 * self.pace.sd).exp()
    }

    /// What is expected of the pace of a row like this print's.
    pub fn pace_of(&self, evidence: &Evidence, member: Member) -> Normal {
        let foot = evidence.foot(member);
        let of_kind = foot
            .morphotype
            .and_then(|number| self.pace_of.get(usize::from(number)));
        let limb = usize::from(foot.limb == Some(Limb::Manus));
        of_kind.and_then(|limbs| limbs[limb]).unwrap_or(self.pace)
    }

    /// Learns from the rows found. Each measure is drawn towards the belief before, as if that were the
    /// experience of some rows more, so that a surface with few trackways is not taken for a rule.
    pub fn learnt(&self, model: &Model, rows: &[Row]) -> Self {
        let long: Vec<&Row> = rows.iter().filter(|row| row.prints.len() >= LONG).collect();
        let seen = Seen::of(model, &long);
        let mut learnt = self.clone();
        learnt.pace = seen.paces.drawn_to(self.pace, 10.0);
        learnt.pace_of = (seen.paces_of.iter())
            .map(|limbs| {
                limbs
                    .each_ref()
                    .map(|paces| (paces.count >= 3.0).then(|| paces.drawn_to(learnt.pace, 3.0)))
            })
            .collect();
        learnt.pace_change_sd = seen
            .pace_changes
            .drawn_to(
                Normal {
                    mean: 0.0,
                    sd: self.pace_change_sd,
                },
                60.0,
            )
            .sd;
        learnt.zigzag_sd_rad = seen
            .turns
            .drawn_to(
                Normal {
                    mean: 0.0,
                    sd: self.zigzag_sd_rad,
                },
                60.0,
            )
            .sd;
        learnt.size_sd = seen
            .sizes
            .drawn_to(
                Normal {
                    mean: 0.0,
                    sd: self.size_sd,
                },
                60.0,
            )
            .sd;
        learnt.shape_sd = seen
            .shapes
            .drawn_to(
                Normal {
                    mean: 0.0,
                    sd: self.shape_sd,
                },
                60.0,
            )
            .sd;
        learnt.azimuth_sd_rad = seen
            .azimuths
            .drawn_to(
                Normal {
                    mean: 0.0,
                    sd: self.azimuth_sd_rad,
                },
                40.0,
            )
            .sd;
        learnt.unsteadiness = seen
            .unsteadiness
            .drawn_to(
                Normal {
                    mean: self.unsteadiness.ln(),
                    sd: 0.3,
                },
                10.0,
            )
            .mean
            .exp();
        learnt.missing =
            ((seen.missing + 50.0 * self.missing) / (seen.prints + seen.missing + 50.0)).clamp(0.02, 0.4);
        learnt
    }
}

/// Rows with fewer prints teach nothing: too many of them are there by chance.
const LONG: usize = 6;

/// Count, mean and variance of a sample.
#[derive(Debug, Clone, Copy, Default)]
struct Sample {
    count: f64,
    sum: f64,
    sum_2: f64,
}

impl Sample {
    fn add(&mut self, value: f64) {
        self.count += 1.0;
        self.sum += value;
        self.sum_2 += value * value;
    }

    /// Mean and standard deviation, as if `weight` values of the belief had been seen too.
    fn drawn_to(self, belief: Normal, weight: f64) -> Normal {
        let count = self.count + weight;
        let mean = (self.sum + weight * belief.mean) / count;
        let mean_2 = (self.sum_2 + weight * (belief.mean * belief.mean + belief.sd * belief.sd)) / count;
        Normal {
            mean,
            sd: (mean_2 - mean * mean).max(1e-6).sqrt(),
        }
    }
}

/// What rows show of gaits.
#[derive(Debug, Default)]
struct Seen {
    paces: Sample,
    paces_of: Vec<[Sample; 2]>,
    pace_changes: Sample,
    turns: Sample,
    sizes: Sample,
    shapes: Sample,
    azimuths: Sample,
    unsteadiness: Sample,
    missing: f64,
    prints: f64,
}

impl Seen {
    fn of(model: &Model, rows: &[&Row]) -> Self {
        let mut seen = Self::default();
        seen.paces_of
            .resize(model.evidence.morphotype_shares.len(), Default::default());
        for row in rows {
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
        let sizes: Vec<f64> = feet.iter().map(|foot| foot.size).collect();
        spread(&sizes, &mut self.sizes);
        let shapes: Vec<f64> = feet.iter().filter_map(|foot| foot.shape).collect();
        spread(&shapes, &mut self.shapes);
        self.paces(row, &feet);
        self.azimuths(&feet);
    }

    /// Each azimuth against the way from the print before to the print after, as an axis; and against the row's mean for each foot.
    fn azimuths(&mut self, feet: &[&Foot]) {
        let mut turns: [Vec<f64>; 2] = Default::default();
        for (at, trio) in feet.windows(3).enumerate() {
            if let Some(azimuth_rad) = trio[1].azimuth_rad {
                let turn = turn_rad((trio[2].place - trio[0].place).azimuth_rad(), azimuth_rad);
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
        turns.iter().for_each(|turns| spread(turns, &mut self.azimuths));
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

/// Adds the deviations from the mean, widened as befits a sample.
fn spread(values: &[f64], into: &mut Sample) {
    let count = values.len() as f64;
    if count < 2.0 {
        return;
    }
    let mean = values.iter().sum::<f64>() / count;
    for value in values {
        into.add((value - mean) * (count / (count - 1.0)).sqrt());
    }
}
