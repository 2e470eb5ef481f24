//! Where the ways of two or more trackways meet beyond what is seen of them.

use super::Trials;
use super::chance::{Chance, Null, false_discoveries};
use super::corridors::{Corridor, Corridors, least_gap_m};
use super::dealing::Dealing;
use super::edge::{Edge, with_edge};
use super::exposed::Exposed;
use super::focus::{Meeting, meeting};
use super::path::Path;
use super::raster::{Raster, Sheet, cell_m};
use super::supposed::Supposed;
use crate::angle::fold_deg;
use crate::continuation::plane::{Axes, Vector};
use crate::continuation::{Direction, InExtent, Surroundings};
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::Label;
use rayon::prelude::*;

/// Said wherever a convergence is given.
pub const CONVERGENCE_CAUTION: &str = with_edge!(
    "Two ways always meet somewhere. Chance here keeps each trackway's heading and shape and deals it the place of another; a focus \
     that stands against it may still be a path, a shore or a slope that all of them followed, and nothing tells whether the animals \
     were there at one time. Few trackways can be dealt out in few ways, four in 24, so that their p is never small."
);

/// How many paces ahead paths are followed where nobody says how far.
const PACES: f64 = 40.0;
/// With more corridors than this and none of them meeting, how near they come is not asked.
const FEW: usize = 64;

/// What to look for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConvergenceOptions {
    /// Whether origins are wanted: the ways before the first prints instead of those after the last.
    pub backward: bool,
    /// How far ways are followed, metres; `None` for 40 paces of the middle one of the trackways.
    pub reach_m: Option<f64>,
    /// The most foci that are given.
    pub most: usize,
    /// How they are held against chance.
    pub trials: Trials,
}

impl Default for ConvergenceOptions {
    fn default() -> Self {
        Self {
            backward: false,
            reach_m: None,
            most: 20,
            trials: Trials::default(),
        }
    }
}

/// Where ways meet.
#[derive(Debug, Clone, PartialEq)]
pub struct Convergence {
    /// Which ends of the trackways were followed.
    pub direction: Direction,
    /// How far, metres.
    pub reach_m: f64,
    /// The side of the cells in which evidence was added up, metres.
    pub cell_m: f64,
    /// The foci, those that chance gives least first.
    pub foci: Vec<Focus>,
    /// The surface's greatest evidence against the greatest of each permutation; `None` for fewer than two paths. Below zero
    /// it is no evidence but the least distance between two ways of which none meet.
    pub strongest: Option<Chance>,
    /// Trackways whose prints cannot be read pace by pace; they were followed straight on in a plain fan.
    pub fans: Vec<Label>,
}

/// A place where ways meet.
#[derive(Debug, Clone, PartialEq)]
pub struct Focus {
    /// Easting and northing, metres.
    pub position_m: [f64; 2],
    /// Standard deviation along the ellipse's long axis, metres.
    pub sd_major_m: f64,
    /// Standard deviation along the ellipse's short axis, metres.
    pub sd_minor_m: f64,
    /// Azimuth of the long axis, 0 to 180 degrees.
    pub ellipse_azimuth_deg: f64,
    /// Radius of the 95 % ellipse, in those standard deviations.
    pub radius_95: f64,
    /// The corners of the 95 % ellipse, anticlockwise, the first not repeated; metres.
    pub region_95_m: Vec<[f64; 2]>,
    /// All whose ways hold the focus within 95 %, in the order of the paths.
    pub members: Vec<Approach>,
    /// The extent in which it lies.
    pub in_extent: InExtent,
    /// Its evidence against that of all foci that chance gives.
    pub chance: Chance,
}

/// How one trackway comes to a focus, or comes from it.
#[derive(Debug, Clone, PartialEq)]
pub struct Approach {
    /// Its label.
    pub trackway: Label,
    /// Its number among the paths that were given.
    pub path: usize,
    /// The prints of its main row in walking order.
    pub prints: Vec<PrintNo>,
    /// The azimuth in which it was walking at the focus, degrees.
    pub azimuth_deg: f64,
    /// How far the focus is from its last print along its way, or with origins from its first, metres.
    pub distance_m: f64,
    /// Standard deviation of its way across, at the focus, metres; what an animal's aim may miss is in it.
    pub sd_across_m: f64,
    /// How far off the middle of its way the focus lies, in standard deviations; to the right as it was walking is positive.
    pub deviation_sd: f64,
}

