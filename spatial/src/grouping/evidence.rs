//! The prints as the method reads them, and how common each measure is on the surface.

use super::ground::Ground;
use super::motion::Vector;
use super::strips::Strips;
use super::wishes::Wishes;
use super::{Contradiction, GroupingOptions};
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::{Limb, Print, Side};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

/// A print's place in the method's own order.
pub(super) type Member = u32;

/// What is read of one print. Sizes are logarithms, angles radians; unknown is `None`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foot {
    /// Its number in the index.
    pub no: PrintNo,
    /// Where it lies, metres from the origin.
    pub place: Vector,
    /// Its length, metres.
    pub length_m: f64,
    /// ln of the length.
    pub size: f64,
    /// ln of width over length.
    pub shape: Option<f64>,
    /// Its azimuth as a unit vector.
    pub azimuth: Option<Vector>,
    pub side: Option<Side>,
    pub limb: Option<Limb>,
    pub morphotype: Option<u16>,
    /// ln of the prints a square metre hereabouts.
    pub crowding: f64,
    /// How common its size and its shape are on the surface, by unit of each.
    pub size_density: f64,
    pub shape_density: f64,
    /// Nothing within this distance could hide a print, metres.
    pub open_m: f64,
    /// Whether it lies in a heap, closer to many others than feet can stand.
    pub is_heaped: bool,
}

/// All prints of a surface, with how common each attribute is.
#[derive(Debug)]
pub(super) struct Evidence<'a> {
    index: &'a SurfaceIndex,
    pub feet: Vec<Foot>,
    strips: Strips,
    pub ground: Ground,
    origin: [f64; 2],
    /// The method's own place of each print of the index.
    members: Vec<Member>,
    /// Each print's place in an order in which neighbours mostly follow each other. Work that is done in that order finds what it
    /// reads in the processor's cache; what comes out does not depend on it.
    pub rank: Vec<u32>,
    /// What the user has told of links.
    pub wishes: Wishes,
    /// The part of prints of known limb that are pes.
    pub pes_share: f64,
    /// The part of prints of each morphotype, of those where it is known.
    pub morphotype_shares: Vec<f64>,
}

impl<'a> Evidence<'a> {
    /// Reads the prints of a surface and what the user has told of them.
    ///
    /// # Errors
    /// Where what the user has told contradicts itself.
    pub fn of(index: &'a SurfaceIndex, options: &GroupingOptions) -> Result<Self, Contradiction> {
        let origin = centre(index.prints());
        let morphotypes = morphotypes(index.prints());
        let mut feet: Vec<Foot> = index
            .prints()
            .iter()
            .zip(0..)
            .map(|(print, no)| foot(print, no, origin, &morphotypes))
            .collect();
        in_own_order(&mut feet);
        crowd(index, origin, &mut feet);
        rarity(&mut feet);
        let mut members = vec![0; feet.len()];
        for (foot, member) in feet.iter().zip(0..) {
            members[foot.no as usize] = member;
        }
        let mut rank = vec![0; feet.len()];
        for (no, place) in index.by_place().zip(0..) {
            rank[members[no as usize] as usize] = place;
        }
        let (pes_share, morphotype_shares) = shares(&feet, morphotypes.len());
        let ground = Ground::of(index.extents(), origin);
        feet.par_iter_mut()
            .for_each(|foot| foot.open_m = ground.open_m(foot.place));
        Ok(Self {
            wishes: Wishes::of(options, &members)?,
            index,
            strips: Strips::of(&feet),
            feet,
            ground,
            origin,
            members,
            rank,
            pes_share,
            morphotype_shares,
        })
    }

    pub fn foot(&self, member: Member) -> &Foot {
        &self.feet[member as usize]
    }

    pub fn place(&self, member: Member) -> Vector {
        self.foot(member).place
    }

