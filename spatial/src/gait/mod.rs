//! The measures of one trackway: paces, strides, angles, gauge, speed and its changes.
//!
//! [`measure`] takes prints in walking order and gives a [`Gait`]. Pes and manus prints may be mixed; they are
//! measured apart, and speed comes from the pes row. A measure that the prints cannot give is `None`, and
//! `not_enough_data` says why; no answer holds a number that is not finite.
//!
//! | file | what it holds |
//! | --- | --- |
//! | `options` | how to measure |
//! | `row` | the prints of one limb kind on the ground, and the geometry of pace, stride and triangle |
//! | `limbs` | pes or manus, where nobody said |
//! | `missing` | which steps are gaps |
//! | `measures`, `summary` | means, spreads, numbers |
//! | `steps` | the step-by-step table |
//! | [`hip`], [`speed`] | hip height by group; the published formulas |
//! | `uncertainty` | errors of position, length and hip ratio carried into speed |
//! | `changes` | where an animal sped up or slowed down |
//! | `load` | which side of a foot pressed deepest |

mod changes;
pub mod hip;
mod limbs;
mod load;
mod measures;
mod missing;
mod options;
mod row;
pub mod speed;
mod steps;
mod summary;
mod triangle;
mod uncertainty;

pub use changes::{CHANGES_CAUTION, Change, Turn};
pub use load::{LOAD_CAUTION, Load};
pub use measures::RowMeasures;
pub use missing::GapBasis;
pub use options::{GaitFault, Options};
pub use steps::Step;
pub use summary::Summary;
pub use triangle::{pace_angulation_deg, pattern_width_m};
pub use uncertainty::speed_interval_m_s;

use crate::angle::fold_deg;
use crate::model::{Label, Limb, Print};
use hip::HipHeight;
use options::{check, is_somewhere};
use rayon::prelude::*;
use row::Row;
use serde::Serialize;
use speed::Motion;

/// Said wherever a speed is given.
pub const SPEED_CAUTION: &str = "The interval holds the errors of position, foot length and hip ratio. It does not hold the \
    scatter of the speed formula itself, which rests on living animals of few kinds; nor do prints show whether the animal kept its pace.";

/// A print where it lies in the frame of measuring: as stored, or restored from a tilted bed.
#[derive(Debug, Clone, Copy)]
pub struct Placed<'a> {
    /// The print. Its own position and azimuth are not read here.
    pub print: &'a Print,
    /// Easting and northing in the frame.
    pub position_m: [f64; 2],
    /// The foot's azimuth from the frame's north.
    pub azimuth_deg: Option<f64>,
    /// How many prints are missing between it and the print before of its limb kind, if that is known; 0 says
    /// none.
    pub missing_before: Option<u32>,
}

impl<'a> From<&'a Print> for Placed<'a> {
    fn from(print: &'a Print) -> Self {
        Self {
            print,
            position_m: [print.easting_m, print.northing_m],
            azimuth_deg: print.azimuth_deg,
            missing_before: None,
        }
    }
}

/// Something about a print that the reader should look at.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Doubt {
    /// The print.
    pub print: Label,
    /// What is odd, in words that follow the label.
    pub doubt: &'static str,
}

impl Doubt {
    fn of(placed: &Placed, doubt: &'static str) -> Self {
        Self {
            print: placed.print.label.clone(),
            doubt,
        }
    }
}

