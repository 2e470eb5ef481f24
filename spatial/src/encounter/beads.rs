//! Paths as rows of beads, and how near the rows of a surface come to each other.

use super::path::{Path, distance_m};
use super::placing::Placement;

/// How far paths are looked at from each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reach {
    /// Two that walk together are no farther apart, metres.
    pub beside_m: f64,
    /// One that follows keeps nearer to the other's line, metres.
    pub behind_m: f64,
    /// Beads stand no farther apart, metres. Long ones tell directions well: what is lost in bends is less than what
    /// the unevenness of single steps would take.
    pub step_m: f64,
    /// The ground's area, square metres.
    pub area_m2: f64,
}

/// How many foot lengths a follower may be off the line.
const BEHIND_FEET: f64 = 4.0;
/// How sharply directions must agree: two that walk together go within a few degrees of each other for ten metres, and
/// of paths that only come near each other few do. κ of the weight, a standard deviation of 3.6 degrees.
const ALIKE: f64 = 256.0;
/// Directions that differ by more than this (its cosine) would weigh less than 1e-11.
const LEAST_COSINE: f64 = 0.9;
/// Up to so many paths, pairs that are out of reach are told from each other too.
pub(super) const FEW: usize = 48;
/// What they count for at most: less than any that are in reach for a stretch.
const FAINT: f64 = 1e-6;

impl Reach {
    /// # Formula
    /// The area over the number of paths is the square of their middle distance; companions are looked for up to that.
    pub fn of(paths: &[Path], area_m2: f64) -> Self {
        let count = paths.len().max(1) as f64;
        let beside_m = (area_m2 / count).sqrt();
        let feet: Vec<f64> = (paths.iter().map(|path| path.foot_m))
            .filter(|foot_m| *foot_m > 0.0)
            .collect();
        let foot_m = feet.iter().sum::<f64>() / feet.len().max(1) as f64;
        let behind_m = if foot_m > 0.0 {
            (BEHIND_FEET * foot_m).min(beside_m)
        } else {
            beside_m / 4.0
        };
        Self {
            beside_m,
            behind_m,
            step_m: beside_m,
            area_m2,
        }
    }
}

/// One short piece of a path, told by its middle.
#[derive(Debug, Clone, Copy)]
struct Bead {
    at: [f64; 2],
    /// Where it leads: of length 1.
    way: [f64; 2],
    length_m: f64,
    path: u32,
}

/// All paths of a surface as beads.
#[derive(Debug, Clone)]
pub(super) struct Beads {
    beads: Vec<Bead>,
    /// Each path's middle and its way from first to last.
    wholes: Vec<Bead>,
}

/// How near two paths are; the larger, the nearer and the more alike in direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Near {
    pub one: u32,
    pub other: u32,
    /// As companions.
    pub beside: f64,
    /// The first along the line of the second.
    pub one_behind: f64,
    /// The second along the line of the first.
    pub other_behind: f64,
}

impl Beads {
    pub fn of(paths: &[Path], reach: Reach) -> Self {
        let mut beads = Vec::new();
        let mut wholes = Vec::new();
        for (no, path) in (0u32..).zip(paths) {
            let length_m = path.length_m();
            let count = ((length_m / reach.step_m).ceil() as usize).clamp(4, 64);
            let piece_m = length_m / count as f64;
            for piece in 0..count {
                let from = path.at_m(piece as f64 * piece_m);
                let to = path.at_m((piece + 1) as f64 * piece_m);
                let chord_m = distance_m(from, to);
                if chord_m > 0.0 {
                    beads.push(Bead {
                        at: [0, 1].map(|axis| (from[axis] + to[axis]) / 2.0),
                        way: [0, 1].map(|axis| (to[axis] - from[axis]) / chord_m),
                        length_m: piece_m,
                        path: no,
                    });
                }
            }
            let (sine, cosine) = path.heading_rad().sin_cos();
            wholes.push(Bead {
                at: path.middle_m(),
                way: [sine, cosine],
                length_m,
                path: no,
            });
        }
        Self { beads, wholes }
    }