/// The places where the ways of two or more paths meet beyond their last prints, or before their first.
///
/// Each way is followed as [`foreseen`](crate::continuation::foreseen) does; evidence of meeting is added up cell by cell, its
/// local maxima are the foci. Chance deals each way the place of another: `Dealing` says how, `Supposed` where it is open whether an edge
/// cuts them. Extents that draw the exposed rock tell it which trackways the rock's edge cuts.
///
/// # Units
/// Metres on the grid, degrees from grid north.
#[must_use]
pub fn convergence(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    paths: &[Path],
    options: &ConvergenceOptions,
) -> Convergence {
    let direction = if options.backward {
        Direction::Before
    } else {
        Direction::After
    };
    let usual = || PACES * middle_pace_m(paths);
    let reach_m = options.reach_m.filter(|reach| *reach > 0.0).unwrap_or_else(usual);
    let Corridors { all, fans } = Corridors::of(index, surroundings, paths, direction, reach_m);
    let mut found = Convergence {
        direction,
        reach_m,
        cell_m: cell_m(&all),
        foci: Vec::new(),
        strongest: None,
        fans,
    };
    if all.len() >= 2 {
        let exposed = Exposed::of(index);
        let field = Field::of(paths, exposed.as_ref(), direction, all, found.cell_m, reach_m);
        field.answer(surroundings, paths, options, &mut found);
    }
    found
}

/// The middle one of the paths' mean paces, metres.
fn middle_pace_m(paths: &[Path]) -> f64 {
    let mut paces: Vec<f64> = (paths.iter())
        .map(|path| path.length_m() / (path.line_m.len() - 1) as f64)
        .collect();
    paces.sort_unstable_by(f64::total_cmp);
    paces.get(paces.len() / 2).copied().unwrap_or(1.0)
}

/// What is held against chance.
struct Field {
    corridors: Vec<Corridor>,
    raster: Raster,
    dealing: Supposed<Dealing>,
}

/// What one permutation gives.
struct Given {
    greatest: f64,
    foci: usize,
    /// Those that are no smaller than the floor.
    large: Vec<f64>,
}

impl Field {
    fn of(
        paths: &[Path],
        exposed: Option<&Exposed>,
        direction: Direction,
        corridors: Vec<Corridor>,
        cell_m: f64,
        reach_m: f64,
    ) -> Self {
        let of_corridors: Vec<&Path> = corridors.iter().map(|corridor| &paths[corridor.path]).collect();
        let ends: Vec<(Vector, Vector)> = corridors.iter().map(Corridor::end).collect();
        let exposed = Exposed::telling(exposed, &of_corridors);
        let dealing = Supposed::of(Edge::of(&of_corridors, exposed), |edge| {
            Dealing::of(&of_corridors, exposed, edge.as_ref(), direction, &ends)
        });
        // A way could lie anywhere on the ground, of which no more counts than can be reached.
        let chance_m = (12.0 * dealing.likelier().variance_m2).sqrt().min(reach_m);
        Self {
            raster: Raster::of(&corridors, cell_m, chance_m),
            corridors,
            dealing,
        }
    }

    fn answer(
        &self,
        surroundings: &Surroundings,
        paths: &[Path],
        options: &ConvergenceOptions,
        found: &mut Convergence,
    ) {
        let still = vec![[0.0; 2]; self.corridors.len()];
        let mut sheet = Sheet::default();
        let mut peaks: Vec<(f32, [i32; 2])> = Vec::new();
        let greatest = self.look(&still, &mut sheet, |evidence, cell| peaks.push((evidence, cell)));
        peaks.sort_by(|one, other| other.0.total_cmp(&one.0).then(one.1.cmp(&other.1)));
        let meetings = self.meetings(&peaks, options.most);
        let floor = match meetings.last() {
            Some((evidence, _)) if meetings.len() == options.most => f64::from(*evidence),
            _ => 0.0,
        };
        let given: Vec<Given> = (0..options.trials.permutations)
            .into_par_iter()
            .map_init(Sheet::default, |sheet, permutation| {
                let dealing = self.dealing.in_permutation(permutation);
                let shifts = dealing.shifts(options.trials.seed, permutation);
                let (mut foci, mut large) = (0, Vec::new());
                let greatest = self.look(&shifts, sheet, |evidence, _| {
                    foci += 1;
                    if f64::from(evidence) >= floor {
                        large.push(f64::from(evidence));
                    }
                });
                Given {
                    greatest,
                    foci,
                    large,
                }
            })
            .collect();
        let of_surface = Null::of(given.iter().map(|given| given.greatest).collect(), given.len());
        let p = of_surface.p(greatest);
        found.strongest = Some(Chance {
            statistic: greatest,
            null_quantiles: of_surface.quantiles(greatest),
            p,
            p_corrected: p,
            tried: 1,
        });
        let all = given.iter().map(|given| given.foci).sum();
        let null = Null::of(given.into_iter().flat_map(|given| given.large).collect(), all);
        let p: Vec<f64> = meetings
            .iter()
            .map(|(evidence, _)| null.p(f64::from(*evidence)))
            .collect();
        let corrected = false_discoveries(&p, peaks.len());
        let quantiles = null.quantiles(floor);
        for (number, (evidence, meeting)) in meetings.iter().enumerate() {
            let chance = Chance {
                statistic: f64::from(*evidence),
                null_quantiles: quantiles,
                p: p[number],
                p_corrected: corrected[number],
                tried: peaks.len(),
            };
            let in_extent = surroundings.in_extent(meeting.place_m);
            found
                .foci
                .push(self.focus(paths, meeting, in_extent, chance, options.backward));
        }
    }

