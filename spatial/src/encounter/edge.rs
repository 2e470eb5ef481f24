//! The edge of the rock, where it cuts trackways off.

use super::exposed::Exposed;
use super::hull::Hull;
use super::path::Path;
use super::placing::Placement;
use crate::angle::mean_direction_rad;
use crate::continuation::plane::{Vector, length, minus, plus, times};

/// A caution on p that rest on where the rock ends.
macro_rules! with_edge {
    ($caution:literal) => {
        concat!(
            $caution,
            " Whether the rock's edge cuts trackways off is known where exposed extents are drawn; where none is, it is guessed from where \
             they end; where few trackways leave it open, chance lays them now within an edge and now without, as either is likely."
        )
    };
}
pub(super) use with_edge;

/// So many of the ends that are no corners of the hull of all paths, and such a part of them, lie at that hull where it is
/// an edge; where trackways end of themselves hardly any do. Where extents draw the edge, so many of all ends are cut there.
const CUT: f64 = 3.0;
const CUT_PART: f64 = 0.13;
/// Of few trackways most corners are cut ends. An edge is likely where no more than the first part of all ends lies inside that hull, not
/// where more than the second does, and in between the likelier the fewer do; of fewer than so many trackways most ends
/// are corners, whatever made them end. Found on simulated surfaces.
const INSIDE_PARTS: [f64; 2] = [0.38, 0.5];
const FEWEST: usize = 6;
/// The edge cuts beginnings, or ends, where so many times as many of them lie at it as of places spread evenly over the ground.
const CUT_SIDE: f64 = 2.0;
/// By how much the edge lies beyond the hull of so few paths: that many parts of its size for one path; twice as many if all lead
/// along one line, for then only the outermost path tells how far the ground goes beside it.
const BEYOND: f64 = 0.5;
/// So many mean paces beyond the edge that extents draw a path may be laid: long ones have hardly room but in the middle, where on
/// the rock they would have been cut shorter. Found on simulated surfaces.
const BEYOND_PACES: f64 = 2.0;

/// How many sides of the ground a path is moved off, one after the other.
const PASSES: usize = 6;

/// The ground of a surface whose trackways are cut off at its edge, and how each path lies in it.
#[derive(Debug, Clone)]
pub(super) struct Edge {
    /// How probable it is that there is one: 1 but where few paths leave it open.
    pub likely: f64,
    hull: Hull,
    held: Vec<Held>,
    /// Whether it cuts beginnings, and whether ends.
    sides: [bool; 2],
}

/// What is kept of a path wherever it is laid.
#[derive(Debug, Clone)]
struct Held {
    /// Both ends, the middle, and between them.
    marks: [Vector; 5],
    /// Whether it comes in over the edge, and goes out over it.
    is_cut: [bool; 2],
}

impl Held {
    fn of(path: &Path, is_cut: [bool; 2]) -> Self {
        let last = path.line_m.len() - 1;
        Self {
            marks: [0, 1, 2, 3, 4].map(|part| path.line_m[part * last / 4]),
            is_cut,
        }
    }
}

impl Edge {
    /// The edge of a surface; `None` where its trackways surely end of themselves.
    pub fn of(paths: &[&Path], exposed: Option<&Exposed>) -> Option<Self> {
        match exposed {
            Some(exposed) => Self::drawn(paths, exposed),
            None => Self::guessed(paths),
        }
    }

    /// As the extents of the surface draw it.
    fn drawn(paths: &[&Path], exposed: &Exposed) -> Option<Self> {
        let hull = exposed.hull(paths);
        let held = paths.iter().map(|path| Held::of(path, exposed.cuts(path)));
        let held: Vec<Held> = held.collect();
        let sides = sides(paths, &hull, &held);
        let cut = held.iter().flat_map(|held| held.is_cut);
        let cut = cut.filter(|is_cut| *is_cut).count() as f64;
        let is_cut = sides.contains(&true) && cut >= CUT && cut >= CUT_PART * (2 * paths.len()) as f64;
        let paces_m: f64 = paths.iter().map(|path| path.pace_m()).sum();
        is_cut.then(|| Self {
            likely: 1.0,
            hull: hull.widened(BEYOND_PACES * paces_m / paths.len() as f64),
            held,
            sides,
        })
    }

