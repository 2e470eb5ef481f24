//! The same paths by chance, each along another's line.
//!
//! Whether two walk side by side is a matter of their lines: how far apart, and how alike in direction. How far along its
//! line a path lies is another matter, which chance must keep: where a surface ends, it cuts its paths off, and where animals
//! begin anywhere, all that lead east have their middles in the east. Dealt out anew, both would look like company.

use super::path::Path;
use super::placing::{Headings, Placement, as_large_as, drawn_to};
use crate::angle::{mean_direction_rad, turn_rad};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// The lines of a surface's paths.
///
/// # Formula
/// A path's anchor is its middle less b times its way from first to last, b by least squares within ±½. From the mean of the
/// anchors, in the path's own frame, it lies a along and q across. Laid down, path i takes the heading of path π(i), blurred
/// (see [`Preferred`]), and its q,
/// q drawn to 0 by c and moved by a normal draw, so that its variance is wᵥ = vᵀ W v across that heading (c² (1 + h²) = 1,
/// h = n^(−1/6)), π dealt among paths of roughly one length: where edges cut paths off, those along a diagonal or through
/// the middle are the long ones. It keeps its own a in parts of the spread along its heading. W is the anchors' covariance; where they lie
/// closer together than the paths are long, drawn to the paths' own reach as for [`super::placing::Ground`].
///
/// # References
/// Silverman, B. W. (1986), Density Estimation, sections 4.3.2 and 6.4.1 (smoothed bootstrap; from memory).
#[derive(Debug, Clone)]
pub(super) struct Lanes {
    lanes: Vec<Lane>,
    centre: [f64; 2],
    kept: f64,
    /// Of anchors, and as wide as it is believed to be: ee, en, nn.
    seen: [f64; 3],
    wanted: [f64; 3],
    preferred: Preferred,
}

/// Which headings a surface's animals prefer: one, or either way along one axis.
#[derive(Debug, Clone, Copy)]
struct Preferred {
    heading_rad: f64,
    sd_rad: f64,
    either_way: bool,
}

/// Headings that spread more than this are blurred no further, radians.
const WIDEST_RAD: f64 = 0.6;

impl Preferred {
    /// # Formula
    /// s = √(−2 ln R̄); of an axis half of that of the doubled angles; the narrower is taken.
    ///
    /// # References
    /// Mardia, K. V. & Jupp, P. E. (2000), Directional Statistics, section 2.3 (from memory).
    fn of(paths: &[Path]) -> Self {
        let of = |fold: f64| {
            let headings = paths.iter().map(|path| fold * path.heading_rad());
            let (mean_rad, r) = mean_direction_rad(headings).unwrap_or((0.0, 0.0));
            let sd_rad = (-2.0 * r.max(1e-9).min(1.0).ln()).sqrt() / fold;
            (mean_rad / fold, sd_rad)
        };
        let (one, axis) = (of(1.0), of(2.0));
        let either_way = axis.1 < one.1;
        let (heading_rad, sd_rad) = if either_way { axis } else { one };
        Self {
            heading_rad,
            sd_rad,
            either_way,
        }
    }

    /// A heading like one that was seen: drawn to the preferred one by c and moved by a normal draw, so that their spread is
    /// kept, but no two are as alike as companions'.
    fn blurred(self, seen_rad: f64, kept: f64, drawn: f64) -> f64 {
        let off_rad = turn_rad(self.heading_rad, seen_rad);
        let centre_rad = if self.either_way && off_rad.abs() > FRAC_PI_2 {
            self.heading_rad + PI
        } else {
            self.heading_rad
        };
        let noise_rad = (1.0 - kept * kept).sqrt() * self.sd_rad.min(WIDEST_RAD) * drawn;
        if self.sd_rad > WIDEST_RAD {
            return seen_rad + noise_rad;
        }
        centre_rad + kept * turn_rad(centre_rad, seen_rad) + noise_rad
    }
}

/// By how much ranks of length are mixed before lines are dealt out.
const MIXED: f64 = 0.2;

#[derive(Debug, Clone, Copy)]
struct Lane {
    anchor: [f64; 2],
    heading_rad: f64,
    /// From the centre along the heading, over the spread in that direction.
    along: f64,
    /// From the centre to the right, over the spread in that direction.
    across: f64,
    /// The path's place among all by length, 0 to 1.
    rank: f64,
}

fn mean(places: &[[f64; 2]]) -> [f64; 2] {
    let count = places.len().max(1) as f64;
    [0, 1].map(|axis| places.iter().map(|place| place[axis]).sum::<f64>() / count)
}

fn covariance(places: &[[f64; 2]]) -> [f64; 3] {
    let centre = mean(places);
    let mut sums = [0.0; 3];
    for place in places {
        let (east, north) = (place[0] - centre[0], place[1] - centre[1]);
        (0..3).for_each(|part| sums[part] += [east * east, east * north, north * north][part]);
    }
    sums.map(|sum| sum / (places.len() as f64 - 1.0).max(1.0))
}

/// From its first place to its last.
fn way(path: &Path) -> [f64; 2] {
    let (first, last) = (path.line_m[0], path.line_m[path.line_m.len() - 1]);
    [last[0] - first[0], last[1] - first[1]]
}

