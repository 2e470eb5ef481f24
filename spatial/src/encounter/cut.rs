//! Ways dealt out on a ground whose edge cuts them off.

use super::exposed::Exposed;
use super::hull::Hull;
use super::path::Path;
use crate::continuation::plane::{Vector, dot, left_of, plus, times};

/// An end that lies no more than so many paces beyond or short of where its way leaves the ground of the other paths is taken
/// for cut there; the fewer paths there are, the less of the ground the others show, and the farther beyond it may lie.
const CUT_PACES: [f64; 2] = [3.0, 1.5];

/// A ground that ends at an edge.
#[derive(Debug, Clone)]
pub(super) struct Cut {
    hull: Hull,
    ends: Vec<End>,
}

/// Where a way begins.
#[derive(Debug, Clone, Copy)]
struct End {
    place: Vector,
    ahead: Vector,
    /// How far it is to the edge of the ground, where it is cut there.
    cut_m: Option<f64>,
}

impl Cut {
    /// On the ground that extents draw, or else the paths, which is some `(12 variance_m2)^½` wide; `ends` holds for each path where
    /// its way begins, and the unit vector of its heading there.
    pub fn of(
        paths: &[&Path],
        exposed: Option<&Exposed>,
        ends: &[(Vector, Vector)],
        variance_m2: f64,
    ) -> Self {
        let (hull, others, unseen_m) = match exposed {
            Some(exposed) => (exposed.hull(paths), vec![None; paths.len()], 0.0),
            None => (
                Hull::of(paths),
                Hull::without_each(paths),
                (12.0 * variance_m2).sqrt() / paths.len() as f64,
            ),
        };
        let ends = (paths.iter().zip(ends).zip(&others)).map(|((path, (place, ahead)), others)| {
            let pace_m = path.pace_m();
            let leaves = |hull: &Hull| hull.crossed(*place, *ahead).map(|[_, leaves]| leaves);
            let is_near =
                |far_m: &f64| (-CUT_PACES[0] * pace_m - unseen_m..=CUT_PACES[1] * pace_m).contains(far_m);
            let near = leaves(others.as_ref().unwrap_or(&hull)).filter(is_near);
            End {
                place: *place,
                ahead: *ahead,
                cut_m: near.and_then(|_| leaves(&hull)),
            }
        });
        Self {
            ends: ends.collect(),
            hull,
        }
    }

    /// What of a shift leads across a way, and then along it as far as its end was from the edge.
    pub fn across(&self, way: usize, whole: Vector) -> Vector {
        let End { place, ahead, cut_m } = self.ends[way];
        let across = left_of(ahead);
        let aside = times(across, dot(whole, across));
        let cut = cut_m.zip(self.hull.crossed(plus(place, aside), ahead));
        cut.map_or(aside, |(cut_m, [_, leaves])| {
            plus(aside, times(ahead, leaves - cut_m))
        })
    }

    /// How many ends lie at the edge.
    #[cfg(test)]
    pub fn count(&self) -> usize {
        self.ends.iter().filter(|end| end.cut_m.is_some()).count()
    }
}
