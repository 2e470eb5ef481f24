//! One animal's footfalls from explicit measures.

use super::course::Stance;
use crate::model::{Limb, Side};
use rand::{Rng, RngExt};
use rand_distr::{Distribution, Normal, StudentT};
use std::f64::consts::FRAC_PI_2;

/// One animal that walks: where it starts, its feet, and how regularly it goes.
///
/// All prints that it makes are true ones: nothing is missing and nothing is measured yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Walker {
    /// Where the trackway's midline begins; easting and northing, metres.
    pub start: [f64; 2],
    /// The first heading, radians clockwise from grid north.
    pub heading_rad: f64,
    /// How many paces it makes; the footfalls of the pes are one more.
    pub paces: usize,
    /// Mean length of the pes, metres.
    pub foot_length_m: f64,
    /// Width of the pes over its length.
    pub width_ratio: f64,
    /// Mean pace along the midline, metres.
    pub pace_m: f64,
    /// Width of the trackway across the pes prints' centres, metres.
    pub gauge_m: f64,
    /// How far each pes points outwards from the heading, radians; negative is inwards.
    pub rotation_rad: f64,
    /// Steady turn of the heading at each pace, radians; clockwise is positive.
    pub turn_rad: f64,
    /// Standard deviation of the heading's further random turn at each pace, radians.
    pub heading_sd_rad: f64,
    /// Standard deviation of the pace over its mean.
    pub pace_sd: f64,
    /// Change of speed: the mean pace is multiplied by one plus this at each pace.
    pub quickening: f64,
    /// Degrees of freedom of Student's t from which paces are drawn; `None` is a normal distribution.
    pub tail: Option<f64>,
    /// Standard deviation of each foot's place about its regular one, each axis, metres.
    pub placement_sd_m: f64,
    /// The fore feet; `None` for a biped.
    pub manus: Option<Manus>,
    /// The side of the first footfall.
    pub first_side: Side,
}

/// The fore feet of a four-footed walker, told by the offset of each manus print from its set's pes print.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Manus {
    /// Length of the manus over that of the pes.
    pub length_ratio: f64,
    /// Width of the manus over its own length.
    pub width_ratio: f64,
    /// How far ahead of its pes it stands, metres.
    pub ahead_m: f64,
    /// How far outwards of its pes it stands, metres.
    pub outward_m: f64,
    /// How far it points outwards from the heading, radians.
    pub rotation_rad: f64,
    /// Standard deviation of that offset, each axis, metres.
    pub sd_m: f64,
}

/// One true print of a walker.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Footfall {
    /// The centre; easting and northing, metres.
    pub position: [f64; 2],
    /// Where the foot points, radians clockwise from grid north.
    pub azimuth_rad: f64,
    /// The side.
    pub side: Side,
    /// Hind or fore.
    pub limb: Limb,
    /// Length, metres.
    pub length_m: f64,
    /// Width, metres.
    pub width_m: f64,
    /// Which step of the walk it belongs to, from 0; a pes and a manus of one set share it.
    pub step: usize,
}

impl Walker {
    /// A steady biped that goes straight: foot width, gauge and rotation are of a middling kind.
    #[must_use]
    pub fn steady(start: [f64; 2], heading_rad: f64, paces: usize, foot_length_m: f64) -> Self {
        Self {
            start,
            heading_rad,
            paces,
            foot_length_m,
            width_ratio: 0.8,
            pace_m: 3.5 * foot_length_m,
            gauge_m: 0.5 * foot_length_m,
            rotation_rad: 0.0,
            turn_rad: 0.0,
            heading_sd_rad: 0.02,
            pace_sd: 0.04,
            quickening: 0.0,
            tail: None,
            placement_sd_m: 0.03 * foot_length_m,
            manus: None,
            first_side: Side::Left,
        }
    }

    /// The footfalls in walking order; in each set the pes comes first, then its manus.
    ///
    /// # Formula
    /// The midline goes on by pace · (1 + e) along the heading at each step, e random; the pes stands half a gauge to
    /// its side, plus its placement error; the manus stands at its constant offset from the pes.
    pub fn walk<R: Rng + ?Sized>(&self, rng: &mut R) -> Vec<Footfall> {
        let mut footfalls = Vec::with_capacity((self.paces + 1) * 2);
        let (mut midline, mut heading, mut pace_m) = (self.start, self.heading_rad, self.pace_m);
        let mut side = self.first_side;
        for step in 0..=self.paces {
            let pes = self.pes(rng, midline, heading, side, step);
            footfalls.push(pes);
            if let Some(manus) = &self.manus {
                footfalls.push(manus.beside(rng, &pes, self.foot_length_m, heading));
            }
            heading += self.turn_rad + normal(rng, self.heading_sd_rad);
            let this_pace_m = pace_m * (1.0 + self.pace_error(rng)).max(0.3);
            midline = ahead(midline, heading, this_pace_m);
            pace_m *= 1.0 + self.quickening;
            side = other(side);
        }
        footfalls
    }

    /// The footfalls along a course drawn beforehand; in each set the pes comes first, then its manus.
    pub(super) fn along<R: Rng + ?Sized>(&self, rng: &mut R, course: &[Stance]) -> Vec<Footfall> {
        let (mut footfalls, mut side) = (Vec::with_capacity(course.len() * 2), self.first_side);
        for (step, stance) in course.iter().enumerate() {
            let pes = self.pes(rng, stance.midline, stance.heading_rad, side, step);
            footfalls.push(pes);
            if let Some(manus) = &self.manus {
                footfalls.push(manus.beside(rng, &pes, self.foot_length_m, stance.heading_rad));
            }
            side = other(side);
        }
        footfalls
    }

