//! One surface of the demonstration data: what walked there, and what was found of it.

use super::animal::Animal;
use super::ground::{Ground, Parts};
use super::party::Party;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use spatial::angle::azimuth_rad;
use spatial::model::{Label, Limb, Print, Remarks, Side, Surface};
use spatial::simulate::Footfall;
use std::collections::BTreeMap;

/// A surface, its animals in order of time, and the party that records it.
#[derive(Debug, Clone)]
pub struct Scene {
    /// The surface's own record.
    pub surface: Surface,
    /// How it lies and what hides it.
    pub ground: Ground,
    /// The animals; a later one treads on the prints of an earlier one.
    pub animals: Vec<Animal>,
    /// How many prints of no trackway there are.
    pub strays: usize,
    /// Who records it.
    pub party: Party,
    /// Where the random draws of this surface start.
    pub draw: u64,
}

/// What is found on a surface.
#[derive(Debug, Clone)]
pub struct Findings {
    /// The prints as the party writes them down, in the order of labels.
    pub prints: Vec<Print>,
    /// The number of each print's animal, or `None` for a print of no trackway. Never written to a sheet.
    pub truth: Vec<Option<usize>>,
    /// The parts of the surface, in its own plane.
    pub parts: Parts,
}

/// A print that was found, where it truly is, and whose it is.
struct Found {
    print: Print,
    footfall: Footfall,
    animal: Option<usize>,
    /// Counts the stretches of one animal's way between what hides it.
    stretch: usize,
}

/// Stretches with fewer prints are not seen as trackways.
const LEAST_SEEN: usize = 4;

impl Scene {
    /// Lets the animals walk and the party record. The same scene gives the same findings.
    #[must_use]
    pub fn findings(&self) -> Findings {
        let mut rng = ChaCha8Rng::seed_from_u64(self.draw);
        let parts = self.ground.parts(&mut rng);
        let mut found = Vec::new();
        for (no, animal) in self.animals.iter().enumerate() {
            self.find_trackway(&mut rng, &parts, no, animal, &mut found);
        }
        for _ in 0..self.strays {
            found.extend(self.find_stray(&mut rng, &parts));
        }
        number(&mut found);
        name_trackways(&self.animals, &mut found);
        note_overlies(&mut found);
        if let Some(prefix) = self.party.photos {
            note_photos(prefix, &mut rng, &mut found);
        }
        let truth = found.iter().map(|found| found.animal).collect();
        let prints = found.into_iter().map(|found| found.print).collect();
        Findings { prints, truth, parts }
    }

    fn find_trackway(
        &self,
        rng: &mut ChaCha8Rng,
        parts: &Parts,
        no: usize,
        animal: &Animal,
        found: &mut Vec<Found>,
    ) {
        let (mut stretch, mut was_shown) = (0, true);
        for footfall in animal.walk(rng) {
            let shown = parts.show(footfall.position);
            if footfall.limb == Limb::Pes {
                stretch += usize::from(shown && !was_shown);
                was_shown = shown;
            }
            if shown {
                let print = self.party.find(rng, &footfall, &animal.kind, &self.ground);
                found.extend(print.map(|print| Found {
                    print,
                    footfall,
                    animal: Some(no),
                    stretch,
                }));
            }
        }
    }

    /// A print of an animal that left no other.
    fn find_stray(&self, rng: &mut ChaCha8Rng, parts: &Parts) -> Option<Found> {
        let bounds = parts.bounds();
        let kind = self.animals[rng.random_range(0..self.animals.len())].kind;
        let position = [
            rng.random_range(bounds.min().x..bounds.max().x),
            rng.random_range(bounds.min().y..bounds.max().y),
        ];
        let footfall = Footfall {
            position,
            azimuth_rad: rng.random_range(0.0..std::f64::consts::TAU),
            side: if rng.random_bool(0.5) {
                Side::Left
            } else {
                Side::Right
            },
            limb: Limb::Pes,
            length_m: kind.foot_length_m,
            width_m: kind.foot_length_m * kind.width_ratio,
            step: 0,
        };
        let shown = parts.show(position);
        let print = shown.then(|| self.party.find(rng, &footfall, &kind, &self.ground))??;
        Some(Found {
            print,
            footfall,
            animal: None,
            stretch: 0,
        })
    }
}

/// Numbers the prints as a party does that works across the surface in strips two metres wide, so that a
/// label tells where a print lies and nothing of whose it is.
fn number(found: &mut [Found]) {
    let strip = |found: &Found| (found.print.easting_m / 2.0).floor();
    let north = |found: &Found| found.print.northing_m;
    found.sort_by(|a, b| strip(a).total_cmp(&strip(b)).then(north(a).total_cmp(&north(b))));
    for (found, no) in found.iter_mut().zip(1..) {
        found.print.label = label(format!("P{no:03}"));
    }
}

/// Writes down the trackways that the party sees; what goes on beyond a cover has a number of its own.
fn name_trackways(animals: &[Animal], found: &mut [Found]) {
    let mut stretches: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (place, found) in found.iter().enumerate() {
        if let Some(animal) = found.animal.filter(|animal| animals[*animal].seen) {
            stretches.entry((animal, found.stretch)).or_default().push(place);
        }
    }
    let seen = stretches
        .into_values()
        .filter(|stretch| stretch.len() >= LEAST_SEEN);
    for (mut stretch, no) in seen.zip(1..) {
        stretch.sort_by_key(|place| (found[*place].footfall.step, found[*place].footfall.limb));
        for (place, order) in stretch.into_iter().zip(1..) {
            found[place].print.field_trackway = Some(label(format!("T{no}")));
            found[place].print.field_order = Some(order);
        }
    }
}

/// Notes for each print the one of an earlier animal that it cuts into deepest.
fn note_overlies(found: &mut [Found]) {
    for upper in 0..found.len() {
        let cuts = |lower: &Found| gap_m(&found[upper].footfall, &lower.footfall);
        let earlier = found
            .iter()
            .filter(|lower| lower.animal < found[upper].animal && lower.animal.is_some());
        let deepest = earlier
            .filter(|lower| cuts(lower) < 0.0)
            .min_by(|a, b| cuts(a).total_cmp(&cuts(b)));
        let deepest = deepest.map(|lower| lower.print.label.clone());
        if let (Some(lower), Some(remarks)) = (deepest, &mut found[upper].print.remarks) {
            remarks.overlies.push(lower);
        }
    }
}

/// The clear distance between the outlines of two prints on the line through their centres; negative where they overlap.
fn gap_m(a: &Footfall, b: &Footfall) -> f64 {
    let [east, north] = [b.position[0] - a.position[0], b.position[1] - a.position[1]];
    let line_rad = azimuth_rad(east, north);
    // The radius of an ellipse in a direction that makes an angle with its long axis.
    let reach = |print: &Footfall| {
        let (sine, cosine) = (line_rad - print.azimuth_rad).sin_cos();
        0.5 / (cosine / print.length_m).hypot(sine / print.width_m)
    };
    east.hypot(north) - reach(a) - reach(b)
}

fn note_photos(prefix: &str, rng: &mut ChaCha8Rng, found: &mut [Found]) {
    let mut photo = rng.random_range(100..400);
    for found in found {
        if rng.random_bool(0.3) {
            photo += rng.random_range(1..4);
            let remarks = found.print.remarks.get_or_insert_with(Box::<Remarks>::default);
            remarks
                .further
                .push(("photo".into(), format!("{prefix}-{photo:04}.jpg")));
        }
    }
}

fn label(text: String) -> Label {
    text.parse().expect("a letter and digits are a label")
}
