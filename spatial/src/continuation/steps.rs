//! One way on from a trackway: its steps, corridor, candidates and squares.

use super::ahead::{Ahead, Stage};
use super::answer::{Candidate, CandidateKind, Direction, Onward, PredictedStep};
use super::candidates::{Weighed, weigh};
use super::corridor::{corridor, polygon};
use super::following::{Node, follow_all};
use super::fore::Fore;
use super::habits::{Habit, rotations_rad};
use super::likeness::{Likeness, STANDS, walked_so};
use super::motion::PACE;
use super::options::{ContinuationFault, ContinuationOptions, MOST_STEPS};
use super::plane::{Vector, length, minus, plus};
use super::surroundings::Surroundings;
use super::targets::targets;
use super::track::Track;
use crate::angle::fold_deg;
use crate::index::{PrintNo, SurfaceIndex};
use geo::{Intersects, Point};
use std::f64::consts::PI;

/// How many of the nearest prints tell how many lie about by chance.
const CROWD: usize = 64;
/// Candidates off the corridor are given from this probability on.
const LEAST_GIVEN: f64 = 0.01;

/// How far a way is followed.
#[derive(Debug, Clone, Copy)]
pub(super) enum Extent {
    /// As the options say.
    Asked,
    /// As far as the other side of a gap, metres.
    Gap(f64),
}

/// Everything that is known of one way on.
pub(super) struct Way<'a> {
    pub index: &'a SurfaceIndex,
    pub surroundings: &'a Surroundings,
    pub options: &'a ContinuationOptions,
    pub track: Track,
    pub habit: &'a Habit,
    pub stages: Vec<Stage>,
    /// How the feet point outward, radians, drawn to what is usual.
    pub rotation_rad: f64,
    /// The probability at each step that a print there is seen.
    pub seen: Vec<f64>,
    pub position_m2: f64,
    /// How many prints of no trackway lie hereabouts, a square metre.
    pub single_m2: f64,
    pub likeness: Likeness,
    /// The part of the surface's trackways that are of this kind.
    pub kind_share: f64,
    pub fore: Option<Fore>,
    /// The probability that the trackway was walked in the order in which it is given.
    pub forward: f64,
}

impl<'a> Way<'a> {
    pub fn of(
        index: &'a SurfaceIndex,
        surroundings: &'a Surroundings,
        trackway: &[PrintNo],
        direction: Direction,
        options: &'a ContinuationOptions,
        extent: Extent,
    ) -> Result<Self, ContinuationFault> {
        let kind = index.kind_of(trackway);
        let reader = surroundings.habits.reader(kind);
        let track = Track::of(index, trackway, direction == Direction::Before, &reader)?;
        let habit = surroundings.habits.of(kind);
        let nodes = follow_all(&track, habit, &surroundings.habits.kinds);
        let position_m2 = mean_position_m2(&track);
        let stages = match extent {
            Extent::Asked => stages(nodes, position_m2, surroundings, options),
            Extent::Gap(reach_m) => across(nodes, position_m2, surroundings.habits.aside, reach_m),
        };
        let row: Vec<PrintNo> = track.feet.iter().map(|foot| foot.no).collect();
        let likeness = Likeness::of(index, &row, track.limb, kind);
        let fore = Fore::of(index, &track, habit, kind);
        let single_m2 = single_m2(index, surroundings, &track);
        let odds = forward_odds(index, &track);
        let rotation_rad = rotation_rad(index, surroundings, &track, habit);
        let mut way = Self {
            index,
            surroundings,
            options,
            track,
            habit,
            stages,
            rotation_rad,
            seen: Vec::new(),
            position_m2,
            single_m2,
            likeness,
            kind_share: surroundings.habits.share_of(kind),
            fore,
            forward: 1.0 / (1.0 + (-odds).exp()),
        };
        way.seen = way.stages.iter().map(|stage| way.seen_at(stage)).collect();
        Ok(way)
    }

    /// The probability that a print on exposed ground is seen.
    pub fn open(&self) -> f64 {
        let learnt = 1.0 - self.surroundings.habits.missing;
        self.options.seen.exposed.unwrap_or(learnt)
    }

    /// The probability that a print of this step is seen, over the places where it may lie.
    pub fn seen_at(&self, stage: &Stage) -> f64 {
        let ground = &self.surroundings.ground;
        let seen = |place| self.ground_seen(plus(self.track.origin, place));
        let reach = stage.radii[1] * stage.axes.major;
        let middle = plus(self.track.origin, stage.mean);
        let corners = [-reach, reach].map(|off| middle.map(|part| part + off));
        if !ground.may_hide(corners[0], corners[1]) {
            return seen(stage.mean);
        }
        let rim =
            |corner: usize, radius: f64| plus(stage.mean, stage.axes.rim(radius, PI * corner as f64 / 4.0));
        let sum: f64 = (0..8)
            .map(|corner| {
                2.0 * seen(rim(corner, stage.radii[0] * 0.9)) + seen(rim(corner, stage.radii[0] * 1.7))
            })
            .sum();
        (sum + 4.0 * seen(stage.mean)) / 28.0
    }