    /// The prints within a radius of a place near a print, in any order; in a heap of prints only so many of the nearest.
    pub fn within(
        &self,
        place: Vector,
        radius_m: f64,
        near: Member,
    ) -> impl Iterator<Item = Member> + use<'_> {
        let is_heaped = self.foot(near).is_heaped;
        let nearest = is_heaped.then(|| {
            let at = [place.east + self.origin[0], place.north + self.origin[1]];
            self.index.nearest(at, HEAP)
        });
        let nearest = nearest.into_iter().flatten();
        let nearest = nearest.filter(move |(_, distance)| *distance <= radius_m);
        let all = (!is_heaped).then(|| self.strips.around(place, radius_m));
        let nearest = nearest.map(|(no, _)| self.members[no as usize]);
        nearest.chain(all.into_iter().flatten())
    }
}

fn centre(prints: &[Print]) -> [f64; 2] {
    let count = prints.len().max(1) as f64;
    // Dividing first keeps sums of huge coordinates finite.
    let sum = |part: fn(&Print) -> f64| prints.iter().map(|print| part(print) / count).sum();
    [sum(|print| print.easting_m), sum(|print| print.northing_m)]
}

fn morphotypes(prints: &[Print]) -> BTreeMap<&str, u16> {
    let mut names: BTreeMap<&str, u16> = prints
        .iter()
        .filter_map(|print| Some((print.morphotype.as_deref()?, 0)))
        .collect();
    for (place, number) in names.values_mut().enumerate() {
        *number = u16::try_from(place).unwrap_or(u16::MAX);
    }
    names
}

fn foot(print: &Print, no: PrintNo, origin: [f64; 2], morphotypes: &BTreeMap<&str, u16>) -> Foot {
    // A length that is no length still must not spoil the sums; a foot of 1 mm to 10 m holds all that walked.
    let length_m = if print.length_m.is_finite() {
        print.length_m.clamp(0.001, 10.0)
    } else {
        0.3
    };
    let width_m = print.width_m.filter(|width| width.is_finite() && *width > 0.0);
    Foot {
        no,
        place: Vector {
            east: print.easting_m - origin[0],
            north: print.northing_m - origin[1],
        },
        length_m,
        size: length_m.ln(),
        shape: width_m.map(|width| (width / length_m).ln()),
        azimuth: print
            .azimuth_deg
            .filter(|azimuth| azimuth.is_finite())
            .map(|azimuth| Vector::of_azimuth(azimuth.to_radians())),
        side: print.side,
        limb: print.limb,
        morphotype: print.morphotype.as_deref().map(|name| morphotypes[name]),
        crowding: 0.0,
        size_density: 0.0,
        shape_density: 0.0,
        open_m: 0.0,
        is_heaped: false,
    }
}

/// Width of the rings in which prints are put in order, metres: wide ones cut into cells, narrow ones within a cell.
const RINGS_M: [f64; 2] = [64.0, 8.0];

/// Sorts by cells, which are parts of rings around the origin, as long as they are wide, and in each cell by narrower
/// rings and the angle from the print that lies farthest out: an order that neither labels nor the turn of the surface
/// changes, and in which neighbours stand near each other in memory.
fn in_own_order(feet: &mut [Foot]) {
    // Rounded to a tenth of a millimetre, for a turned surface differs in the last digits.
    let far = |foot: &Foot| (foot.place.length() * 1e4).round();
    let size = |foot: &Foot| (foot.size * 1e6).round();
    let farthest = (feet.iter()).max_by(|a, b| far(a).total_cmp(&far(b)).then(size(a).total_cmp(&size(b))));
    let from = farthest.map_or(Vector::default(), |foot| foot.place);
    let key = |foot: &Foot| {
        let angle = from.cross(foot.place).atan2(from.dot(foot.place));
        // Below half a turn and just above it lie beside each other; so does a whole turn's rounding.
        let angle = if angle < -1e-9 { angle + TAU } else { angle };
        let angle = (angle * 1e8).round();
        let [ring, narrow] = RINGS_M.map(|width_m| (far(foot) / (width_m * 1e4)).floor());
        let cells_around = (TAU * (ring + 0.5)).round();
        let cell = (angle * cells_around / (TAU * 1e8)).floor();
        [ring, cell, narrow, angle, far(foot), size(foot)]
    };
    feet.sort_by_cached_key(|foot| Key(key(foot), [foot.place.east, foot.place.north]));
}

