//! Surfaces on which animals do not heed each other.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use spatial::encounter::{Exposed, Path};
use spatial::frame::LonLat;
use spatial::index::{SurfaceContents, SurfaceIndex};
use spatial::simulate::Passers;
use std::convert::Infallible;
use std::f64::consts::TAU;
use std::ops::Range;

/// One kind of surfaces without encounters.
#[derive(Debug, Clone)]
pub struct Grounds {
    /// What they are called in reports.
    pub name: String,
    kind: Kind,
}

#[derive(Debug, Clone)]
enum Kind {
    Passers(Passers),
    /// How many straight or wandering lines, and the standard deviation of their turns, radians.
    Lines(Range<usize>, f64),
}

/// The paths of one surface, and the rock where it is drawn.
#[derive(Debug, Clone)]
pub struct Surface {
    /// All of them.
    pub paths: Vec<Path>,
    /// Where extents draw it.
    pub exposed: Option<Exposed>,
}

impl Grounds {
    /// All kinds.
    #[must_use]
    pub fn all() -> Vec<Self> {
        let mut all = Vec::new();
        for is_drawn in [false, true] {
            for (count, preferred_sd_rad, cut_at_edges) in [
                (8, None, false),
                (20, None, false),
                (40, None, false),
                (8, Some(0.2), false),
                (20, Some(0.2), false),
                (40, Some(0.2), false),
                (8, None, true),
                (12, None, true),
                (40, None, true),
                (20, Some(0.2), true),
            ] {
                all.push(Self::of(Passers {
                    preferred_sd_rad,
                    cut_at_edges,
                    is_drawn,
                    ..Passers::new(count)
                }));
            }
        }
        let lines = |name: &str, counts, turn_sd_rad| Self {
            name: name.to_owned(),
            kind: Kind::Lines(counts, turn_sd_rad),
        };
        all.push(lines("10 straight lines", 10..11, 0.0));
        all.push(lines("10-30 straight lines", 10..31, 0.0));
        all.push(lines("10-30 wandering lines", 10..31, 0.12));
        all
    }

    /// Animals that pass without heeding each other.
    #[must_use]
    pub fn of(passers: Passers) -> Self {
        let told = |is_so: bool, words: &'static str| if is_so { words } else { "" };
        Self {
            name: format!(
                "{}{}{}{}",
                passers.count,
                told(passers.preferred_sd_rad.is_some(), ", one heading"),
                told(passers.cut_at_edges, ", cut"),
                told(passers.is_drawn, ", rock drawn"),
            ),
            kind: Kind::Passers(passers),
        }
    }

    /// Draws one.
    #[must_use]
    pub fn draw(&self, seed: u64) -> Surface {
        match &self.kind {
            Kind::Passers(passers) => surface(passers.surface(&passers.walkers(seed), seed)),
            Kind::Lines(counts, turn_sd_rad) => Surface {
                paths: plain(counts.clone(), *turn_sd_rad, seed),
                exposed: None,
            },
        }
    }
}

/// The index of recorded contents.
pub(super) fn index(contents: SurfaceContents) -> SurfaceIndex {
    let nowhere = LonLat {
        lon_deg: 0.0,
        lat_deg: 0.0,
    };
    SurfaceIndex::build(contents, |all| Ok::<_, Infallible>(vec![nowhere; all.len()])).expect("sound prints")
}

/// The paths of recorded contents.
#[must_use]
pub fn surface(contents: SurfaceContents) -> Surface {
    let index = index(contents);
    Surface {
        paths: Path::all(&index).0,
        exposed: Exposed::of(&index),
    }
}

/// Lines that begin anywhere in a rectangle of 60 by 25 m, in any heading, of 10 to 40 steps of 0.9 m that turn at
/// random: nothing of them comes from the simulator of the tool.
fn plain(counts: Range<usize>, turn_sd_rad: f64, seed: u64) -> Vec<Path> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let count = rng.random_range(counts);
    (0..count)
        .map(|no| {
            let mut at = [rng.random_range(0.0..60.0), rng.random_range(0.0..25.0)];
            let mut heading: f64 = rng.random_range(0.0..TAU);
            let steps = rng.random_range(10..=40);
            let mut line = vec![at];
            for _ in 0..steps {
                let turn: f64 = StandardNormal.sample(&mut rng);
                heading += turn_sd_rad * turn;
                at = [at[0] + 0.9 * heading.sin(), at[1] + 0.9 * heading.cos()];
                line.push(at);
            }
            Path::along(format!("T{no}").parse().expect("a label"), line, 0.3).expect("a path")
        })
        .collect()
}