    /// The probability that a print at a place of the surface is seen.
    pub fn ground_seen(&self, place: [f64; 2]) -> f64 {
        self.surroundings
            .ground
            .seen(place, &self.options.seen, self.open())
    }

    /// A print's place from the track's origin.
    pub fn place(&self, no: PrintNo) -> Vector {
        let print = self.index.print(no);
        minus([print.easting_m, print.northing_m], self.track.origin)
    }

    /// 1 for a step whose foot stands to the left of the way that is read, −1 for the others.
    pub fn sign(&self, step: i32) -> f64 {
        if step.rem_euclid(2) == 0 {
            self.track.even_left
        } else {
            -self.track.even_left
        }
    }

    /// How far manus prints lie from where their pes would, metres.
    pub fn manus_reach_m(&self) -> f64 {
        self.fore
            .as_ref()
            .map_or(0.0, |fore| length(fore.offset_m) + fore.sd_m)
    }

    /// The step of a stage in the track's own count.
    pub fn step(&self, number: usize) -> i32 {
        self.track.last().step + 1 + i32::try_from(number).unwrap_or(i32::MAX / 2)
    }

    /// Where the foot of a step should point, radians, if the row leads this way there.
    pub fn foot_azimuth_rad(&self, step: i32, heading_rad: f64) -> f64 {
        let walked = heading_rad + if self.track.reversed { PI } else { 0.0 };
        let is_left = (self.sign(step) > 0.0) != self.track.reversed;
        walked
            + if is_left {
                -self.rotation_rad
            } else {
                self.rotation_rad
            }
    }

    /// For each step the probability that it was made and not seen, once the candidates are weighed.
    ///
    /// # Formula
    /// P(k made | nothing seen) = a_k U_k / U_0, a_k the probability of going on unseen to k, U_k that of nothing seen after
    /// k; besides, whatever continues the trackway beyond k makes k certain.
    fn hidden(&self, weighed: &Weighed) -> Vec<f64> {
        let ends = self.surroundings.habits.ends;
        let mut unseen_after = vec![1.0; self.seen.len() + 1];
        for number in (0..self.seen.len()).rev() {
            unseen_after[number] = ends + (1.0 - ends) * (1.0 - self.seen[number]) * unseen_after[number + 1];
        }
        let mut goes_on = 1.0;
        (0..self.seen.len())
            .map(|number| {
                goes_on *= (1.0 - ends) * (1.0 - self.seen[number]);
                let beyond = weighed
                    .candidates
                    .iter()
                    .filter(|candidate| candidate.step > number + 1);
                let passed: f64 = beyond.map(|candidate| candidate.probability).sum();
                let made = weighed.none * goes_on * unseen_after[number + 1] / unseen_after[0];
                (made + passed).clamp(0.0, 1.0)
            })
            .collect()
    }

    fn predicted(&self, number: usize, direction: Direction, hidden: f64) -> PredictedStep {
        let (stage, origin) = (&self.stages[number], self.track.origin);
        let region = |radius: f64| polygon(origin, &stage.axes.corners(stage.mean, radius));
        let position_m = plus(origin, stage.mean);
        PredictedStep {
            step: number + 1,
            direction,
            position_m,
            sd_major_m: stage.axes.major,
            sd_minor_m: stage.axes.minor,
            ellipse_azimuth_deg: stage.axes.azimuth_rad.to_degrees(),
            radius_50: stage.radii[0],
            radius_95: stage.radii[1],
            region_50: region(stage.radii[0]),
            region_95: region(stage.radii[1]),
            side: self.track.side(self.step(number)).map(|(side, _)| side),
            azimuth_deg: fold_deg(
                self.foot_azimuth_rad(self.step(number), stage.heading_rad)
                    .to_degrees(),
            ),
            in_extent: self.surroundings.ground.at(position_m),
            seen: self.seen[number],
            hidden,
        }
    }
}

