//! The steps that come next: where each print should lie, and how sure that is.

use super::calibrating::Factors;
use super::following::Node;
use super::motion::{FREEDOM, HEADING};
use super::plane::{Axes, Spread, Vector, ln_student, minus, plus, student_within, times};
use crate::angle::mean_direction_rad;

/// One step ahead, as a mixture over kinds of unsteadiness.
#[derive(Debug, Clone)]
pub(super) struct Stage {
    pub nodes: Vec<Node>,
    pub parts: Vec<Part>,
    pub freedom: f64,
    /// Mean of the whole from the track's origin, and the axes of its covariance.
    pub mean: Vector,
    pub axes: Axes,
    /// Radii of the ellipses that hold 50 and 95 %, in standard deviations of the whole.
    pub radii: [f64; 2],
    pub heading_rad: f64,
}

/// One kind of unsteadiness of the mixture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    pub weight: f64,
    pub mean: Vector,
    pub spread: Spread,
}

/// What the regions must hold.
pub(super) const HELD: [f64; 2] = [0.5, 0.95];

/// The radii of a normal law: √(−2 ln (1 − p)).
const NORMAL: [f64; 2] = [1.177, 2.448];

/// How unsteady an animal is that does what its trackway does not foretell, since it turns aside or changes its pace: standard
/// deviation of the turn at each pace, radians, and of the drift of the pace.
const ASIDE_RAD: f64 = 0.25;
const ASIDE_DRIFT: f64 = 0.1;

/// Goes on from the last print, pace by pace.
pub(super) struct Ahead {
    /// The last one has turned aside.
    nodes: Vec<Node>,
    position_m2: f64,
    /// The probability at each pace that an animal turns aside.
    aside: f64,
    /// `None` where no regions are wanted; they take most of the time.
    factors: Option<Factors>,
    steps: usize,
}

impl Ahead {
    /// `position_m2` is the variance with which a further print's position would be recorded, `aside` the probability at
    /// each pace that an animal turns aside. The radii of regions are those of a normal law.
    pub fn from(mut nodes: Vec<Node>, position_m2: f64, aside: f64) -> Self {
        let most_probable = nodes[0];
        let Node { motion, noise, .. } = most_probable;
        nodes.push(Node {
            weight: 0.0,
            noise: noise.turning_aside(ASIDE_RAD, ASIDE_DRIFT, &motion),
            ..most_probable
        });
        Self {
            nodes,
            position_m2,
            aside,
            factors: None,
            steps: 0,
        }
    }

    /// The same with radii that hold what they should, each widened by its factor.
    pub fn with_regions(self, factors: Factors) -> Self {
        Self {
            factors: Some(factors),
            ..self
        }
    }

    /// So many more of all have turned aside after a further pace.
    fn turn_aside(&mut self) {
        if let Some((aside, steady)) = self.nodes.split_last_mut() {
            steady.iter_mut().for_each(|node| node.weight *= 1.0 - self.aside);
            aside.weight = 1.0 - steady.iter().map(|node| node.weight).sum::<f64>();
        }
    }
}

impl Iterator for Ahead {
    type Item = Stage;

    fn next(&mut self) -> Option<Stage> {
        self.steps += 1;
        for node in &mut self.nodes {
            node.motion.advance(&node.noise, true);
        }
        self.turn_aside();
        let mut stage = Stage::of(&self.nodes, self.position_m2, self.steps);
        if let Some(factors) = self.factors {
            let factors = factors.at(self.steps);
            let radii = radii(&stage.parts, stage.mean, &stage.axes, stage.freedom);
            stage.radii = [0, 1].map(|region| radii[region] * factors[region]);
            // The larger region holds the smaller one, however few trackways told the factors.
            stage.radii[1] = stage.radii[1].max(1.05 * stage.radii[0]);
        }
        Some(stage)
    }
}

