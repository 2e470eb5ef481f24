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

/// Goes on from the last print, pace by pace.
pub(super) struct Ahead {
    nodes: Vec<Node>,
    position_m2: f64,
    /// `None` where no regions are wanted; they take most of the time.
    factors: Option<Factors>,
    steps: usize,
}

impl Ahead {
    /// `position_m2` is the variance with which a further print's position would be recorded.
    pub fn from(nodes: Vec<Node>, position_m2: f64, factors: Factors) -> Self {
        Self {
            nodes,
            position_m2,
            factors: Some(factors),
            steps: 0,
        }
    }

    /// The same without the regions' own radii, which are then those of a normal law.
    pub fn without_regions(nodes: Vec<Node>, position_m2: f64) -> Self {
        Self {
            nodes,
            position_m2,
            factors: None,
            steps: 0,
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
        let of_part = |part: &Part| {
            let spread = part.spread.plus(Spread::round(further_m2));
            part.weight * ln_student(spread, minus(place, part.mean), self.freedom).exp()
        };
        self.parts.iter().map(of_part).sum()
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
