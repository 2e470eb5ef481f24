//! The paths of a surface, and how answers speak of them.

use crate::catalogue::Indexed;
use crate::feature::Feature;
use crate::query::hip::HipInput;
use crate::query::laid::Laying;
use crate::query::{North, Refusal, World};
use geo::{Geometry, LineString};
use serde_json::{Value, json};
use spatial::encounter::{Exposed, Overprints, Path, SpeedRange, Trials};
use spatial::frame::Factors;
use spatial::gait::{self, Gait, Options, Placed};
use spatial::index::PrintNo;
use spatial::model::{Label, Trackway};
use std::sync::Arc;

/// How encounters are searched for.
pub(in crate::query) const METHOD_SOURCE: &str = "this program's documentation of the module encounter; the tests are permutations, \
    smoothed but for those of convergence (Davison & Hinkley 1997, Bootstrap Methods and their Application, chapter 4), corrected after Benjamini & Hochberg \
    (1995), Journal of the Royal Statistical Society B 57:289-300";

/// How many times the paths are laid down by chance, where nobody says.
pub(in crate::query) fn permutations() -> u32 {
    Trials::default().permutations
}

/// The paths of a surface's standing trackways.
pub(in crate::query) struct Walked {
    pub index: Arc<Indexed>,
    pub paths: Vec<Path>,
    /// Trackways that make no path.
    pub left_out: Vec<Label>,
    pub overprints: Overprints,
    /// Where extents draw the rock.
    pub exposed: Option<Exposed>,
    /// Convergence and scale in the middle of the surface.
    factors: Factors,
    north: North,
}

impl Walked {
    /// Reads a surface.
    ///
    /// # Errors
    /// When there is no such surface, or it cannot be read.
    pub fn of(surface: &str, north: North, world: &World<'_>) -> Result<Self, Refusal> {
        let index = world.surface(surface)?;
        let (paths, left_out) = Path::all(&index);
        let middle = paths.get(paths.len() / 2).map(Path::middle_m);
        let factors = match middle {
            Some(middle) => world.factors(&[middle], &index)?[0],
            None => Factors {
                convergence_deg: 0.0,
                scale: 1.0,
            },
        };
        Ok(Self {
            overprints: Overprints::of(&index),
            exposed: Exposed::of(&index),
            index,
            paths,
            left_out,
            factors,
            north,
        })
    }

    /// The same with the speed of each path, from the measures of [`Self::gaits`].
    pub fn with_speeds(mut self, gaits: &[(Label, Gait)]) -> Self {
        for (path, (trackway, gait)) in self.paths.iter_mut().zip(gaits) {
            debug_assert_eq!(path.trackway, *trackway);
            path.speed = speed_of(gait);
        }
        self
    }

    /// The measures of each path's trackway.
    ///
    /// # Errors
    /// When hip height is told in two ways, or a position is no place.
    pub fn gaits(&self, hip: &HipInput, seed: u64) -> Result<Vec<(Label, Gait)>, Refusal> {
        let rows: Vec<Vec<PrintNo>> = self.paths.iter().map(|path| self.all_prints(path)).collect();
        let laid = Laying::of(&self.index, self.north, false)?.rows(&rows)?;
        let placed: Vec<&[Placed]> = laid.iter().map(|laid| &laid.placed[..]).collect();
        let options = Options {
            hip: hip.rule()?,
            seed,
            ..Options::default()
        };
        let gaits =
            gait::measure_all(&placed, &options).map_err(|fault| Refusal::Unfit(format!("{fault}.")))?;
        Ok(self
            .paths
            .iter()
            .map(|path| path.trackway.clone())
            .zip(gaits)
            .collect())
    }

    fn all_prints(&self, path: &Path) -> Vec<PrintNo> {
        let found = self.trackway(&path.trackway);
        found.map_or_else(|| path.prints.clone(), |trackway| self.index.prints_of(trackway))
    }

    pub fn trackway(&self, label: &Label) -> Option<&Trackway> {
        self.index
            .trackways()
            .iter()
            .find(|trackway| trackway.label == *label)
    }

    /// The path of a trackway.
    pub fn path(&self, label: &Label) -> Option<&Path> {
        self.paths.iter().find(|path| path.trackway == *label)
    }

    /// The id of a trackway or print.
    pub fn id(&self, label: &Label) -> String {
        format!("{}:{label}", self.index.id())
    }

    /// The ids of trackways.
    pub fn ids<'a>(&self, labels: impl IntoIterator<Item = &'a Label>) -> Vec<String> {
        labels.into_iter().map(|label| self.id(label)).collect()
    }

    /// The id of a print by its number.
    pub fn print_id(&self, no: PrintNo) -> String {
        self.id(&self.index.print(no).label)
    }

    /// Overprints by the ids of their prints.
    pub fn overprint_ids(&self, overprints: &[[PrintNo; 2]]) -> Value {
        let told = |[upper, lower]: &[PrintNo; 2]| json!({ "upper": self.print_id(*upper), "lower": self.print_id(*lower) });
        overprints.iter().map(told).collect()
    }

    /// A grid azimuth from the north that is asked for, degrees.
    pub fn azimuth_deg(&self, grid_rad: f64) -> f64 {
        self.north.from_grid(grid_rad.to_degrees(), self.factors)
    }

    /// A length on the grid as one on the ground, metres.
    pub fn ground_m(&self, grid_m: f64) -> f64 {
        self.factors.ground_m(grid_m)
    }

    /// Lengths on the grid as ones on the ground, metres.
    pub fn ground_both_m(&self, grid_m: [f64; 2]) -> Vec<f64> {
        grid_m.map(|length| self.ground_m(length)).to_vec()
    }

    /// The names of what was left out, for a summary.
    pub fn summary(&self) -> Feature {
        Feature::part("summary", None)
            .with("surface", self.index.id().to_string())
            .with("trackways", self.paths.len())
            .with("left_out", self.ids(&self.left_out))
    }
}

/// The speed that was measured of a trackway.
pub(in crate::query) fn speed_of(gait: &Gait) -> Option<SpeedRange> {
    let (speed_m_s, [low_m_s, high_m_s]) = (gait.speed_m_s?, gait.speed_interval_m_s?);
    Some(SpeedRange {
        speed_m_s,
        low_m_s,
        high_m_s,
    })
}

/// A line through places; `None` for fewer than two.
pub(in crate::query) fn line(places: &[[f64; 2]]) -> Option<Geometry<f64>> {
    let line = LineString::from_iter(places.iter().copied());
    (line.0.len() >= 2).then(|| line.into())
}