    /// How they lie where each path is laid down elsewhere.
    pub fn laid(&self, placements: &[Placement]) -> Self {
        let lay = |bead: &Bead| {
            let placement = &placements[bead.path as usize];
            Bead {
                at: placement.place(bead.at),
                way: placement.turned(bead.way),
                ..*bead
            }
        };
        Self {
            beads: self.beads.iter().map(lay).collect(),
            wholes: self.wholes.iter().map(lay).collect(),
        }
    }

    /// All pairs that are near each other, in the order of their numbers; `same_way` or in opposite directions. Of few
    /// paths all pairs are told.
    ///
    /// # Formula
    /// beside = (Σ over beads i of one, Σ over beads j of the other, of ℓᵢ Λ(a/ℓⱼ) (1 − |q|/r) w, and the same the
    /// other way round) / (2 (L₁ L₂)^¼), with a and q the distances of i from j along and across j's direction, Λ the
    /// hat function, r the reach, w = exp(−κ (1 − cos Δ)) of the directions' difference Δ, each factor 0 where it would be
    /// less. Nearness counts little beside direction: two that walk together keep a distance, and of two paths that cross at
    /// a small angle the distance is nothing somewhere. Along a straight way the hats add up to 1, so that the sum is the length that both walk abreast,
    /// weighted. Behind is the same for the follower's beads alone over √L with a smaller r.
    pub fn near(&self, reach: Reach, same_way: bool) -> Vec<Near> {
        let grid = Grid::of(&self.beads, reach);
        let count = self.wholes.len();
        let sign = if same_way { 1.0 } else { -1.0 };
        let mut sums = vec![[0.0f64; 3]; count];
        let mut touched: Vec<u32> = Vec::new();
        let mut near = Vec::new();
        let mut from = 0;
        for one in 0..count as u32 {
            let to = from + self.beads[from..].partition_point(|bead| bead.path == one);
            for bead in &self.beads[from..to] {
                grid.around(bead.at, |beads| {
                    for other in beads.iter().filter(|other| other.path > one) {
                        let Some(sum) = abreast(bead, other, reach, sign) else {
                            continue;
                        };
                        let all = &mut sums[other.path as usize];
                        if all[0] == 0.0 {
                            touched.push(other.path);
                        }
                        (0..3).for_each(|part| all[part] += sum[part]);
                    }
                });
            }
            from = to;
            if count <= FEW {
                near.extend(
                    (one + 1..count as u32).map(|other| self.pair(one, other, &mut sums, reach, sign)),
                );
            } else {
                touched.sort_unstable();
                touched.dedup();
                near.extend(
                    touched
                        .iter()
                        .map(|other| self.pair(one, *other, &mut sums, reach, sign)),
                );
            }
            touched.clear();
        }
        near
    }

