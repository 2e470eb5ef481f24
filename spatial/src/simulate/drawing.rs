//! A surface while it is drawn.

use super::blur::stray;
use super::breed::Breed;
use super::course::Stance;
use super::hidden::{Damage, Hidden, LOST, hidden_extents};
use super::surface::Simulated;
use super::walker::{ahead, normal};
use super::{Amount, Blur, Footfall, Origin, Scenario, Walker};
use crate::angle::fold_deg;
use crate::index::SurfaceContents;
use crate::model::{Label, Limb, Print, Surface};
use rand::seq::{IndexedRandom, SliceRandom};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::HashMap;
use std::f64::consts::{FRAC_PI_2, PI, TAU};
use std::sync::Arc;

/// South-west corner of every simulated surface, metres; large, as projected coordinates are.
const CORNER: [f64; 2] = [412_000.0, 4_795_000.0];
/// A later print this near, in foot lengths, tramples an earlier one.
const TRAMPLED: f64 = 0.35;
/// Animals that leave fewer footfalls than this are drawn again: two prints are no trackway.
const FEWEST: usize = 4;

pub(super) struct Drawing<'a> {
    scenario: &'a Scenario,
    rng: ChaCha8Rng,
    size_m: [f64; 2],
    hidden: Hidden,
    damage: Damage,
    breeds: Vec<Breed>,
    blur: Blur,
    preferred_rad: f64,
    /// The courses of the animals so far that others could follow.
    courses: Vec<(usize, Vec<Stance>)>,
    footfalls: Vec<(Footfall, usize, Option<Origin>)>,
}