/// Numbers in their order, the first that differs first.
#[derive(PartialEq)]
struct Key([f64; 6], [f64; 2]);

impl Eq for Key {}

impl Ord for Key {
    fn cmp(&self, other: &Self) -> Ordering {
        let pairs = (self.0.iter().chain(&self.1)).zip(other.0.iter().chain(&other.1));
        pairs
            .map(|(a, b)| a.total_cmp(b))
            .find(|order| order.is_ne())
            .unwrap_or(Ordering::Equal)
    }
}

impl PartialOrd for Key {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// How many of the nearest prints measure the crowding.
const NEAREST: usize = 16;
/// How many of the nearest prints are looked at in a heap. Without an end to it, each print would be compared with
/// every other one, and in a heap nothing can be told apart anyway.
const HEAP: usize = 100;

fn crowd(index: &SurfaceIndex, origin: [f64; 2], feet: &mut [Foot]) {
    feet.par_iter_mut().for_each(|foot| {
        let at = [foot.place.east + origin[0], foot.place.north + origin[1]];
        let near = index.nearest(at, NEAREST);
        let reach_m = near.last().map_or(0.0, |(_, distance)| *distance);
        // Prints in one heap are no denser than feet can stand.
        let stands_m = foot.length_m * (near.len() as f64).sqrt() / 2.0;
        foot.is_heaped = near.len() == NEAREST && reach_m < stands_m;
        let reach_m = reach_m.max(stands_m);
        foot.crowding = (near.len() as f64 / (std::f64::consts::PI * reach_m * reach_m)).ln();
    });
}

fn rarity(feet: &mut [Foot]) {
    let sizes = Density::of(feet.iter().map(|foot| foot.size));
    let shapes = Density::of(feet.iter().filter_map(|foot| foot.shape));
    for foot in feet {
        foot.size_density = sizes.at(foot.size);
        foot.shape_density = foot.shape.map_or(0.0, |shape| shapes.at(shape));
    }
}

fn shares(feet: &[Foot], morphotypes: usize) -> (f64, Vec<f64>) {
    let limbs = |limb: Limb| feet.iter().filter(|foot| foot.limb == Some(limb)).count() as f64;
    let pes_share = (limbs(Limb::Pes) + 2.0) / (limbs(Limb::Pes) + limbs(Limb::Manus) + 4.0);
    let mut counts = vec![1.0; morphotypes];
    for number in feet.iter().filter_map(|foot| foot.morphotype) {
        counts[usize::from(number)] += 1.0;
    }
    let all: f64 = counts.iter().sum();
    (pes_share, counts.into_iter().map(|count| count / all).collect())
}

/// A smoothed histogram.
struct Density {
    counts: Vec<f64>,
}

const CELL: f64 = 0.05;
const LOWEST: f64 = -8.0;
const CELLS: usize = 240;

impl Density {
    fn of(sample: impl Iterator<Item = f64>) -> Self {
        let mut counts = vec![0.0; CELLS];
        let mut all = 0.0;
        for value in sample {
            let cell = Self::cell(value);
            // A triangle three cells wide to each side: about the error of a length.
            for off in -2i32..=2 {
                let near = cell.saturating_add_signed(off as isize).min(CELLS - 1);
                counts[near] += f64::from(3 - off.abs()) / 9.0;
            }
            all += 1.0;
        }
        // A small even part, so that nothing is ever impossible.
        let even = 1.0;
        for count in &mut counts {
            *count = (*count / CELL + even * 0.1) / (all + even);
        }
        Self { counts }
    }

    fn cell(value: f64) -> usize {
        (((value - LOWEST) / CELL).max(0.0) as usize).min(CELLS - 1)
    }

    fn at(&self, value: f64) -> f64 {
        self.counts[Self::cell(value)]
    }
}