    fn pes<R: Rng + ?Sized>(
        &self,
        rng: &mut R,
        midline: [f64; 2],
        heading: f64,
        side: Side,
        step: usize,
    ) -> Footfall {
        let place = ahead(midline, heading + outward(side), self.gauge_m / 2.0);
        Footfall {
            position: shaken(rng, place, self.placement_sd_m),
            azimuth_rad: heading + turned_out(side, self.rotation_rad) + normal(rng, 0.06),
            side,
            limb: Limb::Pes,
            length_m: self.foot_length_m,
            width_m: self.foot_length_m * self.width_ratio,
            step,
        }
    }

    /// A relative error of one pace, with standard deviation `pace_sd`.
    pub(super) fn pace_error<R: Rng + ?Sized>(&self, rng: &mut R) -> f64 {
        match self
            .tail
            .and_then(|dof| StudentT::new(dof).ok().map(|t| (dof, t)))
        {
            // Student's t has variance dof / (dof - 2); divide it out so that the tails get heavier, not the whole.
            Some((dof, t)) if dof > 2.0 => {
                let unit: f64 = t.sample(rng);
                self.pace_sd * unit / (dof / (dof - 2.0)).sqrt()
            }
            _ => normal(rng, self.pace_sd),
        }
    }
}

impl Manus {
    fn beside<R: Rng + ?Sized>(
        &self,
        rng: &mut R,
        pes: &Footfall,
        pes_length_m: f64,
        heading: f64,
    ) -> Footfall {
        let place = ahead(pes.position, heading, self.ahead_m);
        let place = ahead(place, heading + outward(pes.side), self.outward_m);
        let length_m = pes_length_m * self.length_ratio;
        Footfall {
            position: shaken(rng, place, self.sd_m),
            azimuth_rad: heading + turned_out(pes.side, self.rotation_rad) + normal(rng, 0.08),
            limb: Limb::Manus,
            length_m,
            width_m: length_m * self.width_ratio,
            ..*pes
        }
    }
}

/// The place this far from another along an azimuth.
pub(super) fn ahead(from: [f64; 2], azimuth_rad: f64, distance_m: f64) -> [f64; 2] {
    let (sine, cosine) = azimuth_rad.sin_cos();
    [from[0] + distance_m * sine, from[1] + distance_m * cosine]
}

fn shaken<R: Rng + ?Sized>(rng: &mut R, place: [f64; 2], sd_m: f64) -> [f64; 2] {
    [place[0] + normal(rng, sd_m), place[1] + normal(rng, sd_m)]
}

/// The turn from the heading towards the foot's own side: clockwise for a right foot.
fn outward(side: Side) -> f64 {
    turned_out(side, FRAC_PI_2)
}

fn turned_out(side: Side, angle_rad: f64) -> f64 {
    match side {
        Side::Left => -angle_rad,
        Side::Right => angle_rad,
    }
}

fn other(side: Side) -> Side {
    match side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    }
}

/// A normal draw about zero; a standard deviation that is not a number of use gives zero.
pub(super) fn normal<R: Rng + ?Sized>(rng: &mut R, sd: f64) -> f64 {
    Normal::new(0.0, sd).map_or(0.0, |n| n.sample(rng))
}

/// A draw of a side, each as likely.
pub(super) fn any_side<R: Rng + ?Sized>(rng: &mut R) -> Side {
    if rng.random_bool(0.5) {
        Side::Left
    } else {
        Side::Right
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    fn without_noise() -> Walker {
        Walker {
            heading_sd_rad: 0.0,
            pace_sd: 0.0,
            placement_sd_m: 0.0,
            ..Walker::steady([100.0, 200.0], 0.0, 4, 0.3)
        }
    }

    #[test]
    fn a_regular_walk_north_alternates_about_its_midline() {
        let footfalls = without_noise().walk(&mut ChaCha8Rng::seed_from_u64(1));
        assert_eq!(footfalls.len(), 5);
        for (step, footfall) in footfalls.iter().enumerate() {
            let west_or_east = if step % 2 == 0 { -0.075 } else { 0.075 };
            assert!((footfall.position[0] - 100.0 - west_or_east).abs() < 1e-12);
            assert!((footfall.position[1] - 200.0 - 1.05 * step as f64).abs() < 1e-12);
            assert_eq!(
                footfall.side,
                if step % 2 == 0 { Side::Left } else { Side::Right }
            );
        }
    }

    #[test]
    fn a_manus_keeps_its_offset_on_both_sides() {
        let manus = Manus {
            length_ratio: 0.6,
            width_ratio: 1.2,
            ahead_m: 0.4,
            outward_m: 0.1,
            rotation_rad: 0.3,
            sd_m: 0.0,
        };
        let walker = Walker {
            manus: Some(manus),
            ..without_noise()
        };
        let footfalls = walker.walk(&mut ChaCha8Rng::seed_from_u64(1));
        for set in footfalls.chunks(2) {
            let outward = if set[0].side == Side::Left { -0.1 } else { 0.1 };
            assert!((set[1].position[0] - set[0].position[0] - outward).abs() < 1e-12);
            assert!((set[1].position[1] - set[0].position[1] - 0.4).abs() < 1e-12);
            assert_eq!((set[0].limb, set[1].limb), (Limb::Pes, Limb::Manus));
            assert_eq!((set[0].side, set[0].step), (set[1].side, set[1].step));
        }
    }
}
