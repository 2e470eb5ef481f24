//! What is looked up of a surface once, and then used for each of its trackways.

use super::ground::{Ground, InExtent};
use super::habits::Habits;
use super::sizes::Density;
use super::track::{length_m, main_row};
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::Label;
use rayon::prelude::*;
use rstar::RTree;
use rstar::primitives::GeomWithData;

/// No trackway.
const NONE: u32 = u32::MAX;

/// One of the two ends of a standing trackway: its number, and whether it is the last print of the row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Terminal {
    pub trackway: u32,
    pub is_end: bool,
}

type Leaf = GeomWithData<[f64; 2], Terminal>;

/// What is known of a surface beyond its index: which standing trackway each print is in, what gaits are usual here, how
/// common prints and ends are, and the ground.
///
/// It is built once for a surface and holds for as long as its index does.
#[derive(Debug)]
pub struct Surroundings {
    pub(super) labels: Vec<Label>,
    /// The prints of each standing trackway, in walking order.
    pub(super) prints: Vec<Vec<PrintNo>>,
    of_print: Vec<u32>,
    terminals: RTree<Leaf>,
    pub(super) habits: Habits,
    pub(super) sizes: Density,
    pub(super) ground: Ground,
    /// Prints of no standing trackway a square metre, over the whole surface.
    pub(super) single_m2: f64,
    /// Ends of standing trackways a square metre, over the whole surface.
    pub(super) ends_m2: f64,
    /// The part of prints of known limb that are pes.
    pub(super) pes_share: f64,
}

impl Surroundings {
    /// Reads a surface's standing trackways.
    #[must_use]
    pub fn of(index: &SurfaceIndex) -> Self {
        let standing = index.standing_trackways();
        let labels: Vec<Label> = standing.iter().map(|trackway| trackway.label.clone()).collect();
        let prints: Vec<Vec<PrintNo>> = (standing.par_iter())
            .map(|trackway| index.prints_of(trackway))
            .collect();
        let mut of_print = vec![NONE; index.prints().len()];
        for (trackway, prints) in (0..).zip(&prints) {
            for no in prints {
                of_print[*no as usize] = trackway;
            }
        }
        let leaves = terminals(index, &prints);
        let area_m2 = area_m2(index);
        let singles = of_print.iter().filter(|trackway| **trackway == NONE).count();
        Self {
            single_m2: (singles as f64 + 1.0) / area_m2,
            ends_m2: (leaves.len() as f64 + 1.0) / area_m2,
            terminals: RTree::bulk_load(leaves),
            habits: Habits::learnt(index, &prints),
            sizes: Density::of(index.prints().iter().map(|print| length_m(print).ln())),
            ground: Ground::of(index),
            pes_share: pes_share(index),
            labels,
            prints,
            of_print,
        }
    }

    /// The extent that a place lies in: of several the one that hides it.
    #[must_use]
    pub fn in_extent(&self, place_m: [f64; 2]) -> InExtent {
        self.ground.at(place_m)
    }

    /// The standing trackway that a print is in.
    pub(super) fn trackway_of(&self, no: PrintNo) -> Option<u32> {
        Some(self.of_print[no as usize]).filter(|trackway| *trackway != NONE)
    }

    /// The ends of standing trackways in a box, in the order of trackways.
    pub(super) fn terminals_in(&self, lower: [f64; 2], upper: [f64; 2]) -> Vec<(Terminal, [f64; 2])> {
        let envelope = rstar::AABB::from_corners(lower, upper);
        let found = self.terminals.locate_in_envelope(envelope);
        let mut found: Vec<_> = found.map(|leaf| (leaf.data, *leaf.geom())).collect();
        found.sort_by_key(|(terminal, _)| *terminal);
        found
    }

    /// All ends, in the order of trackways.
    pub(super) fn all_terminals(&self) -> Vec<(Terminal, [f64; 2])> {
        let mut all: Vec<_> = (self.terminals.iter())
            .map(|leaf| (leaf.data, *leaf.geom()))
            .collect();
        all.sort_by_key(|(terminal, _)| *terminal);
        all
    }

    /// About how much memory this takes, bytes.
    #[must_use]
    pub fn memory_bytes(&self) -> usize {
        let in_trackways: usize = self.prints.iter().map(|prints| prints.len() * 4 + 24).sum();
        size_of::<Self>() + self.of_print.len() * 4 + in_trackways + self.labels.len() * (16 + 2 * 64)
    }
}

/// The first and the last print of each main row of three prints or more.
fn terminals(index: &SurfaceIndex, trackways: &[Vec<PrintNo>]) -> Vec<Leaf> {
    let ends = |(trackway, prints): (u32, &Vec<PrintNo>)| {
        let row = main_row(index, prints);
        let ends = (row.len() >= 3).then(|| [(row[0], false), (row[row.len() - 1], true)]);
        let leaf = move |(no, is_end): (PrintNo, bool)| {
            let print = index.print(no);
            Leaf::new([print.easting_m, print.northing_m], Terminal { trackway, is_end })
        };
        ends.into_iter().flatten().map(leaf).collect::<Vec<Leaf>>()
    };
    (0..).zip(trackways).flat_map(ends).collect()
}

/// The box around all prints, at least a square metre for each hundred of them.
fn area_m2(index: &SurfaceIndex) -> f64 {
    let least = 1.0 + index.prints().len() as f64 / 100.0;
    index.bounds().map_or(least, |[lower, upper]| {
        ((upper[0] - lower[0]) * (upper[1] - lower[1])).max(least)
    })
}

fn pes_share(index: &SurfaceIndex) -> f64 {
    let (mut pes, mut manus) = (2.0, 2.0);
    for limb in index.prints().iter().filter_map(|print| print.limb) {
        match limb {
            crate::model::Limb::Pes => pes += 1.0,
            crate::model::Limb::Manus => manus += 1.0,
        }
    }
    pes / (pes + manus)
}