    fn pair(&self, one: u32, other: u32, sums: &mut [[f64; 3]], reach: Reach, sign: f64) -> Near {
        let [beside, one_behind, other_behind] = std::mem::take(&mut sums[other as usize]);
        let (a, b) = (&self.wholes[one as usize], &self.wholes[other as usize]);
        let faint = if self.wholes.len() <= FEW {
            FAINT * (1.0 + sign * dot(a.way, b.way) + 1e-9)
                / (1.0 + distance_m(a.at, b.at).powi(2) / reach.area_m2)
        } else {
            0.0
        };
        Near {
            one,
            other,
            beside: beside / (2.0 * (a.length_m * b.length_m).sqrt().sqrt()) + faint,
            one_behind: one_behind / a.length_m.sqrt() + faint,
            other_behind: other_behind / b.length_m.sqrt() + faint,
        }
    }
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// What two beads add: beside (both ways), the first behind the second, the second behind the first.
#[inline]
fn abreast(one: &Bead, other: &Bead, reach: Reach, sign: f64) -> Option<[f64; 3]> {
    let cosine = sign * dot(one.way, other.way);
    if cosine <= LEAST_COSINE {
        return None;
    }
    let apart = [one.at[0] - other.at[0], one.at[1] - other.at[1]];
    let alike = (-ALIKE * (1.0 - cosine)).exp();
    let seen_from = |from: &Bead, weight_m: f64| {
        let along = dot(apart, from.way).abs();
        let across = (apart[0] * from.way[1] - apart[1] * from.way[0]).abs();
        if along >= from.length_m || across >= reach.beside_m {
            return [0.0; 2];
        }
        let weight = weight_m * (1.0 - along / from.length_m) * alike;
        let within = |reach_m: f64| (1.0 - across / reach_m).max(0.0);
        [weight * within(reach.beside_m), weight * within(reach.behind_m)]
    };
    let [beside_1, behind_1] = seen_from(other, one.length_m);
    let [beside_2, behind_2] = seen_from(one, other.length_m);
    let beside = beside_1 + beside_2;
    (beside > 0.0).then_some([beside, behind_1, behind_2])
}

/// Beads by the square in which they lie.
struct Grid {
    beads: Vec<Bead>,
    /// Where each square's beads begin; one more than squares.
    starts: Vec<u32>,
    corner: [f64; 2],
    side_m: f64,
    /// How many squares, eastwards and northwards, with an empty rim.
    squares: [usize; 2],
}

impl Grid {
    fn of(beads: &[Bead], reach: Reach) -> Self {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for bead in beads {
            for axis in 0..2 {
                low[axis] = low[axis].min(bead.at[axis]);
                high[axis] = high[axis].max(bead.at[axis]);
            }
        }
        let extent = [0, 1].map(|axis| (high[axis] - low[axis]).max(0.0));
        let longest = beads.iter().map(|bead| bead.length_m).fold(0.0, f64::max);
        // Not many more squares than beads, however far some lie out.
        let coarse = (extent[0] * extent[1] / (4 * beads.len() + 16) as f64).sqrt();
        let long = extent[0].max(extent[1]) / (beads.len() + 16) as f64;
        let side_m = reach.beside_m.hypot(longest).max(coarse).max(long).max(1e-3);
        let squares = extent.map(|extent| (extent / side_m) as usize + 3);
        let mut grid = Self {
            beads: Vec::new(),
            starts: vec![0; squares[0] * squares[1] + 1],
            corner: low,
            side_m,
            squares,
        };
        let homes: Vec<u32> = beads.iter().map(|bead| grid.square(bead.at) as u32).collect();
        for home in &homes {
            grid.starts[*home as usize + 1] += 1;
        }
        for square in 1..grid.starts.len() {
            grid.starts[square] += grid.starts[square - 1];
        }
        let mut next = grid.starts.clone();
        let mut places = vec![0u32; beads.len()];
        for (bead, home) in homes.iter().enumerate() {
            let place = &mut next[*home as usize];
            places[*place as usize] = bead as u32;
            *place += 1;
        }
        grid.beads = places.iter().map(|bead| beads[*bead as usize]).collect();
        grid
    }

    fn square(&self, at: [f64; 2]) -> usize {
        let [east, north] = [0, 1].map(|axis| ((at[axis] - self.corner[axis]) / self.side_m) as usize + 1);
        north * self.squares[0] + east
    }

    /// The beads of the square of a bead and of the eight around it, row by row.
    #[inline]
    fn around(&self, at: [f64; 2], mut each: impl FnMut(&[Bead])) {
        let middle = self.square(at);
        for row in [middle - self.squares[0], middle, middle + self.squares[0]] {
            each(&self.beads[self.starts[row - 1] as usize..self.starts[row + 2] as usize]);
        }
    }
}
