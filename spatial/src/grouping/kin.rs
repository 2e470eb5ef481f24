//! What a row's prints have in common: size, shape, limb, kind, and the alternation of sides and azimuths.

use super::evidence::{Evidence, Foot};
use super::gait::Gait;
use super::motion::Vector;
use super::scatter::{Mean, Scatter};
use super::terms::{Sum, Tally, Term};
use crate::model::{Limb, Side};
use std::f64::consts::{PI, TAU};

/// The part of measures that fit nothing: a broken print, a slip of the pen.
const ASTRAY: f64 = 0.04;
/// Odds beyond this, either way, tell nothing more; and a longer row's would overflow.
const SURE: f64 = 1e200;

/// The attributes of a row so far.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kin {
    size: Mean,
    shape: Mean,
    pes: i32,
    manus: i32,
    morphotype: Option<u16>,
    morphotype_count: i32,
    others: i32,
    /// Sides that speak for even steps being left ones, less those that speak against it.
    even_left: i32,
    /// Odds that the row was walked in the order of its prints, by the azimuths alone.
    forward: f64,
    /// Rotations of the feet, outward for even steps, if walked forward and if walked backward.
    rotations: [Mean; 2],
}

impl Default for Kin {
    fn default() -> Self {
        Self {
            size: Mean::default(),
            shape: Mean::default(),
            pes: 0,
            manus: 0,
            morphotype: None,
            morphotype_count: 0,
            others: 0,
            even_left: 0,
            forward: 1.0,
            rotations: [Mean::default(); 2],
        }
    }
}

impl Gait {
    /// The most that an azimuth can add to a score.
    pub fn most_of_azimuth(&self) -> f64 {
        ((1.0 - ASTRAY) * TAU.sqrt() / self.azimuth.sd + ASTRAY).ln()
    }
}

impl Kin {
    /// The log-likelihood ratio of a further print's attributes, all but its azimuth, against those of any print.
    pub fn ratio(&self, gait: &Gait, evidence: &Evidence, foot: &Foot, even: bool) -> f64 {
        let mut sum = Sum::new();
        self.tell(gait, evidence, foot, even, &mut sum);
        sum.total()
    }

    /// The same, each attribute by itself.
    pub fn tell(&self, gait: &Gait, evidence: &Evidence, foot: &Foot, even: bool, tally: &mut impl Tally) {
        let size = measure(self.size, &gait.size, foot.size, foot.size_density);
        tally.times(Term::Size, size);
        if let Some(shape) = foot.shape {
            let shape = measure(self.shape, &gait.shape, shape, foot.shape_density);
            tally.times(Term::Shape, shape);
        }
        if let Some(side) = foot.side {
            tally.times(Term::Side, self.of_side(gait, side, even));
        }
        if let Some(limb) = foot.limb {
            let (same, other, common) = match limb {
                Limb::Pes => (self.pes, self.manus, evidence.pes_share),
                Limb::Manus => (self.manus, self.pes, 1.0 - evidence.pes_share),
            };
            tally.times(Term::Limb, agreement(gait, same, other, common));
        }
        if let Some(number) = foot.morphotype {
            let common = evidence.morphotype_shares[usize::from(number)];
            let (same, other) = match self.morphotype {
                Some(known) if known == number => (self.morphotype_count, self.others),
                Some(_) => (0, self.morphotype_count),
                None => (0, 0),
            };
            tally.times(Term::Morphotype, agreement(gait, same, other, common));
        }
    }

    fn of_side(&self, gait: &Gait, side: Side, even: bool) -> f64 {
        let lead = if (side == Side::Left) == even {
            self.even_left
        } else {
            -self.even_left
        };
        2.0 * (gait.wrong + (1.0 - 2.0 * gait.wrong) * gait.majority(lead))
    }

    /// Takes a print in, all but its azimuth.
    pub fn add(&mut self, foot: &Foot, even: bool) {
        self.size.add(foot.size);
        if let Some(shape) = foot.shape {
            self.shape.add(shape);
        }
        match foot.limb {
            Some(Limb::Pes) => self.pes += 1,
            Some(Limb::Manus) => self.manus += 1,
            None => {}
        }
        if let Some(side) = foot.side {
            self.even_left += if (side == Side::Left) == even { 1 } else { -1 };
        }
        if let Some(number) = foot.morphotype {
            match self.morphotype {
                Some(known) if known != number => self.others += 1,
                _ => {
                    self.morphotype = Some(number);
                    self.morphotype_count += 1;
                }
            }
        }
    }

    /// Takes a print's azimuth in, a unit vector; gives its likelihood ratio against any azimuth.
    pub fn take_azimuth(&mut self, gait: &Gait, azimuth: Vector, heading: Vector, even: bool) -> f64 {
        let turn = heading.turn_to_rad(azimuth);
        // The turn of a foot from the way that is walked, forward and backward, with its sign changed at every other step.
        let rotations = [turn, turn - PI.copysign(turn)].map(|turn| if even { turn } else { -turn });
        let [forward, backward] = [0, 1].map(|way| {
            // Unfolded: at these spreads nothing of the density is left a half circle away.
            let density = gait.azimuth.density(self.rotations[way], rotations[way]);
            (1.0 - ASTRAY) * density + ASTRAY / TAU
        });
        let ratio = TAU * (self.forward * forward + backward) / (self.forward + 1.0);
        self.forward = (self.forward * forward / backward).clamp(1.0 / SURE, SURE);
        for (mean, rotation) in self.rotations.iter_mut().zip(rotations) {
            // A foot that points astray says nothing of the rotation of the others.
            if rotation.abs() < PI / 3.0 {
                mean.add(rotation);
            }
        }
        ratio
    }

    /// ln odds that the row was walked in the order of its prints, by azimuths.
    pub fn forward(&self) -> f64 {
        self.forward.ln()
    }

    /// ln odds that even steps are left ones, by the sides recorded.
    pub fn even_left(&self, gait: &Gait) -> f64 {
        f64::from(self.even_left) * ((1.0 - gait.wrong) / gait.wrong).ln()
    }
}

/// The likelihood ratio of a measure against how common it is on the surface.
fn measure(so_far: Mean, scatter: &Scatter, value: f64, common: f64) -> f64 {
    if so_far.is_empty() {
        return 1.0;
    }
    (1.0 - ASTRAY) * scatter.density(so_far, value) / common + ASTRAY
}

/// The likelihood ratio of a name that `same` prints of the row bear and `other` do not, where `common` of all bear it.
fn agreement(gait: &Gait, same: i32, other: i32, common: f64) -> f64 {
    if same + other == 0 {
        return 1.0;
    }
    // Which name is the row's own: the odds of a count against the other.
    let own = gait.majority(same - other);
    let bears = own * (1.0 - gait.wrong) + (1.0 - own) * gait.wrong * common;
    bears / common
}
