//! A surface with many walkers, and the truth about each print.

use super::blur::stray;
use super::walker::normal;
use super::{Kind, Scenario, Walker};
use crate::index::SurfaceContents;
use crate::model::{Extent, ExtentKind, Label, Print, Surface};
use geo::{Contains, LineString, Point, Polygon};
use rand::seq::{IndexedRandom, SliceRandom};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::{FRAC_PI_2, TAU};
use std::ops::RangeInclusive;
use std::sync::Arc;

/// South-west corner of every simulated surface, metres; large, as projected coordinates are.
const CORNER: [f64; 2] = [412_000.0, 4_795_000.0];

/// Where a print truly comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Origin {
    /// The trackway, from 0.
    pub trackway: u32,
    /// The step of the walk, from 0; a pes and a manus of one set share it.
    pub step: u32,
}

/// A simulated surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Simulated {
    /// What a field party would hand in. Labels are shuffled: their order says nothing.
    pub contents: SurfaceContents,
    /// For each print, in the order of labels (which is that of [`crate::index::PrintNo`]): its origin, or `None` for a print of no trackway.
    pub truth: Vec<Option<Origin>>,
}

impl Scenario {
    /// Draws a surface. The same scenario and seed give the same surface.
    #[must_use]
    pub fn simulate(&self, seed: u64) -> Simulated {
        let mut drawing = Drawing::new(self, seed);
        let strays = (self.prints as f64 * self.background).round() as usize;
        let mut trackway = 0;
        while drawing.found.len() + strays < self.prints {
            for (walker, kind) in drawing.walkers() {
                drawing.leave(&walker, kind, trackway);
                trackway += 1;
            }
        }
        for _ in 0..strays {
            drawing.leave_stray();
        }
        drawing.finish()
    }
}

/// A surface while it is drawn.
struct Drawing<'a> {
    scenario: &'a Scenario,
    rng: ChaCha8Rng,
    side_m: f64,
    hidden: Vec<Extent>,
    morphotypes: Vec<Arc<str>>,
    found: Vec<(Print, Option<Origin>)>,
}

impl<'a> Drawing<'a> {
    fn new(scenario: &'a Scenario, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let side_m = (scenario.prints as f64 / scenario.density_per_m2).sqrt().max(1.0);
        let hidden = hidden_extents(&mut rng, side_m, scenario.hidden);
        let morphotypes = Kind::ALL.iter().map(|kind| kind.morphotype.into()).collect();
        Self {
            scenario,
            rng,
            side_m,
            hidden,
            morphotypes,
            found: Vec::with_capacity(scenario.prints + 64),
        }
    }

    /// One animal, or a group of one kind side by side.
    fn walkers(&mut self) -> Vec<(Walker, usize)> {
        let kind = *self.scenario.kinds.choose(&mut self.rng).unwrap_or(&0);
        let leader = self.walker(kind);
        let mut all = vec![(leader.clone(), kind)];
        if self.rng.random_bool(self.scenario.in_group) {
            let animals = self.rng.random_range(self.scenario.group.clone());
            for place in 1..animals {
                all.push((self.companion(kind, &leader, place), kind));
            }
        }
        all
    }

    fn walker(&mut self, kind: usize) -> Walker {
        let scenario = self.scenario;
        let mut walker = Kind::ALL[kind].individual(&mut self.rng);
        walker.start = self.anywhere();
        walker.paces = self.rng.random_range(scenario.paces.clone());
        walker.pace_sd = self.between(&scenario.pace_sd);
        walker.heading_sd_rad = self.between(&scenario.heading_sd_deg).to_radians();
        walker.turn_rad = self
            .between(&(-scenario.turn_deg..=scenario.turn_deg))
            .to_radians();
        walker.quickening = self.between(&(-scenario.quickening..=scenario.quickening));
        walker.tail = scenario.tail;
        walker
    }

    /// Another animal of the leader's kind, beside it and going the same way, with a size and gait of its own.
    fn companion(&mut self, kind: usize, leader: &Walker, place: usize) -> Walker {
        let mut walker = self.walker(kind);
        let apart_m = leader.gauge_m + place as f64 * leader.foot_length_m * self.rng.random_range(2.5..6.0);
        let across = leader.heading_rad + FRAC_PI_2;
        let along_m = normal(&mut self.rng, leader.pace_m);
        walker.start = [
            leader.start[0] + apart_m * across.sin() + along_m * leader.heading_rad.sin(),
            leader.start[1] + apart_m * across.cos() + along_m * leader.heading_rad.cos(),
        ];
        walker.heading_rad = leader.heading_rad + normal(&mut self.rng, 0.05);
        walker.turn_rad = leader.turn_rad;
        walker.paces = leader.paces;
        walker
    }

