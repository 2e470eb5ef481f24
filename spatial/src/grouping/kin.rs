//! What a row's prints have in common: size, shape, limb, kind, and the alternation of sides and azimuths.

use super::evidence::{Evidence, Foot};
use super::gait::{Gait, Normal};
use super::terms::{Tally, Term};
use crate::angle::turn_rad;
use crate::model::{Limb, Side};
use std::f64::consts::{PI, TAU};

/// The part of measures that fit nothing: a broken print, a slip of the pen.
const ASTRAY: f64 = 0.04;
/// How far the rotation of a foot may stand from the heading, radians. Common practice: within some 15 degrees.
const ROTATION_SD_RAD: f64 = 0.25;

/// The attributes of a row so far.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Kin {
    size: Mean,
    shape: Mean,
    pes: f64,
    manus: f64,
    morphotype: Option<u16>,
    morphotype_count: f64,
    others: f64,
    /// ln odds that even steps are left ones.
    even_left: f64,
    /// ln odds that the row was walked in the order of its prints, by the azimuths alone.
    forward: f64,
    /// Rotations of the feet, outward for even steps, if walked forward and if walked backward.
    rotations: [Mean; 2],
}

#[derive(Debug, Clone, Copy, Default)]
struct Mean {
    count: f64,
    sum: f64,
}

impl Mean {
    fn add(&mut self, value: f64) {
        self.count += 1.0;
        self.sum += value;
    }

    /// What a further value should be like, when single values vary by `sd`.
    fn next(self, sd: f64) -> Normal {
        Normal {
            mean: self.sum / self.count,
            sd: sd * (1.0 + 1.0 / self.count).sqrt(),
        }
    }

    /// The same where the mean itself is about zero, give or take `spread`.
    fn next_about_zero(self, sd: f64, spread: f64) -> Normal {
        let weight = self.count + (sd / spread).powi(2);
        Normal {
            mean: self.sum / weight,
            sd: sd * (1.0 + 1.0 / weight).sqrt(),
        }
    }
}

impl Kin {
    /// The log-likelihood ratio of a further print's attributes, all but its azimuth, against those of any print.
    pub fn ratio(&self, gait: &Gait, evidence: &Evidence, foot: &Foot, even: bool) -> f64 {
        let mut ratio = 0.0;
        self.tell(gait, evidence, foot, even, &mut ratio);
        ratio
    }

    /// The same, each attribute by itself.
    pub fn tell(&self, gait: &Gait, evidence: &Evidence, foot: &Foot, even: bool, tally: &mut impl Tally) {
        let size = measure(self.size, gait.size_sd, foot.size, foot.size_density);
        tally.add(Term::Size, size);
        if let Some(shape) = foot.shape {
            let shape = measure(self.shape, gait.shape_sd, shape, foot.shape_density);
            tally.add(Term::Shape, shape);
        }
        if let Some(side) = foot.side {
            tally.add(Term::Side, self.of_side(gait, side, even));
        }
        if let Some(limb) = foot.limb {
            let (same, other, common) = match limb {
                Limb::Pes => (self.pes, self.manus, evidence.pes_share),
                Limb::Manus => (self.manus, self.pes, 1.0 - evidence.pes_share),
            };
            tally.add(Term::Limb, agreement(gait.wrong, same, other, common));
        }
        if let Some(number) = foot.morphotype {
            let common = evidence.morphotype_shares[usize::from(number)];
            let (same, other) = match self.morphotype {
                Some(known) if known == number => (self.morphotype_count, self.others),
                Some(_) => (0.0, self.morphotype_count),
                None => (0.0, 0.0),
            };
            tally.add(Term::Morphotype, agreement(gait.wrong, same, other, common));
        }
    }

    fn of_side(&self, gait: &Gait, side: Side, even: bool) -> f64 {
        let odds = if (side == Side::Left) == even {
            self.even_left
        } else {
            -self.even_left
        };
        let agrees = 1.0 / (1.0 + (-odds).exp());
        (2.0 * (gait.wrong + (1.0 - 2.0 * gait.wrong) * agrees)).ln()
    }

