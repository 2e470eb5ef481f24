//! Where ways have room on rock that extents draw.

use super::edge::Edge;
use super::exposed::Exposed;
use super::hull::Hull;
use super::path::Path;
use crate::continuation::plane::{Vector, minus, plus};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;

/// A trackway of fewer prints is hardly recorded. Common practice: they show no stride of both feet.
const FEWEST_PRINTS: usize = 4;
/// So many exchanges for each place deal all of them out: some half of their number's logarithm would do if each were allowed.
const EXCHANGES: [f64; 2] = [2.0, 4.0];

/// The places of ways that come from within the rock and are cut off at its edge: a way that begins near the edge and leads out would
/// not have been recorded, so no way is dealt such a place.
#[derive(Debug, Clone)]
pub(super) struct Room {
    hull: Hull,
    /// From each anchor to the place of the fewest prints from there.
    seen: Vec<Vector>,
}

impl Room {
    /// Of paths whose anchors are the ends that the edge does not cut.
    pub fn of(paths: &[&Path], exposed: &Exposed, edge: &Edge) -> Self {
        let seen = paths.iter().enumerate().map(|(number, path)| {
            let last = path.line_m.len() - 1;
            let on = (FEWEST_PRINTS - 1).min(last);
            match edge.cuts(number) {
                [false, true] => minus(path.line_m[on], path.line_m[0]),
                [true, false] => minus(path.line_m[last - on], path.line_m[last]),
                _ => [0.0; 2],
            }
        });
        Self {
            hull: exposed.hull(paths),
            seen: seen.collect(),
        }
    }

    fn is_seen(&self, way: usize, anchor: Vector) -> bool {
        self.hull.outside_m(plus(anchor, self.seen[way])) <= 0.0
    }

    /// Whose anchor each way gets: one of all the permutations in which each has room, each as likely.
    pub fn dealt(&self, anchors: &[Vector], rng: &mut ChaCha8Rng) -> Vec<usize> {
        let count = anchors.len();
        let [each, more] = EXCHANGES;
        let exchanges = count as f64 * (each * (count as f64).ln().max(0.0) + more);
        let mut places: Vec<usize> = (0..count).collect();
        for _ in 0..exchanges as usize {
            let [one, other] = [0, 1].map(|_| rng.random_range(0..count));
            if self.is_seen(one, anchors[places[other]]) && self.is_seen(other, anchors[places[one]]) {
                places.swap(one, other);
            }
        }
        places
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::rand_core::SeedableRng;

    #[test]
    fn no_way_gets_a_place_where_it_would_not_have_been_seen() {
        // On ten metres from west to east, two lead out to the east and two to the west, a metre a pace.
        let line = |from: f64, way: f64| (0..8).map(move |pace| [from + way * f64::from(pace), 0.0]);
        let ways = [(0.5, 1.0), (2.5, 1.0), (9.5, -1.0), (7.8, -1.0)];
        let paths = ways
            .map(|(from, way)| Path::along("T1".parse().unwrap(), line(from, way).collect(), 0.3).unwrap());
        let corners = vec![[0.0, -5.0], [10.0, -5.0], [10.0, 5.0], [0.0, 5.0]];
        let anchors: Vec<Vector> = paths.iter().map(|path| path.line_m[0]).collect();
        let seen = paths.iter().map(|path| minus(path.line_m[3], path.line_m[0]));
        let room = Room {
            hull: Hull::around(&corners),
            seen: seen.collect(),
        };
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let mut seen = std::collections::BTreeSet::new();
        for _ in 0..300 {
            let dealt = room.dealt(&anchors, &mut rng);
            let mut ways = dealt.iter().enumerate();
            assert!(ways.all(|(way, from)| room.is_seen(way, anchors[*from])));
            seen.insert(dealt);
        }
        // Those that lead east have room in 0.5 and 2.5 alone, the others in 9.5 and 7.8 alone.
        assert_eq!(seen.len(), 4, "{seen:?}");
        assert!(room.dealt(&[], &mut rng).is_empty());
    }
}