impl Stage {
    /// # Formula
    /// Each kind of unsteadiness gives a Student's t; its degrees of freedom grow as those of a sum of equal steps, whose
    /// excess kurtosis 6 / (ν − 4) falls as one over their number.
    fn of(nodes: &[Node], position_m2: f64, steps: usize) -> Self {
        let parts: Vec<Part> = (nodes.iter())
            .map(|node| Part {
                weight: node.weight,
                mean: node.motion.foot(),
                spread: node
                    .motion
                    .foot_spread(&node.noise)
                    .plus(Spread::round(position_m2)),
            })
            .collect();
        let mut mean = [0.0; 2];
        for part in &parts {
            mean = plus(mean, times(part.mean, part.weight));
        }
        let mut spread = Spread::default();
        for part in &parts {
            spread = spread.plus(part.about(mean).times(part.weight));
        }
        let axes = spread.axes();
        let freedom = 4.0 + steps as f64 * (FREEDOM - 4.0);
        let headings = nodes.iter().map(|node| node.motion.parts[HEADING]);
        Self {
            radii: NORMAL,
            nodes: nodes.to_vec(),
            heading_rad: mean_direction_rad(headings).map_or(0.0, |(mean, _)| mean),
            parts,
            freedom,
            mean,
            axes,
        }
    }

    /// The density of a print at a place whose position is known with a further variance, one over square metres.
    pub fn density(&self, place: Vector, further_m2: f64) -> f64 {
        self.density_over(&self.parts, place, further_m2)
    }

    /// The same of animals that went on as before, and of one that has turned aside, each as if there were no other.
    pub fn densities_apart(&self, place: Vector) -> [f64; 2] {
        let steady = self.parts.len() - 1;
        [&self.parts[..steady], &self.parts[steady..]].map(|parts| {
            let weight: f64 = parts.iter().map(|part| part.weight).sum();
            self.density_over(parts, place, 0.0) / weight
        })
    }

    fn density_over(&self, parts: &[Part], place: Vector, further_m2: f64) -> f64 {
        let of_part = |part: &Part| {
            let spread = part.spread.plus(Spread::round(further_m2));
            part.weight * ln_student(spread, minus(place, part.mean), self.freedom).exp()
        };
        parts.iter().map(of_part).sum()
    }
}

impl Part {
    /// The spread about a place that is not its own mean.
    fn about(&self, mean: Vector) -> Spread {
        self.spread.plus(Spread::of_offset(minus(self.mean, mean)))
    }
}

/// How many directions a region's content is added up over.
const DIRECTIONS: usize = 6;

/// The radii of the whole's ellipses that hold the wanted parts of the mixture.
///
/// # Formula
/// P(r) = Σ w_j mean over φ of F(r² / |W L_j u(φ)|²): a ray of direction φ from the middle of part j leaves the ellipse at
/// that distance; W whitens the whole, L_j Lᵀ_j is the part's covariance, F the law of the squared distance.
fn radii(parts: &[Part], mean: Vector, axes: &Axes, freedom: f64) -> [f64; 2] {
    let mut rays: Vec<(f64, f64)> = Vec::with_capacity(parts.len() * DIRECTIONS);
    for part in parts {
        let own = part.about(mean).axes();
        for direction in 0..DIRECTIONS {
            let angle = std::f64::consts::PI * direction as f64 / DIRECTIONS as f64;
            let rim = own.rim(1.0, angle);
            rays.push((part.weight / DIRECTIONS as f64, axes.distance_2(rim)));
        }
    }
    HELD.map(|held| {
        let content = |radius: f64| -> f64 {
            rays.iter()
                .map(|(weight, reach_2)| weight * student_within(radius * radius / reach_2, freedom))
                .sum()
        };
        // Regula falsi with halving (Illinois) in the squared radius; the content rises smoothly.
        let (mut low, mut high) = (0.0, 256.0);
        let (mut below, mut above) = (-held, content(16.0) - held);
        let mut middle = 2.0;
        for _ in 0..40 {
            let off = content(f64::sqrt(middle)) - held;
            if off.abs() < 1e-5 || high - low < 1e-9 {
                break;
            }
            if off < 0.0 {
                (low, below) = (middle, off);
                above *= 0.5;
            } else {
                (high, above) = (middle, off);
                below *= 0.5;
            }
            middle = (low * above - high * below) / (above - below);
        }
        middle.sqrt()
    })
}