    fn azimuth_densities(&self, gait: &Gait, azimuth_rad: f64, heading_rad: f64, even: bool) -> [f64; 2] {
        [0, 1].map(|way| {
            let next = self.rotations[way].next_about_zero(gait.azimuth_sd_rad, ROTATION_SD_RAD);
            let rotation = rotation(azimuth_rad, heading_rad, even, way);
            // Unfolded: at these spreads nothing of the density is left a half circle away.
            let density = next.ln_density(rotation).exp();
            (1.0 - ASTRAY) * density + ASTRAY / TAU
        })
    }

    /// Takes a print in, all but its azimuth.
    pub fn add(&mut self, gait: &Gait, foot: &Foot, even: bool) {
        self.size.add(foot.size);
        if let Some(shape) = foot.shape {
            self.shape.add(shape);
        }
        match foot.limb {
            Some(Limb::Pes) => self.pes += 1.0,
            Some(Limb::Manus) => self.manus += 1.0,
            None => {}
        }
        if let Some(side) = foot.side {
            let weight = ((1.0 - gait.wrong) / gait.wrong).ln();
            self.even_left += if (side == Side::Left) == even {
                weight
            } else {
                -weight
            };
        }
        if let Some(number) = foot.morphotype {
            match self.morphotype {
                Some(known) if known != number => self.others += 1.0,
                _ => {
                    self.morphotype = Some(number);
                    self.morphotype_count += 1.0;
                }
            }
        }
    }

    /// Takes a print's azimuth in; gives its log-likelihood ratio against any azimuth.
    pub fn take_azimuth(&mut self, gait: &Gait, azimuth_rad: f64, heading_rad: f64, even: bool) -> f64 {
        let [forward, backward] = self.azimuth_densities(gait, azimuth_rad, heading_rad, even);
        let weight = 1.0 / (1.0 + (-self.forward).exp());
        let ratio = (TAU * (weight * forward + (1.0 - weight) * backward)).ln();
        self.forward += (forward / backward).ln();
        for way in [0, 1] {
            let rotation = rotation(azimuth_rad, heading_rad, even, way);
            // A foot that points astray says nothing of the rotation of the others.
            if rotation.abs() < PI / 3.0 {
                self.rotations[way].add(rotation);
            }
        }
        ratio
    }

    /// ln odds that the row was walked in the order of its prints, by azimuths.
    pub fn forward(&self) -> f64 {
        self.forward
    }

    /// ln odds that even steps are left ones, by the sides recorded.
    pub fn even_left(&self) -> f64 {
        self.even_left
    }
}

/// The turn of a foot from the way that is walked, with its sign changed at every other step.
fn rotation(azimuth_rad: f64, heading_rad: f64, even: bool, way: usize) -> f64 {
    let way_rad = heading_rad + if way == 0 { 0.0 } else { PI };
    let turn = turn_rad(way_rad, azimuth_rad);
    if even { turn } else { -turn }
}

/// The log-likelihood ratio of a measure against how common it is on the surface.
fn measure(so_far: Mean, sd: f64, value: f64, ln_common: f64) -> f64 {
    if so_far.count == 0.0 {
        return 0.0;
    }
    let fits = (so_far.next(sd).ln_density(value) - ln_common).exp();
    ((1.0 - ASTRAY) * fits + ASTRAY).ln()
}

/// The log-likelihood ratio of a name that `same` prints of the row bear and `other` do not, where `common` of all bear it.
fn agreement(wrong: f64, same: f64, other: f64, common: f64) -> f64 {
    if same + other == 0.0 {
        return 0.0;
    }
    // Which name is the row's own: the odds of a count against the other.
    let own = 1.0 / (1.0 + ((wrong / (1.0 - wrong)).ln() * (same - other)).exp());
    let bears = own * (1.0 - wrong) + (1.0 - own) * wrong * common;
    (bears / common).ln()
}
