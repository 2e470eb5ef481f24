//! Animals that cross a rectangle without heeding each other, and others that do, planted among them.

use super::walker::{Walker, any_side, normal};
use crate::angle::fold_deg;
use crate::index::SurfaceContents;
use crate::model::{Basis, Extent, ExtentKind, Label, Print, Status, Surface, Trackway};
use geo::{LineString, Polygon};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::f64::consts::{PI, TAU};
use std::ops::RangeInclusive;

/// South-west corner of the rectangle, metres; large, as projected coordinates are.
const CORNER: [f64; 2] = [412_000.0, 4_795_000.0];

/// How many animals cross a rectangle, each on a way of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Passers {
    /// How many.
    pub count: usize,
    /// The rectangle's sides, metres.
    pub ground_m: [f64; 2],
    /// How many paces each makes.
    pub paces: RangeInclusive<usize>,
    /// Standard deviation of headings about the one that all prefer, radians; `None` where each heading is as likely.
    pub preferred_sd_rad: Option<f64>,
    /// Standard deviation of the heading's random turn at each pace, radians.
    pub heading_sd_rad: f64,
    /// Whether only what lies in the rectangle is recorded: trackways then end at its edges.
    pub cut_at_edges: bool,
    /// Whether the rock that is exposed is drawn as an extent: the rectangle if it cuts trackways, and else so much more that
    /// none of them ends at its edge.
    pub is_drawn: bool,
    /// Standard deviation of recorded positions, each axis, metres.
    pub position_sd_m: f64,
}

impl Passers {
    /// So many bipeds of 20 to 40 paces on 40 by 30 m, any heading, 2 cm error.
    #[must_use]
    pub fn new(count: usize) -> Self {
        Self {
            count,
            ground_m: [40.0, 30.0],
            paces: 20..=40,
            preferred_sd_rad: None,
            heading_sd_rad: 0.04,
            cut_at_edges: false,
            is_drawn: false,
            position_sd_m: 0.02,
        }
    }

    /// The same animals to the square metre on a square of this side.
    #[must_use]
    pub fn as_dense_on(&self, side_m: f64) -> Self {
        let area = self.ground_m[0] * self.ground_m[1];
        Self {
            count: (self.count as f64 * side_m * side_m / area).round() as usize,
            ground_m: [side_m; 2],
            ..self.clone()
        }
    }

    /// The animals. They begin anywhere in the rectangle.
    #[must_use]
    pub fn walkers(&self, seed: u64) -> Vec<Walker> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let preferred_rad = rng.random_range(0.0..TAU);
        (0..self.count)
            .map(|_| {
                let start = [0, 1].map(|axis| CORNER[axis] + self.ground_m[axis] * rng.random::<f64>());
                let heading_rad = match self.preferred_sd_rad {
                    Some(sd_rad) => preferred_rad + normal(&mut rng, sd_rad),
                    None => rng.random_range(0.0..TAU),
                };
                let foot_length_m = rng.random_range(0.15..0.45);
                Walker {
                    heading_sd_rad: self.heading_sd_rad,
                    first_side: any_side(&mut rng),
                    ..Walker::steady(
                        start,
                        heading_rad,
                        rng.random_range(self.paces.clone()),
                        foot_length_m,
                    )
                }
            })
            .collect()
    }

    /// What a careful field party would hand in of these animals and others planted among them: one accepted trackway
    /// each, labelled T0, T1, … in the order given. Those of fewer than four recorded prints are left out.
    #[must_use]
    pub fn surface(&self, walkers: &[Walker], seed: u64) -> SurfaceContents {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(1);
        let (mut prints, mut trackways) = (Vec::new(), Vec::new());
        for (no, walker) in walkers.iter().enumerate() {
            let mut row: Vec<Print> = Vec::new();
            for footfall in walker.walk(&mut rng) {
                let position = footfall
                    .position
                    .map(|part| part + normal(&mut rng, self.position_sd_m));
                if self.cut_at_edges && !self.holds(position) {
                    continue;
                }
                let label = label(&format!("P{no}-{}", row.len()));
                let mut print = Print::new(label, position[0], position[1], footfall.length_m);
                print.width_m = Some(footfall.width_m);
                print.azimuth_deg = Some(fold_deg(footfall.azimuth_rad.to_degrees()));
                (print.side, print.limb) = (Some(footfall.side), Some(footfall.limb));
                print.position_sd_m = Some(self.position_sd_m);
                row.push(print);
            }
            if row.len() >= 4 {
                trackways.push(trackway(no, &row));
                prints.append(&mut row);
            }
        }
        SurfaceContents {
            id: "simulated:S1".parse().expect("a valid id"),
            crs: 25830,
            surface: Surface::new(label("S1")),
            prints,
            extents: self.is_drawn.then(|| self.exposed()).into_iter().collect(),
            trackways,
        }
    }

    /// Beyond the rectangle no animal walks farther than this.
    fn exposed(&self) -> Extent {
        let beyond_m = if self.cut_at_edges { 0.0 } else { 200.0 };
        let [west, south] = CORNER.map(|part| part - beyond_m);
        let [east, north] = [0, 1].map(|axis| CORNER[axis] + self.ground_m[axis] + beyond_m);
        let corners = [
            (west, south),
            (east, south),
            (east, north),
            (west, north),
            (west, south),
        ];
        Extent {
            label: label("X1"),
            kind: ExtentKind::Exposed,
            polygon: Polygon::new(LineString::from(corners.to_vec()), Vec::new()),
            surveyed_on: None,
            revision: 0,
        }
    }

    fn holds(&self, position: [f64; 2]) -> bool {
        (0..2).all(|axis| (CORNER[axis]..CORNER[axis] + self.ground_m[axis]).contains(&position[axis]))
    }

    /// The middle of the rectangle.
    #[must_use]
    pub fn middle_m(&self) -> [f64; 2] {
        [0, 1].map(|axis| CORNER[axis] + self.ground_m[axis] / 2.0)
    }

    /// A walker that heads for a place from a given azimuth as seen from there, and stops short of it.
    #[must_use]
    pub fn towards(place: [f64; 2], from_rad: f64, starts_m: f64, stops_m: f64, model: &Walker) -> Walker {
        let start = super::walker::ahead(place, from_rad, starts_m);
        Walker {
            start,
            heading_rad: from_rad + PI,
            paces: (((starts_m - stops_m) / model.pace_m).round().max(3.0)) as usize,
            ..model.clone()
        }
    }
}

fn trackway(no: usize, row: &[Print]) -> Trackway {
    Trackway {
        label: label(&format!("T{no}")),
        prints: row.iter().map(|print| print.label.clone()).collect(),
        basis: Basis::Field,
        status: Status::Accepted,
        probability: None,
        morphotype: None,
        note: None,
        judged_by: None,
        revision: 0,
    }
}

fn label(text: &str) -> Label {
    text.parse().expect("a valid label")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_passer_leaves_one_trackway() {
        let passers = Passers::new(12);
        let walkers = passers.walkers(3);
        let contents = passers.surface(&walkers, 3);
        assert_eq!(contents.trackways.len(), 12);
        assert_eq!(
            contents,
            passers.surface(&passers.walkers(3), 3),
            "drawn from the seed alone"
        );
        let cut = Passers {
            cut_at_edges: true,
            ..passers
        };
        let inside = cut.surface(&walkers, 3);
        assert!(inside.prints.len() < contents.prints.len());
        assert!(
            inside
                .prints
                .iter()
                .all(|print| cut.holds([print.easting_m, print.northing_m]))
        );
    }
}