impl<'a> Drawing<'a> {
    pub fn new(scenario: &'a Scenario, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let size_m = match scenario.amount {
            Amount::Trackways(_, size_m) => size_m,
            Amount::Prints(prints, density) => [(prints as f64 / density).sqrt().max(1.0); 2],
        };
        let hidden = Hidden::of(hidden_extents(&mut rng, CORNER, size_m, scenario.hidden));
        // From a stream of their own: the same seed has the same animals on a surface of any size.
        let mut of_breeds = ChaCha8Rng::seed_from_u64(seed);
        of_breeds.set_stream(1);
        let kinds = of_breeds.random_range(scenario.kinds.clone()).max(1);
        let breeds = (0..kinds)
            .map(|number| Breed::any(&mut of_breeds, number))
            .collect();
        let (low, high) = (
            scenario.position_sd_m.start().ln(),
            scenario.position_sd_m.end().ln(),
        );
        let position_sd_m = of_breeds.random_range(low..=high).exp();
        Self {
            scenario,
            size_m,
            hidden,
            damage: Damage {
                seed: rng.random(),
                part: scenario.damage,
            },
            breeds,
            blur: Blur {
                position_sd_m,
                ..scenario.blur
            },
            preferred_rad: rng.random_range(0.0..TAU),
            courses: Vec::new(),
            footfalls: Vec::new(),
            rng,
        }
    }

    /// All animals, then the prints of none.
    pub fn draw(mut self) -> Simulated {
        let kept = 1.0 - self.scenario.blur.missing - self.scenario.damage;
        let mut trackways = 0;
        loop {
            let is_enough = match self.scenario.amount {
                Amount::Trackways(wanted, _) => trackways as usize >= wanted,
                Amount::Prints(wanted, _) => {
                    let of_animals = wanted as f64 * (1.0 - self.scenario.background);
                    self.footfalls.len() as f64 * kept >= of_animals
                }
            };
            if is_enough {
                break;
            }
            trackways += self.animals(trackways);
        }
        let background = self.scenario.background;
        // They are lost as often as the others, and where the ground is hidden there are none.
        let strays = self.footfalls.len() as f64 * background / (1.0 - background);
        let strays = strays / (1.0 - self.scenario.hidden);
        for _ in 0..strays.round() as usize {
            self.leave_stray();
        }
        self.finish()
    }

    /// One animal, a herd of one kind side by side, or one in the tracks of another; gives how many left a trackway.
    fn animals(&mut self, trackway: u32) -> u32 {
        if !self.courses.is_empty() && self.rng.random_bool(self.scenario.in_tracks) {
            return self.follower(trackway);
        }
        let breed = self.rng.random_range(0..self.breeds.len());
        let mut leader = self.breeds[breed].individual(&mut self.rng);
        (leader.start, leader.heading_rad) = self.entrance();
        let animals = if self.rng.random_bool(self.scenario.in_herd) {
            self.rng.random_range(self.scenario.herd.clone())
        } else {
            1
        };
        let mut left = 0;
        for place in 0..animals {
            if matches!(self.scenario.amount, Amount::Trackways(wanted, _) if (trackway + left) as usize >= wanted)
            {
                break;
            }
            let mut walker = leader.clone();
            if place > 0 {
                walker = self.companion(breed, &leader, place);
            }
            let course = self.scenario.manner.course(&mut self.rng, &mut walker);
            left += u32::from(self.leave(&walker, &course, breed, trackway + left));
            self.courses.push((breed, course));
        }
        left
    }

    /// An animal of the same kind that steps along the way of an earlier one, a hand or two aside.
    fn follower(&mut self, trackway: u32) -> u32 {
        let Some((breed, course)) = self.courses.choose(&mut self.rng).cloned() else {
            return 0;
        };
        let walker = self.breeds[breed].individual(&mut self.rng);
        let aside_m = normal(&mut self.rng, 0.5 * walker.foot_length_m);
        let first_m = self.rng.random_range(0.0..walker.pace_m);
        let course = stepped(&course, walker.pace_m, first_m, aside_m, || {
            normal(&mut self.rng, 0.05 * walker.pace_m)
        });
        u32::from(self.leave(&walker, &course, breed, trackway))
    }

    /// Where an animal enters, and which way it goes: over the rim, or somewhere on the surface where it is first seen.
    fn entrance(&mut self) -> ([f64; 2], f64) {
        let mut heading_rad = self.rng.random_range(0.0..TAU);
        if self.rng.random_bool(self.scenario.preferred) {
            let back = if self.rng.random_bool(0.25) { PI } else { 0.0 };
            heading_rad = self.preferred_rad + back + normal(&mut self.rng, 0.3);
        }
        let mut place = self.anywhere();
        if self.rng.random_bool(0.5) {
            // Back along the heading to the rim.
            while self.is_inside(place) {
                place = ahead(place, heading_rad + PI, 0.5);
            }
        }
        (place, heading_rad)
    }

    /// Another animal of the leader's kind, beside it and going the same way, with a size and gait of its own.
    fn companion(&mut self, breed: usize, leader: &Walker, place: usize) -> Walker {
        let mut walker = self.breeds[breed].individual(&mut self.rng);
        let apart_m = leader.gauge_m + place as f64 * leader.foot_length_m * self.rng.random_range(2.0..7.0);
        let aside = ahead(leader.start, leader.heading_rad + FRAC_PI_2, apart_m);
        let along_m = normal(&mut self.rng, leader.pace_m);
        walker.start = ahead(aside, leader.heading_rad, along_m);
        walker.heading_rad = leader.heading_rad + normal(&mut self.rng, 0.08);
        // A herd keeps together, so that all go about as fast.
        walker.pace_m = leader.pace_m * normal(&mut self.rng, 0.06).exp();
        walker
    }

    fn leave(&mut self, walker: &Walker, course: &[Stance], breed: usize, trackway: u32) -> bool {
        let footfalls = walker.along(&mut self.rng, course);
        let open: Vec<_> = (footfalls.into_iter())
            .filter(|footfall| self.is_open(footfall.position))
            .map(|footfall| {
                let origin = Origin {
                    trackway,
                    step: footfall.step as u32,
                    fore: footfall.limb == Limb::Manus,
                };
                (footfall, breed, Some(origin))
            })
            .collect();
        let is_trackway = open.len() >= FEWEST;
        if is_trackway {
            self.footfalls.extend(open);
        }
        is_trackway
    }

    fn leave_stray(&mut self) {
        let breed = self.rng.random_range(0..self.breeds.len());
        let length_m = self.breeds[breed].foot_length_m * self.rng.random_range(0.5..1.3);
        let position = self.anywhere();
        let footfall = stray(&mut self.rng, position, length_m);
        if self.is_open(position) {
            self.footfalls.push((footfall, breed, None));
        }
    }

    fn anywhere(&mut self) -> [f64; 2] {
        [0, 1].map(|axis| CORNER[axis] + self.rng.random_range(0.0..self.size_m[axis]))
    }

    fn is_inside(&self, place: [f64; 2]) -> bool {
        [0, 1]
            .into_iter()
            .all(|axis| (CORNER[axis]..=CORNER[axis] + self.size_m[axis]).contains(&place[axis]))
    }

    fn is_open(&self, place: [f64; 2]) -> bool {
        self.is_inside(place) && !self.hidden.holds(place)
    }

    /// Records what is left, and shuffles before it labels, so that neither trackway nor order can be read from a label.
    fn finish(mut self) -> Simulated {
        let lost = trampled(&self.footfalls);
        let mut found = Vec::with_capacity(self.footfalls.len());
        let morphotypes: Vec<Arc<str>> = self
            .breeds
            .iter()
            .map(|breed| Arc::clone(&breed.morphotype))
            .collect();
        for ((footfall, breed, origin), is_trampled) in std::mem::take(&mut self.footfalls).iter().zip(lost) {
            let is_lost = is_trampled && self.scenario.damage > 0.0
                || self.damage.is_at(footfall.position) && self.rng.random_bool(LOST);
            if !is_lost && let Some(print) = self.record(footfall, &morphotypes, *breed) {
                found.push((print, *origin));
            }
        }
        found.shuffle(&mut self.rng);
        let (mut prints, mut truth) = (Vec::new(), Vec::new());
        for (no, (mut print, origin)) in found.into_iter().enumerate() {
            print.label = numbered(no);
            prints.push(print);
            truth.push(origin);
        }
        let contents = SurfaceContents {
            id: "simulated:S1".parse().expect("a valid id"),
            crs: 25830,
            surface: Surface::new("S1".parse().expect("a valid label")),
            prints,
            extents: self.hidden.extents,
            trackways: Vec::new(),
        };
        Simulated { contents, truth }
    }

    /// A print as the field party writes it down, with its slips of the pen.
    fn record(&mut self, footfall: &Footfall, morphotypes: &[Arc<str>], breed: usize) -> Option<Print> {
        let mut print = self
            .blur
            .record(&mut self.rng, footfall, &morphotypes[breed], numbered(0))?;
        if self.rng.random_bool(self.scenario.azimuth_reversed) {
            print.azimuth_deg = print.azimuth_deg.map(|azimuth| fold_deg(azimuth + 180.0));
        }
        if self.rng.random_bool(self.scenario.name_wrong) {
            print.limb = print.limb.map(|limb| match limb {
                Limb::Pes => Limb::Manus,
                Limb::Manus => Limb::Pes,
            });
        }
        if print.morphotype.is_some() && self.rng.random_bool(self.scenario.name_wrong) {
            print.morphotype = morphotypes.choose(&mut self.rng).cloned();
        }
        Some(print)
    }
}

