//! The same ways by chance: each in the place of another, its heading and shape kept.

use super::anchors::{Belief, TELLING, anchors, mean};
use super::cut::Cut;
use super::edge::Edge;
use super::exposed::Exposed;
use super::hull::{drawn_to_reach, reach_m2};
use super::path::Path;
use super::room::Room;
use super::settling::Settling;
use crate::continuation::Direction;
use crate::continuation::plane::{Vector, minus};
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

/// Where ways may lie that have nothing to do with each other.
///
/// # Formula
/// A permutation: the anchor of way i is moved to where the anchor of way π(i) lies, and the whole way with it. The anchor is
/// the place on each path that hangs together least with its heading and length ([`anchors`]): the beginnings where
/// animals set out anywhere. What is seen is then one of all the permutations, each as likely as the others, whatever ground the
/// anchors lie on.
///
/// Where the rock's edge cuts trackways off, how far along its heading a way lies is no chance: all that lead out end at the
/// edge. There a way takes its place *across* its heading from the other alone, the anchor is the middle of a path that was cut at
/// both ends and else the end that was not; and an end that lies where its way leaves the ground (the convex hull of the other
/// paths) is moved along its heading until it lies as near to the edge as before.
///
/// If no edge cuts trackways, permutations are settled ([`Settling`]). Where extents draw the exposed rock ([`Exposed`]), its edge is
/// theirs; if it cuts the other ends alone, whole places are dealt to ways that have room there ([`Room`]).
///
/// # References
/// Fisher, R. A. (1935), The Design of Experiments, section 21 (from memory), for the permutation. The anchor and the shift are this
/// program's own.
#[derive(Debug, Clone)]
pub(super) struct Dealing {
    anchors: Vec<Vector>,
    manner: Manner,
    /// The mean variance of each axis of the ground, square metres.
    pub variance_m2: f64,
}

/// How places are dealt.
#[derive(Debug, Clone)]
enum Manner {
    /// Whole, to any other, of paths so few that nothing can be settled.
    Whole,
    /// Whole and settled, where no edge cuts trackways.
    Settled(Settling),
    /// Whole, to those that have room there, where the extents show that none but the other ends are cut.
    Roomy(Room),
    /// Across headings alone, where the edge cuts the ends from which ways lead on.
    Across(Cut),
}

impl Dealing {
    /// Within the edge that cuts the paths off, if one does, and `exposed` where extents draw it. `ends` holds for each path where its way
    /// begins, and the unit vector of its heading there; ways lead on from the last places, or with `Before` from the first.
    pub fn of(
        paths: &[&Path],
        exposed: Option<&Exposed>,
        edge: Option<&Edge>,
        direction: Direction,
        ends: &[(Vector, Vector)],
    ) -> Self {
        let is_settled = edge.is_none() && paths.len() >= TELLING;
        let belief = if is_settled {
            Belief::Nothing
        } else {
            Belief::OnThePath
        };
        let anchors = anchors(paths, edge, belief);
        let variance_m2 = variance_m2(&anchors, reach_m2(paths));
        let side = usize::from(direction == Direction::After);
        let manner = match (edge, exposed) {
            (None, _) if is_settled => Manner::Settled(Settling::of(paths, &anchors)),
            (None, _) => Manner::Whole,
            (Some(edge), Some(exposed)) if !edge.sides()[side] => {
                Manner::Roomy(Room::of(paths, exposed, edge))
            }
            (Some(_), exposed) => Manner::Across(Cut::of(paths, exposed, ends, variance_m2)),
        };
        Self {
            anchors,
            manner,
            variance_m2,
        }
    }

    /// By how much each way is shifted, metres. Each number of a permutation has draws of its own, so that they can be made on
    /// any core.
    pub fn shifts(&self, seed: u64, permutation: u32) -> Vec<Vector> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::from(permutation) + 1);
        let places = match &self.manner {
            Manner::Roomy(room) => room.dealt(&self.anchors, &mut rng),
            _ => {
                let mut places: Vec<usize> = (0..self.anchors.len()).collect();
                places.shuffle(&mut rng);
                places
            }
        };
        if let Manner::Settled(settling) = &self.manner {
            let settled = settling.settled(&places).into_iter().zip(&self.anchors);
            return settled.map(|(to, from)| minus(to, *from)).collect();
        }
        let shift = |(way, from): (usize, usize)| {
            let whole = minus(self.anchors[from], self.anchors[way]);
            match &self.manner {
                Manner::Across(cut) => cut.across(way, whole),
                _ => whole,
            }
        };
        places.into_iter().enumerate().map(shift).collect()
    }
}