    /// As far as the paths themselves show it.
    fn guessed(paths: &[&Path]) -> Option<Self> {
        let hull = Hull::of(paths);
        let (mut at_edge, mut inside) = (0.0, 0.0);
        let held = paths.iter().map(|path| {
            let pace_m = path.pace_m();
            let is_cut = [0, path.line_m.len() - 1].map(|end| {
                let within_m = -hull.outside_m(path.line_m[end]);
                // The corners of the hull are ends themselves, whatever made them end.
                if within_m > 1e-6 {
                    *(if within_m < pace_m {
                        &mut at_edge
                    } else {
                        &mut inside
                    }) += 1.0;
                }
                within_m < pace_m
            });
            Held::of(path, is_cut)
        });
        let held: Vec<Held> = held.collect();
        let are_many = at_edge >= CUT && at_edge >= CUT_PART * (at_edge + inside);
        let likely = match paths.len() {
            _ if are_many => 1.0,
            ..FEWEST => 0.0,
            count => {
                let [surely, hardly] = INSIDE_PARTS;
                ((hardly - inside / (2 * count) as f64) / (hardly - surely)).clamp(0.0, 1.0)
            }
        };
        (likely > 0.0).then(|| Self {
            likely,
            sides: sides(paths, &hull, &held),
            hull: hull.grown(BEYOND * (1.0 + alignment(paths)) / paths.len() as f64),
            held,
        })
    }

    /// Whether it cuts beginnings, and ends, more often than by chance.
    pub fn sides(&self) -> [bool; 2] {
        self.sides
    }

    /// Whether a path comes in over the edge, and goes out over it. Where the edge cuts nothing but beginnings, or nothing
    /// but ends, each path is taken as the others are: those that it did not cut come to lie inside by the same chance.
    pub fn cuts(&self, path: usize) -> [bool; 2] {
        match self.sides {
            [one, other] if one != other => [one, other],
            _ => self.held[path].is_cut,
        }
    }

    /// A placement of a path moved until the end that the edge cut lies at the edge again (of two `second` says which), and
    /// no part of it beyond, as far as it has room.
    pub fn drawn_in(&self, path: usize, mut placement: Placement, second: bool) -> Placement {
        let Held { marks, is_cut } = &self.held[path];
        let placed = marks.map(|mark| placement.place(mark));
        let way = minus(placed[4], placed[0]);
        let far_m = length(way);
        if is_cut.contains(&true) && far_m > 1e-6 {
            let way = times(way, 1.0 / far_m);
            let at_end = if is_cut[0] && is_cut[1] { second } else { is_cut[1] };
            if let Some([enters, leaves]) = self.hull.crossed(placed[0], way) {
                let on = if at_end { leaves - far_m } else { enters };
                placement.to = plus(placement.to, times(way, on));
            }
        }
        for _ in 0..PASSES {
            let placed = marks.map(|mark| placement.place(mark));
            let (far_m, out) = self.hull.farthest_out(&placed);
            if far_m <= 1e-9 {
                break;
            }
            placement.to = minus(placement.to, times(out, far_m));
        }
        placement
    }
}

/// How far paths lead along one line, from 0 for any heading to 1.
///
/// # Formula
/// (n R̄² − 1) / (n − 1), R̄ the mean resultant length of the doubled headings: of headings drawn evenly R̄² is 1 / n in the mean.
///
/// # References
/// Mardia, K. V. & Jupp, P. E. (2000), Directional Statistics, section 6.3 (from memory), for that mean.
fn alignment(paths: &[&Path]) -> f64 {
    let doubled = paths.iter().map(|path| 2.0 * path.heading_rad());
    let (count, r) = (
        paths.len() as f64,
        mean_direction_rad(doubled).map_or(0.0, |(_, r)| r),
    );
    ((count * r * r - 1.0) / (count - 1.0)).max(0.0)
}

