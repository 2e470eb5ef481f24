//! The animals of the demonstration data, and the ways that they go.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use spatial::model::Side;
use spatial::simulate::{Footfall, Kind, Manus, Walker};

/// A biped with narrow toes and a long pace.
pub const SLENDER: Kind = Kind::ALL[0];
/// A heavy biped.
pub const BROAD: Kind = Kind::ALL[1];
/// A small biped.
pub const SMALL: Kind = Kind::ALL[2];
/// A large quadruped with short fore feet.
pub const ROUND: Kind = Kind::ALL[3];
/// A middling quadruped.
pub const LONG: Kind = Kind::ALL[4];
/// A small quadruped with spread fingers.
pub const HAND: Kind = Kind::ALL[5];

/// One animal: its kind and size, where it comes from, and the legs of its way.
#[derive(Debug, Clone)]
pub struct Animal {
    /// The proportions of its feet and steps.
    pub kind: Kind,
    /// Whether the field party saw its prints as a trackway.
    pub seen: bool,
    walker: Walker,
    legs: Vec<Leg>,
}

/// A part of the way.
#[derive(Debug, Clone, Copy)]
struct Leg {
    steps: usize,
    /// The whole turn over the leg, degrees; clockwise is positive.
    turn_deg: f64,
    /// The pace over the animal's usual one.
    quicker: f64,
}

impl Animal {
    /// An animal of a kind, by the length of its pes. It comes from a place on the surface, with a heading.
    ///
    /// # Units
    /// Metres in the surface's own plane, east before north; degrees clockwise from grid north.
    #[must_use]
    pub fn new(kind: Kind, foot_length_m: f64, start: [f64; 2], heading_deg: f64) -> Self {
        let manus = kind.manus.map(|[length, ahead, outward]| Manus {
            length_ratio: length,
            width_ratio: 1.1,
            ahead_m: foot_length_m * ahead,
            outward_m: foot_length_m * outward,
            rotation_rad: 0.35,
            sd_m: 0.07 * foot_length_m,
        });
        let walker = Walker {
            width_ratio: kind.width_ratio,
            pace_m: foot_length_m * kind.pace_ratio,
            gauge_m: foot_length_m * kind.gauge_ratio,
            rotation_rad: kind.rotation_deg.to_radians(),
            placement_sd_m: 0.04 * foot_length_m,
            manus,
            ..Walker::steady(start, heading_deg.to_radians(), 0, foot_length_m)
        };
        Self {
            kind,
            seen: false,
            walker,
            legs: Vec::new(),
        }
    }

    /// It goes on for so many steps, more or less straight.
    #[must_use]
    pub fn goes(self, steps: usize) -> Self {
        self.turns(steps, 0.0)
    }

    /// It turns by so many degrees over so many steps; clockwise is positive.
    #[must_use]
    pub fn turns(mut self, steps: usize, turn_deg: f64) -> Self {
        self.legs.push(Leg {
            steps,
            turn_deg,
            quicker: 1.0,
        });
        self
    }

    /// It goes on for so many steps with paces so many times as long as usual.
    #[must_use]
    pub fn quickens(mut self, steps: usize, quicker: f64) -> Self {
        self.legs.push(Leg {
            steps,
            turn_deg: 0.0,
            quicker,
        });
        self
    }

    /// The field party sees that its prints are of one trackway.
    #[must_use]
    pub fn seen(mut self) -> Self {
        self.seen = true;
        self
    }

    /// Its footfalls in walking order; in each set the pes comes first, then its manus.
    ///
    /// Each step is a walk of one footfall, so that heading and pace can change from leg to leg.
    pub fn walk(&self, rng: &mut ChaCha8Rng) -> Vec<Footfall> {
        let mut walker = self.walker.clone();
        walker.first_side = if rng.random_bool(0.5) {
            Side::Left
        } else {
            Side::Right
        };
        let mut footfalls = Vec::new();
        let mut step = 0;
        for leg in &self.legs {
            for _ in 0..leg.steps {
                footfalls.extend(
                    walker
                        .walk(rng)
                        .into_iter()
                        .map(|footfall| Footfall { step, ..footfall }),
                );
                advance(&mut walker, leg, rng);
                step += 1;
            }
        }
        footfalls
    }
}

/// Moves the walker on by one pace, to its other foot.
fn advance(walker: &mut Walker, leg: &Leg, rng: &mut ChaCha8Rng) {
    let turn_deg = leg.turn_deg / leg.steps as f64 + normal(rng, 1.2);
    walker.heading_rad += turn_deg.to_radians();
    let pace_m = walker.pace_m * leg.quicker * (1.0 + normal(rng, 0.045));
    let (sine, cosine) = walker.heading_rad.sin_cos();
    walker.start = [walker.start[0] + pace_m * sine, walker.start[1] + pace_m * cosine];
    walker.first_side = match walker.first_side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    };
}

/// A normal draw about zero.
pub(super) fn normal(rng: &mut ChaCha8Rng, sd: f64) -> f64 {
    Normal::new(0.0, sd)
        .expect("a standard deviation is finite")
        .sample(rng)
}