/// The mean variance of each axis of the ground that the anchors show.
fn variance_m2(anchors: &[Vector], reach_m2: f64) -> f64 {
    let (count, centre) = (anchors.len() as f64, mean(anchors));
    let drawn = [0, 1].map(|axis| {
        let square: f64 = anchors.iter().map(|at| (at[axis] - centre[axis]).powi(2)).sum();
        drawn_to_reach(square / (count - 1.0).max(1.0), reach_m2, count)
    });
    (drawn[0] + drawn[1]) / 2.0
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::continuation::plane::{length, plus, times};
    use crate::encounter::anchors::way;
    use rand::RngExt;
    use std::f64::consts::TAU;

    /// Straight ones that set out anywhere in a rectangle, in any heading, and end of themselves.
    pub fn scattered(count: usize, size_m: Vector, seed: u64) -> Vec<Path> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let path = |_| {
            let at = size_m.map(|side_m| side_m * rng.random::<f64>());
            let heading_rad = rng.random_range(0.0..TAU);
            let ahead = [f64::sin(heading_rad), f64::cos(heading_rad)];
            let paces = rng.random_range(8..30);
            let line = (0..=paces).map(|pace| plus(at, times(ahead, f64::from(pace))));
            Path::along("T1".parse().unwrap(), line.collect(), 0.3).unwrap()
        };
        (0..count).map(path).collect()
    }

    /// Their ends, and the unit vector of their headings.
    fn ends(paths: &[Path]) -> Vec<(Vector, Vector)> {
        let end = |path: &Path| {
            let way = way(path);
            (plus(path.line_m[0], way), times(way, 1.0 / length(way)))
        };
        paths.iter().map(end).collect()
    }

    fn dealing(paths: &[Path]) -> Dealing {
        let all: Vec<&Path> = paths.iter().collect();
        let edge = Edge::of(&all, None);
        Dealing::of(&all, None, edge.as_ref(), Direction::After, &ends(paths))
    }

    #[test]
    fn the_places_of_three_trackways_are_dealt_out_whole() {
        let paths = scattered(3, [80.0, 60.0], 3);
        let dealing = dealing(&paths);
        let shifts = dealing.shifts(7, 0);
        let mut dealt: Vec<Vector> = (dealing.anchors.iter().zip(&shifts))
            .map(|(anchor, shift)| plus(*anchor, *shift))
            .collect();
        let mut anchors = dealing.anchors.clone();
        for places in [&mut dealt, &mut anchors] {
            places.sort_by(|one, other| one[0].total_cmp(&other[0]));
        }
        let off = dealt
            .iter()
            .zip(&anchors)
            .map(|(one, other)| length(minus(*one, *other)));
        assert!(off.fold(0.0, f64::max) < 1e-9);
        assert_ne!(dealing.shifts(7, 1), shifts, "each permutation has its own draws");
        assert_eq!(dealing.shifts(7, 0), shifts);
    }

    #[test]
    fn the_places_of_many_are_dealt_out_settled_about_the_same_centre() {
        let dealing = dealing(&scattered(20, [80.0, 60.0], 3));
        assert!(matches!(dealing.manner, Manner::Settled(_)));
        let shifts = dealing.shifts(7, 0);
        assert!(length(mean(&shifts)) < 1e-9);
        assert_ne!(dealing.shifts(7, 1), shifts, "each permutation has its own draws");
        assert_eq!(dealing.shifts(7, 0), shifts);
    }

    #[test]
    fn what_lies_on_one_line_is_shifted_by_numbers() {
        let on_line = |no: i32| (0..5 + no).map(move |pace| [f64::from(pace + 7 * no * no), 0.0]);
        let in_line: Vec<Path> = (0..6)
            .map(|no| Path::along("T1".parse().unwrap(), on_line(no).collect(), 0.3).unwrap())
            .collect();
        let shifts = dealing(&in_line).shifts(1, 0);
        assert!(shifts.iter().flatten().all(|part| part.is_finite()));
    }

    #[test]
    fn ends_that_the_edge_cut_lie_at_it_again() {
        // Out of a disc of 20 m, from anywhere in it, in any heading.
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut paths = Vec::new();
        while paths.len() < 30 {
            let at = [0, 1].map(|_| rng.random_range(-20.0..20.0));
            let heading_rad = rng.random_range(0.0..TAU);
            let ahead = [f64::sin(heading_rad), f64::cos(heading_rad)];
            let line = (0..60).map(|pace| plus(at, times(ahead, f64::from(pace))));
            let line = line.take_while(|place| length(*place) <= 20.0).collect();
            paths.extend(Path::along("T1".parse().unwrap(), line, 0.3));
        }
        let (dealing, ends) = (dealing(&paths), ends(&paths));
        let Manner::Across(cut) = &dealing.manner else {
            panic!("an edge");
        };
        let is_cut = cut.count();
        assert!(is_cut > 25, "{is_cut}");
        let (mut farthest, mut at_edge, mut all) = (0.0f64, 0, 0);
        for permutation in 0..20 {
            for ((place, _), shift) in ends.iter().zip(dealing.shifts(1, permutation)) {
                farthest = farthest.max(length(shift));
                at_edge += usize::from((17.5..20.0).contains(&length(plus(*place, shift))));
                all += 1;
            }
        }
        assert!(at_edge * 20 > all * 19, "{at_edge} of {all}");
        assert!(farthest > 20.0, "{farthest}");
    }
}