/// The steps that were asked for, or those whose regions are not too wide; one at least.
fn stages(
    nodes: Vec<Node>,
    position_m2: f64,
    surroundings: &Surroundings,
    options: &ContinuationOptions,
) -> Vec<Stage> {
    let steps = options.steps.unwrap_or(MOST_STEPS);
    let habits = &surroundings.habits;
    let ahead = Ahead::from(nodes, position_m2, habits.aside).with_regions(habits.factors);
    let mut stages = Vec::new();
    for stage in ahead.take(steps) {
        let too_wide = 2.0 * stage.radii[1] * stage.axes.major > options.widest_m;
        if options.steps.is_none() && too_wide && !stages.is_empty() {
            break;
        }
        stages.push(stage);
    }
    stages
}

/// The steps across a gap, and a few beyond it since paces vary.
fn across(nodes: Vec<Node>, position_m2: f64, aside: f64, reach_m: f64) -> Vec<Stage> {
    let pace_m = nodes[0].motion.parts[PACE].abs().max(1e-2);
    let steps = (1.2 * reach_m / pace_m).ceil() as usize + 1;
    Ahead::from(nodes, position_m2, aside)
        .take(steps.clamp(1, MOST_STEPS))
        .collect()
}

/// One way on.
pub(super) fn onward(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    trackway: &[PrintNo],
    direction: Direction,
    options: &ContinuationOptions,
) -> Result<Onward, ContinuationFault> {
    let way = Way::of(index, surroundings, trackway, direction, options, Extent::Asked)?;
    let corridor = corridor(way.track.origin, way.track.last().place, &way.stages);
    let mut weighed = weigh(&way);
    let hidden = way.hidden(&weighed);
    for candidate in &mut weighed.candidates {
        let no = print_of(candidate);
        let print = index.print(no);
        candidate.in_corridor = corridor.intersects(&Point::new(print.easting_m, print.northing_m));
    }
    let worth = |candidate: &Candidate| candidate.in_corridor || candidate.probability >= LEAST_GIVEN;
    let (given, others): (Vec<Candidate>, Vec<Candidate>) = weighed.candidates.into_iter().partition(worth);
    let mut candidates = given;
    let mut left_out: f64 = others.iter().map(|candidate| candidate.probability).sum();
    if candidates.len() > options.most {
        left_out += candidates
            .drain(options.most..)
            .map(|candidate| candidate.probability)
            .sum::<f64>();
    }
    Ok(Onward {
        direction,
        from: way.track.last().no,
        limb: way.track.limb,
        steps: (0..way.stages.len())
            .map(|number| way.predicted(number, direction, hidden[number]))
            .collect(),
        corridor,
        candidates,
        none_of_these: weighed.none + left_out,
        targets: targets(&way, &hidden),
    })
}

/// The print that a candidate puts next.
fn print_of(candidate: &Candidate) -> PrintNo {
    match &candidate.kind {
        CandidateKind::Print { print, .. }
        | CandidateKind::Manus { print }
        | CandidateKind::Trackway { print, .. } => *print,
    }
}

/// ln odds that a trackway was walked in the order in which it is given.
pub(super) fn forward_odds(index: &SurfaceIndex, track: &Track) -> f64 {
    let odds = walked_so(index, track);
    if track.reversed { 2.0 * STANDS - odds } else { odds }
}

/// How many prints of no trackway lie about a trackway's end, a square metre: of its nearest ones, drawn to the whole
/// surface's.
fn single_m2(index: &SurfaceIndex, surroundings: &Surroundings, track: &Track) -> f64 {
    const BELIEF: f64 = 4.0;
    let near = index.nearest(plus(track.origin, track.last().place), CROWD);
    let far_m = near.last().map_or(0.0, |(_, far_m)| *far_m).max(0.5);
    let is_single = |no: &PrintNo| surroundings.trackway_of(*no).is_none() && !track.prints.contains(no);
    // Two that may be the next ones themselves are not there by chance.
    let singles = near.iter().filter(|(no, _)| is_single(no)).count();
    let area_m2 = PI * far_m * far_m;
    let all_m2 = surroundings.single_m2.max(1e-4);
    (singles.saturating_sub(2) as f64 + BELIEF) / (area_m2 + BELIEF / all_m2)
}

/// The variance with which the row's positions are recorded.
pub(super) fn mean_position_m2(track: &Track) -> f64 {
    let sum: f64 = track.feet.iter().map(|foot| foot.position_m2).sum();
    sum / track.feet.len() as f64
}

/// The mean rotation of a trackway's feet, drawn to what is usual for its kind.
fn rotation_rad(index: &SurfaceIndex, surroundings: &Surroundings, track: &Track, habit: &Habit) -> f64 {
    let own = rotations_rad(index, track);
    let weight = (surroundings.habits.azimuth_sd_rad / habit.rotation_rad.sd.max(1e-3)).powi(2);
    (own.iter().sum::<f64>() + weight * habit.rotation_rad.mean) / (own.len() as f64 + weight)
}