/// What is measured of one trackway.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Gait {
    /// The pes row, or the manus row where there is no pes.
    #[serde(flatten)]
    pub row: RowMeasures,
    /// The manus row, where there are pes and manus prints.
    pub manus: Option<RowMeasures>,
    /// The direction in which the trackway leads as a whole, degrees from the frame's north.
    pub heading_deg: Option<f64>,
    /// Hip height.
    pub hip_height_m: Option<f64>,
    /// Its standard deviation: of the rule and of the foot length.
    pub hip_height_m_sd: Option<f64>,
    /// How many foot lengths it rests on.
    pub hip_height_m_n: usize,
    /// Hip height over foot length, where it was found so.
    pub hip_ratio: Option<f64>,
    /// The rule's source.
    pub hip_source: Option<&'static str>,
    /// Mean stride over hip height.
    pub relative_stride: Option<f64>,
    /// Walk, trot or run, by the mean stride.
    pub gait: Option<speed::GaitClass>,
    /// Speed, by the mean stride.
    pub speed_m_s: Option<f64>,
    /// Its 95 % interval.
    pub speed_interval_m_s: Option<[f64; 2]>,
    /// The formula that gave it.
    pub speed_formula: Option<speed::SpeedFormula>,
    /// Where the stride changes.
    pub changes: Vec<Change>,
    /// The step-by-step table, in the order of the prints given.
    pub steps: Vec<Step>,
    /// Prints that the reader should look at.
    pub doubts: Vec<Doubt>,
}

/// Measures a trackway from its prints in walking order.
///
/// # Units
/// Metres and degrees.
///
/// # Errors
/// A position that is none, or an option that makes no sense. Too few prints are no fault: what they cannot
/// give is `None`.
///
/// # References
/// Leonardi, G. (ed.) (1987), Glossary and Manual of Tetrapod Footprint Palaeoichnology (pace, stride, pace
/// angulation, foot rotation); Marty, D. (2008) (width of the pace-angulation pattern, from memory); see
/// [`hip`] and [`speed`] for theirs.
pub fn measure(trackway: &[Placed], options: &Options) -> Result<Gait, GaitFault> {
    check(trackway, options)?;
    let mut doubts = Vec::new();
    let (main, other) = rows(trackway, options.scale, &mut doubts);
    let mut measures = RowMeasures::of(&main);
    let hip = hip_height(&mut measures, options);
    let hip_height_m = hip.map(|hip| hip.height_m);
    let motion = speed_of(&mut measures, hip);
    let interval = motion.and_then(|_| {
        let stride = (
            measures.stride_m.mean?,
            uncertainty::mean_stride_sd_m(&main, options.position_sd_m),
        );
        uncertainty::speed_interval_m_s(stride, &hip?, options.draws, options.seed)
    });
    let heading = main.heading_rad();
    state_what_is_wanting(&mut measures, &main);
    Ok(Gait {
        manus: (other.len() > 0).then(|| RowMeasures::of(&other)),
        heading_deg: heading.map(|heading| fold_deg(heading.to_degrees())),
        hip_height_m,
        hip_height_m_sd: hip.map(|hip| hip.sd_m),
        hip_height_m_n: hip.map_or(0, |_| measures.foot_length_m.n),
        hip_ratio: hip.and_then(|hip| hip.ratio),
        hip_source: hip.map(|hip| hip.source),
        relative_stride: motion.map(|motion| motion.relative_stride),
        gait: motion.map(|motion| motion.gait),
        speed_m_s: motion.map(|motion| motion.speed_m_s),
        speed_interval_m_s: interval,
        speed_formula: motion.map(|motion| motion.speed_formula),
        changes: changes::find(&main, hip_height_m, options.search()),
        steps: table([(&main, hip_height_m), (&other, None)]),
        row: measures,
        doubts,
    })
}

/// Measures many trackways, on all cores; the answer does not depend on how many those are.
///
/// # Errors
/// As [`measure`], the first in the order given.
pub fn measure_all(trackways: &[&[Placed]], options: &Options) -> Result<Vec<Gait>, GaitFault> {
    let measured: Vec<_> = trackways
        .par_iter()
        .map(|trackway| measure(trackway, options))
        .collect();
    measured.into_iter().collect()
}

/// The direction in which a trackway leads as a whole, as [`measure`] gives it and far quicker: from the middle
/// of its first two prints to the middle of its last two. `None` with fewer than two prints, where it ends
/// where it begins, or where a position is none.
///
/// # Units
/// Degrees, 0 to 360, from the frame's north.
#[must_use]
pub fn heading_deg(trackway: &[Placed]) -> Option<f64> {
    if !trackway.iter().all(is_somewhere) {
        return None;
    }
    let (main, _) = rows(trackway, 1.0, &mut Vec::new());
    Some(fold_deg(main.heading_rad()?.to_degrees()))
}