/// Whether the edge cuts beginnings, and ends, more often than by chance.
fn sides(paths: &[&Path], hull: &Hull, held: &[Held]) -> [bool; 2] {
    let near = paths
        .iter()
        .map(|path| (path.pace_m() * hull.rim_per_m()).min(1.0));
    let by_chance: f64 = near.sum();
    [0, 1].map(|side| held.iter().filter(|held| held.is_cut[side]).count() as f64 >= CUT_SIDE * by_chance)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(line: Vec<Vector>) -> Path {
        Path::along("T1".parse().unwrap(), line, 0.3).unwrap()
    }

    fn of(paths: &[Path]) -> Option<Edge> {
        Edge::of(&paths.iter().collect::<Vec<_>>(), None)
    }

    /// Each crosses a square of 20 m from its west to its east side, a metre a pace; where the last print before the edge
    /// lies differs.
    fn crossing() -> Vec<Path> {
        let line = |no: f64| (0..=20).map(move |pace| [f64::from(pace) + 0.3 * (5.0 * no).sin(), 2.0 * no]);
        (0..=10).map(|no| path(line(f64::from(no)).collect())).collect()
    }

    #[test]
    fn trackways_that_end_of_themselves_show_no_edge() {
        assert!(Edge::of(&[], None).is_none());
        let line = |no: f64| {
            let at = [no * 7.0 % 31.0, no * no * 3.0 % 29.0];
            let way = [no.sin(), no.cos()];
            (0..8).map(move |pace| plus(at, times(way, f64::from(pace))))
        };
        let scattered: Vec<Path> = (0..20).map(|no| path(line(f64::from(no)).collect())).collect();
        assert!(of(&scattered).is_none());
        assert!(of(&crossing()).is_some());
    }

    #[test]
    fn an_edge_of_few_trackways_is_the_likelier_the_fewer_ends_lie_inside() {
        // Eight that leave a disc, and so many of them that came in from beyond it: the others set out near its middle.
        let leaving = |from_beyond: usize| -> Vec<Path> {
            let line = |no: usize| {
                let (sine, cosine) = (no as f64 * 0.8).sin_cos();
                let first = if no < from_beyond { -20 } else { 1 };
                (first..=20).map(move |pace| times([sine, cosine], f64::from(pace)))
            };
            (0..8).map(|no| path(line(no).collect())).collect()
        };
        let likely = |from_beyond| of(&leaving(from_beyond)).map_or(0.0, |edge| edge.likely);
        assert!(likely(0) < 1e-9);
        assert!((0.2..0.8).contains(&likely(1)), "{}", likely(1));
        assert!((likely(2) - 1.0).abs() < 1e-9);
        assert!(of(&leaving(2)[..5]).is_none(), "five tell nothing");
    }

    #[test]
    fn the_ground_of_those_that_lead_along_one_line_goes_farther_beyond() {
        let one_line = crossing();
        let alike = one_line.iter().collect::<Vec<_>>();
        assert!((alignment(&alike) - 1.0).abs() < 1e-3);
        let star = |no: i32| {
            let (sine, cosine) = (f64::from(no) * 0.5).sin_cos();
            path(
                (1..9)
                    .map(|pace| times([sine, cosine], f64::from(pace)))
                    .collect(),
            )
        };
        let star: Vec<Path> = (0..12).map(star).collect();
        assert!(alignment(&star.iter().collect::<Vec<_>>()) < 0.1);
    }

    #[test]
    fn what_is_cut_comes_to_lie_between_the_edges() {
        let paths = crossing();
        let edge = of(&paths).unwrap();
        // Moved north-east, and turned by half a turn: it still reaches from side to side.
        let moved = Placement {
            pivot: [0.0, 10.0],
            cosine: -1.0,
            sine: 0.0,
            to: [35.0, 14.0],
            turn_rad: std::f64::consts::PI,
        };
        for second in [false, true] {
            let placement = edge.drawn_in(5, moved, second);
            let ends = [0, 20].map(|end| placement.place(paths[5].line_m[end]));
            assert!((ends[0][1] - 14.0).abs() < 1e-9, "{ends:?}");
            assert!(
                ends.iter().all(|end| edge.hull.outside_m(*end) < 1e-6),
                "{ends:?}"
            );
            assert!((ends[0][0] - ends[1][0] - 20.0).abs() < 1e-9, "{ends:?}");
        }
    }

    #[test]
    fn what_has_no_room_is_left_across() {
        let mut paths = crossing();
        paths.push(path((0..60).map(|pace| [f64::from(pace) - 20.0, 10.5]).collect()));
        let edge = of(&paths[..11]);
        assert!(edge.is_some());
        let all = of(&paths);
        // The long one makes a hull of its own, in which the others end inside.
        assert!(all.is_none());
    }
}
