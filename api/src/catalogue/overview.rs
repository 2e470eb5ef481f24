//! What a surface holds, counted, and where its trackways run.

use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};
use spatial::index::SurfaceIndex;
use spatial::model::{Limb, Print, Status, Trackway};
use std::collections::HashMap;
use std::sync::Arc;

/// What every picture of a surface tells or looks for, worked out once: on a surface of a million prints it takes a second.
#[derive(Debug)]
pub struct Overview {
    /// How many prints are of pes, of manus, and of unknown limb.
    pub limbs: [usize; 3],
    /// How many prints no accepted or proposed trackway holds.
    pub outside: usize,
    /// How many trackways are accepted, proposed and rejected.
    pub trackways: [usize; 3],
    /// The prints' morphotypes.
    pub morphotypes: Morphotypes,
    /// A box around the prints of each trackway, with its place among the surface's trackways.
    ways: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>,
}

/// The morphotypes of prints.
#[derive(Debug)]
pub struct Morphotypes {
    /// Each with the number of its prints, the most frequent first, of equally frequent ones by name.
    pub named: Vec<(Arc<str>, usize)>,
    /// How many prints have none.
    pub unnamed: usize,
}

/// The limbs in the order of [`Overview::limbs`].
const LIMBS: [Option<Limb>; 3] = [Some(Limb::Pes), Some(Limb::Manus), None];
/// The statuses in the order of [`Overview::trackways`].
const STATUSES: [Status; 3] = [Status::Accepted, Status::Proposed, Status::Rejected];

impl Overview {
    pub(super) fn of(index: &SurfaceIndex) -> Self {
        let (prints, trackways) = (index.prints(), index.trackways());
        let mut held = vec![false; prints.len()];
        let mut ways = Vec::with_capacity(trackways.len());
        for (place, trackway) in trackways.iter().enumerate() {
            let members: Vec<_> = trackway
                .prints
                .iter()
                .filter_map(|label| index.find(label))
                .collect();
            if trackway.status != Status::Rejected {
                members.iter().for_each(|no| held[*no as usize] = true);
            }
            let positions = members.iter().map(|no| index.print(*no));
            let positions: Vec<_> = positions
                .map(|print| [print.easting_m, print.northing_m])
                .collect();
            if !positions.is_empty() {
                let around = AABB::from_points(&positions);
                ways.push(GeomWithData::new(around.into(), place));
            }
        }
        Self {
            limbs: LIMBS.map(|limb| prints.iter().filter(|print| print.limb == limb).count()),
            outside: held.iter().filter(|held| !**held).count(),
            trackways: STATUSES.map(|status| trackways.iter().filter(|one| one.status == status).count()),
            morphotypes: Morphotypes::of(prints),
            ways: RTree::bulk_load(ways),
        }
    }

    /// The trackways of the surface whose prints lie around a box or in it, in their order.
    pub fn trackways_about<'a>(
        &self,
        index: &'a SurfaceIndex,
        lower: [f64; 2],
        upper: [f64; 2],
    ) -> Vec<&'a Trackway> {
        let about = self
            .ways
            .locate_in_envelope_intersecting(AABB::from_corners(lower, upper));
        let mut places: Vec<usize> = about.map(|way| way.data).collect();
        places.sort_unstable();
        places
            .into_iter()
            .map(|place| &index.trackways()[place])
            .collect()
    }

    pub(super) fn memory_bytes(&self) -> usize {
        let names = self.morphotypes.named.iter();
        let names: usize = names
            .map(|(name, _)| name.len() + size_of::<(Arc<str>, usize)>())
            .sum();
        self.ways.size() * 2 * size_of::<GeomWithData<Rectangle<[f64; 2]>, usize>>() + names
    }
}

impl Morphotypes {
    /// Counts them.
    pub fn of(prints: &[Print]) -> Self {
        let mut counts: HashMap<&Arc<str>, usize> = HashMap::new();
        for name in prints.iter().filter_map(|print| print.morphotype.as_ref()) {
            *counts.entry(name).or_default() += 1;
        }
        let mut named: Vec<_> = counts
            .into_iter()
            .map(|(name, count)| (name.clone(), count))
            .collect();
        named.sort_unstable_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        let unnamed = prints.len() - named.iter().map(|(_, count)| count).sum::<usize>();
        Self { named, unnamed }
    }
}