    /// Lays the corridors down and looks for foci; gives the greatest evidence.
    fn look(&self, shifts: &[Vector], sheet: &mut Sheet, mut focus: impl FnMut(f32, [i32; 2])) -> f64 {
        let cells: Vec<[i32; 2]> = shifts.iter().map(|shift| self.raster.cells(*shift)).collect();
        self.raster.lay(&cells, sheet);
        let mut greatest: Option<f32> = None;
        self.raster.peaks(sheet, |evidence, cell| {
            greatest = Some(greatest.map_or(evidence, |known| known.max(evidence)));
            focus(evidence, cell);
        });
        match greatest {
            Some(evidence) => f64::from(evidence),
            // Where nothing meets, that which comes nearer is the more like meeting.
            None if self.corridors.len() <= FEW => -least_gap_m(&self.corridors, shifts),
            None => f64::NEG_INFINITY,
        }
    }

    /// The greatest peaks as meetings, none of whose members are all members of a greater one.
    fn meetings(&self, peaks: &[(f32, [i32; 2])], most: usize) -> Vec<(f32, Meeting)> {
        let mut kept: Vec<(f32, Meeting)> = Vec::new();
        for (evidence, cell) in peaks {
            if kept.len() == most {
                break;
            }
            let near = self.raster.middle_m(*cell);
            let Some(found) = meeting(&self.corridors, near, self.raster.cell_m) else {
                continue;
            };
            let within = |(_, greater): &(f32, Meeting)| {
                let is_member = |number: usize| greater.members.iter().any(|(other, _)| *other == number);
                found.members.iter().all(|(number, _)| is_member(*number))
            };
            if !kept.iter().any(within) {
                kept.push((*evidence, found));
            }
        }
        kept
    }

    fn focus(
        &self,
        paths: &[Path],
        meeting: &Meeting,
        in_extent: InExtent,
        chance: Chance,
        backward: bool,
    ) -> Focus {
        let axes: Axes = meeting.spread.axes();
        let approach = |(number, beside): &(usize, super::corridors::Beside)| {
            let path = self.corridors[*number].path;
            let azimuth_deg = beside.at.azimuth_rad.to_degrees();
            // A way before the first print is followed against the way it was walked.
            let (turned_deg, sign) = if backward { (180.0, -1.0) } else { (0.0, 1.0) };
            Approach {
                trackway: paths[path].trackway.clone(),
                path,
                prints: paths[path].prints.clone(),
                azimuth_deg: fold_deg(azimuth_deg + turned_deg),
                distance_m: beside.at.gone_m + beside.ahead_m,
                sd_across_m: beside.at.sd_across_m,
                deviation_sd: sign * beside.deviation(),
            }
        };
        Focus {
            position_m: meeting.place_m,
            sd_major_m: axes.major,
            sd_minor_m: axes.minor,
            ellipse_azimuth_deg: axes.azimuth_rad.to_degrees(),
            radius_95: meeting.radius_95,
            region_95_m: axes.corners(meeting.place_m, meeting.radius_95),
            members: meeting.members.iter().map(approach).collect(),
            in_extent,
            chance,
        }
    }
}