    fn anywhere(&mut self) -> [f64; 2] {
        CORNER.map(|corner| corner + self.rng.random_range(0.0..self.side_m))
    }

    fn between(&mut self, range: &RangeInclusive<f64>) -> f64 {
        self.rng.random_range(range.clone())
    }

    /// Records what is left of an animal's walk.
    fn leave(&mut self, walker: &Walker, kind: usize, trackway: u32) {
        for footfall in walker.walk(&mut self.rng) {
            let origin = Origin {
                trackway,
                step: footfall.step as u32,
            };
            if self.is_open(footfall.position) {
                self.record(&footfall, kind, Some(origin));
            }
        }
    }

    fn leave_stray(&mut self) {
        let kind = *self.scenario.kinds.choose(&mut self.rng).unwrap_or(&0);
        let length_m = Kind::ALL[kind].foot_length_m * self.rng.random_range(0.5..1.3);
        let position = self.anywhere();
        let footfall = stray(&mut self.rng, position, length_m);
        if self.is_open(position) {
            self.record(&footfall, kind, None);
        }
    }

    fn record(&mut self, footfall: &super::Footfall, kind: usize, origin: Option<Origin>) {
        let morphotype = &self.morphotypes[kind];
        let print = self
            .scenario
            .blur
            .record(&mut self.rng, footfall, morphotype, numbered(0));
        self.found.extend(print.map(|print| (print, origin)));
    }

    fn is_open(&self, [easting, northing]: [f64; 2]) -> bool {
        let inside = |at: f64, corner: f64| (corner..=corner + self.side_m).contains(&at);
        let place = Point::new(easting, northing);
        inside(easting, CORNER[0])
            && inside(northing, CORNER[1])
            && !self.hidden.iter().any(|extent| extent.polygon.contains(&place))
    }

    /// Shuffles before it labels, so that neither trackway nor order can be read from a label.
    fn finish(mut self) -> Simulated {
        self.found.shuffle(&mut self.rng);
        let (mut prints, mut truth) = (Vec::new(), Vec::new());
        for (no, (mut print, origin)) in self.found.into_iter().enumerate() {
            print.label = numbered(no);
            prints.push(print);
            truth.push(origin);
        }
        let contents = SurfaceContents {
            id: "simulated:S1".parse().expect("a valid id"),
            crs: 25830,
            surface: Surface::new("S1".parse().expect("a valid label")),
            prints,
            extents: self.hidden,
            trackways: Vec::new(),
        };
        Simulated { contents, truth }
    }
}

/// A label whose order is that of its number.
fn numbered(no: usize) -> Label {
    format!("P{no:08}")
        .parse()
        .expect("letters and digits are a label")
}

/// Rough ovals, covered and eroded in turn, over about this part of the square.
fn hidden_extents(rng: &mut ChaCha8Rng, side_m: f64, part: f64) -> Vec<Extent> {
    let mut extents = Vec::new();
    let mut hidden_m2 = 0.0;
    while hidden_m2 < part * side_m * side_m {
        let radius_m = rng.random_range(1.0..3.5f64).min(side_m / 4.0);
        let centre: [f64; 2] = CORNER.map(|corner| corner + rng.random_range(0.0..side_m));
        let rim = (0..12).map(|corner| {
            let (sine, cosine) = (f64::from(corner) / 12.0 * TAU).sin_cos();
            let reach_m = radius_m * rng.random_range(0.8..1.2);
            (centre[0] + reach_m * sine, centre[1] + reach_m * cosine)
        });
        let kinds = [ExtentKind::Covered, ExtentKind::Eroded];
        extents.push(Extent {
            label: format!("E{}", extents.len())
                .parse()
                .expect("letters and digits are a label"),
            kind: kinds[extents.len() % 2],
            polygon: Polygon::new(LineString::from(rim.collect::<Vec<_>>()), Vec::new()),
            surveyed_on: None,
            revision: 0,
        });
        hidden_m2 += std::f64::consts::PI * radius_m * radius_m;
    }
    extents
}

#[cfg(test)]
#[path = "surface_tests.rs"]
mod tests;