/// By which part of its way a path's middle lies ahead of a place that has nothing to do with its heading: ½ where animals
/// began anywhere, −½ where they ended anywhere, 0 where they passed through.
fn part_ahead(paths: &[Path]) -> f64 {
    let middles: Vec<[f64; 2]> = paths.iter().map(Path::middle_m).collect();
    let ways: Vec<[f64; 2]> = paths.iter().map(way).collect();
    let (middle, way) = (mean(&middles), mean(&ways));
    let (mut both, mut squares) = (0.0, 0.0);
    for (place, leads) in middles.iter().zip(&ways) {
        for axis in 0..2 {
            both += (place[axis] - middle[axis]) * (leads[axis] - way[axis]);
            squares += (leads[axis] - way[axis]).powi(2);
        }
    }
    let part: f64 = both / squares;
    if part.is_finite() {
        part.clamp(-0.5, 0.5)
    } else {
        0.0
    }
}

/// The variance of places in one direction.
fn variance(of: [f64; 3], [east, north]: [f64; 2]) -> f64 {
    (of[0] * east * east + 2.0 * of[1] * east * north + of[2] * north * north).max(0.0)
}

/// The direction of a heading and the one to its right.
fn frame(heading_rad: f64) -> [[f64; 2]; 2] {
    let (sine, cosine) = heading_rad.sin_cos();
    [[sine, cosine], [cosine, -sine]]
}

impl Lanes {
    pub fn of(paths: &[Path]) -> Self {
        let part = part_ahead(paths);
        let anchor = |path: &Path| {
            let (middle, way) = (path.middle_m(), way(path));
            [0, 1].map(|axis| middle[axis] - part * way[axis])
        };
        let anchors: Vec<[f64; 2]> = paths.iter().map(anchor).collect();
        let (centre, seen) = (mean(&anchors), covariance(&anchors));
        let count = paths.len().max(1) as f64;
        let wanted = drawn_to(seen, as_large_as(paths), count);
        let lane = |(path, anchor): (&Path, &[f64; 2])| {
            let heading_rad = path.heading_rad();
            let [along, across] = frame(heading_rad).map(|axis| {
                let off = (anchor[0] - centre[0]) * axis[0] + (anchor[1] - centre[1]) * axis[1];
                let spread = variance(seen, axis).sqrt();
                if spread > 0.0 { off / spread } else { 0.0 }
            });
            Lane {
                anchor: *anchor,
                heading_rad,
                along,
                across,
                rank: 0.0,
            }
        };
        let mut lanes: Vec<Lane> = paths.iter().zip(&anchors).map(lane).collect();
        let mut order: Vec<usize> = (0..lanes.len()).collect();
        order.sort_by(|a, b| paths[*a].length_m().total_cmp(&paths[*b].length_m()));
        for (place, no) in order.into_iter().enumerate() {
            lanes[no].rank = place as f64 / count;
        }
        Self {
            lanes,
            centre,
            kept: 1.0 / (1.0 + count.powf(-1.0 / 3.0)).sqrt(),
            seen,
            wanted,
            preferred: Preferred::of(paths),
        }
    }

    /// The area of a rectangle over which places that are spread evenly have the covariance of the anchors.
    pub fn area_m2(&self) -> f64 {
        let [ee, en, nn] = self.wanted;
        12.0 * (ee * nn - en * en).max(0.0).sqrt()
    }

    /// The paths roughly in the order of their lengths.
    fn by_length(&self, rng: &mut ChaCha8Rng) -> Vec<usize> {
        let mut keys: Vec<(f64, usize)> = (self.lanes.iter().enumerate())
            .map(|(no, lane)| (lane.rank + rng.random_range(-MIXED..MIXED), no))
            .collect();
        keys.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        keys.into_iter().map(|(_, no)| no).collect()
    }

    /// Lays all paths down once. Each number of a permutation has draws of its own, so that they can be made on any core.
    pub fn lay(&self, headings: Headings, seed: u64, permutation: u32) -> Vec<Placement> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(u64::from(permutation) + 1);
        let (own, others) = (self.by_length(&mut rng), self.by_length(&mut rng));
        let mut line_of = vec![0; self.lanes.len()];
        own.into_iter()
            .zip(others)
            .for_each(|(own, other)| line_of[own] = other);
        (self.lanes.iter().zip(line_of))
            .map(|(own, other)| {
                let other = &self.lanes[other];
                let heading_rad = match headings {
                    Headings::Dealt => {
                        let drawn: f64 = StandardNormal.sample(&mut rng);
                        self.preferred.blurred(other.heading_rad, self.kept, drawn)
                    }
                    Headings::Free => rng.random_range(0.0..TAU),
                };
                let moved: f64 = StandardNormal.sample(&mut rng);
                let [ahead, right] = frame(heading_rad);
                let (seen, wanted) = (variance(self.seen, right), variance(self.wanted, right));
                let noise = (wanted - self.kept * self.kept * seen).max(0.0).sqrt();
                let across = self.kept * other.across * seen.sqrt() + noise * moved;
                let along = own.along * variance(self.seen, ahead).sqrt();
                let to = [0, 1].map(|axis| self.centre[axis] + along * ahead[axis] + across * right[axis]);
                Placement::of(own.anchor, to, turn_rad(own.heading_rad, heading_rad))
            })
            .collect()
    }
}