/// The prints of each limb kind, pes first, as places among those given, in their order. Where nobody said which limb
/// a print is of, [`measure`] takes it for the same.
#[must_use]
pub fn rows_of_limbs(trackway: &[Placed]) -> [Vec<usize>; 2] {
    let limbs = limbs::limbs(trackway, &mut Vec::new());
    [Limb::Pes, Limb::Manus].map(|limb| {
        (0..trackway.len())
            .filter(|place| limbs[*place] == limb)
            .collect()
    })
}

/// The pes row and the manus row; the manus row first where there is no pes.
fn rows<'a>(trackway: &'a [Placed<'a>], scale: f64, doubts: &mut Vec<Doubt>) -> (Row<'a>, Row<'a>) {
    let limbs = limbs::limbs(trackway, doubts);
    let mut row = |limb| {
        let prints = trackway.iter().zip(&limbs).enumerate();
        let of_limb = prints
            .filter(|(_, (_, of))| **of == limb)
            .map(|(place, (placed, _))| (place, placed));
        Row::of(limb, of_limb, scale, doubts)
    };
    let (pes, manus) = (row(Limb::Pes), row(Limb::Manus));
    if pes.len() == 0 && manus.len() > 0 {
        (manus, pes)
    } else {
        (pes, manus)
    }
}

/// Hip height from the feet of the main row; a manus gives none.
fn hip_height(measures: &mut RowMeasures, options: &Options) -> Option<HipHeight> {
    let length = measures.foot_length_m;
    let length_m = length.mean.filter(|_| measures.limb == Limb::Pes);
    let observed_cv = length.sd.zip(length.mean).map_or(0.0, |(sd, mean)| sd / mean);
    let cv = observed_cv.max(options.length_cv) / (length.n.max(1) as f64).sqrt();
    match options.hip.height(length_m, cv) {
        Ok(hip) => Some(hip),
        Err(fault) => {
            measures.not_enough_data.insert("hip_height_m", fault.to_string());
            None
        }
    }
}

fn state_what_is_wanting(measures: &mut RowMeasures, row: &Row) {
    if row.heading_rad().is_none() {
        let reason = if row.len() < 2 {
            "fewer than two prints"
        } else {
            "it ends where it begins"
        };
        measures.not_enough_data.insert("heading_deg", reason.to_owned());
    }
    if row.len() <= changes::FEWEST_STEPS {
        let least = changes::FEWEST_STEPS + 1;
        let reason = format!("a change needs at least {least} prints of one limb kind");
        measures.not_enough_data.insert("changes", reason);
    }
}

fn speed_of(measures: &mut RowMeasures, hip: Option<HipHeight>) -> Option<Motion> {
    let motion = (measures.stride_m.mean.zip(hip)).and_then(|(stride, hip)| Motion::of(stride, hip.height_m));
    if motion.is_none() {
        let reason = match (measures.stride_m.mean, hip) {
            (None, _) => "there is no stride",
            (_, None) => "there is no hip height",
            _ => "stride and hip height give no sensible speed",
        };
        measures.not_enough_data.insert("speed_m_s", reason.to_owned());
    }
    motion
}

/// The rows of the table in the order in which the prints were given. Only the main row tells speed.
fn table(rows: [(&Row, Option<f64>); 2]) -> Vec<Step> {
    let mut steps: Vec<(usize, Step)> = (rows.into_iter())
        .flat_map(|(row, hip_height_m)| {
            (0..row.len()).map(move |no| (row.order[no], Step::of(row, no, hip_height_m)))
        })
        .collect();
    steps.sort_unstable_by_key(|(place, _)| *place);
    steps.into_iter().map(|(_, step)| step).collect()
}

#[cfg(test)]
mod laws_tests;
#[cfg(test)]
#[path = "gait_tests.rs"]
mod tests;