/// Stances every pace along a course, aside from it, each pace a little off.
fn stepped(
    course: &[Stance],
    pace_m: f64,
    first_m: f64,
    aside_m: f64,
    mut off_m: impl FnMut() -> f64,
) -> Vec<Stance> {
    let (mut next_m, mut walked_m, mut stances) = (first_m, 0.0, Vec::new());
    for pair in course.windows(2) {
        let [from, to] = [pair[0].midline, pair[1].midline];
        let leg_m = (to[0] - from[0]).hypot(to[1] - from[1]);
        let heading_rad = crate::angle::azimuth_rad(to[0] - from[0], to[1] - from[1]);
        while next_m <= walked_m + leg_m {
            let place = ahead(from, heading_rad, next_m - walked_m);
            stances.push(Stance {
                midline: ahead(place, heading_rad + FRAC_PI_2, aside_m),
                heading_rad,
            });
            next_m += (pace_m + off_m()).max(0.3 * pace_m);
        }
        walked_m += leg_m;
    }
    stances
}

/// Which footfalls a later one treads out: those of another animal so near that little is left of them.
fn trampled(footfalls: &[(Footfall, usize, Option<Origin>)]) -> Vec<bool> {
    let cell = |place: [f64; 2]| place.map(|along| along.floor() as i64);
    let mut lost = vec![false; footfalls.len()];
    let mut cells: HashMap<[i64; 2], Vec<usize>> = HashMap::new();
    for (no, (footfall, _, origin)) in footfalls.iter().enumerate() {
        let [east, north] = cell(footfall.position);
        for near in (-1..=1).flat_map(|e| (-1..=1).map(move |n| [east + e, north + n])) {
            for earlier in cells.get(&near).into_iter().flatten() {
                let (other, _, of) = &footfalls[*earlier];
                let far_m = (other.position[0] - footfall.position[0])
                    .hypot(other.position[1] - footfall.position[1]);
                let another = of.map(|of| of.trackway) != origin.map(|of| of.trackway);
                lost[*earlier] |= another && far_m < TRAMPLED * footfall.length_m;
            }
        }
        cells.entry(cell(footfall.position)).or_default().push(no);
    }
    lost
}

/// A label whose order is that of its number.
fn numbered(no: usize) -> Label {
    format!("P{no:08}")
        .parse()
        .expect("letters and digits are a label")
}
