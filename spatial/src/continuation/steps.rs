//! One way on from a trackway: its steps, corridor, candidates and squares.

use super::ahead::{Ahead, Stage};
use super::answer::{Direction, Onward, PredictedStep};
use super::corridor::{corridor, polygon};
use super::following::follow_all;
use super::habits::{Habit, rotations_rad};
use super::options::{ContinuationFault, ContinuationOptions, MOST_STEPS};
use super::plane::plus;
use super::surroundings::Surroundings;
use super::track::Track;
use crate::angle::fold_deg;
use crate::index::{PrintNo, SurfaceIndex};
use std::f64::consts::PI;

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
}

impl<'a> Way<'a> {
    pub fn of(
        index: &'a SurfaceIndex,
        surroundings: &'a Surroundings,
        trackway: &[PrintNo],
        direction: Direction,
        options: &'a ContinuationOptions,
    ) -> Result<Self, ContinuationFault> {
        let kind = index.kind_of(trackway);
        let reader = surroundings.habits.reader(kind);
        let track = Track::of(index, trackway, direction == Direction::Before, &reader)?;
        let habit = surroundings.habits.of(kind);
        let nodes = follow_all(&track, habit, &surroundings.habits.kinds);
        let position_m2 = mean_position_m2(&track);
        let steps = options.steps.unwrap_or(MOST_STEPS);
        let mut stages = Vec::new();
        for stage in Ahead::from(nodes, position_m2, surroundings.habits.factors).take(steps) {
            let too_wide = 2.0 * stage.radii[1] * stage.axes.major > options.widest_m;
            if options.steps.is_none() && too_wide && !stages.is_empty() {
                break;
            }
            stages.push(stage);
        }
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
    fn seen_at(&self, stage: &Stage) -> f64 {
        let (ground, open) = (&self.surroundings.ground, self.open());
        let seen = |place| ground.seen(plus(self.track.origin, place), &self.options.seen, open);
        let reach = stage.radii[1] * stage.axes.major;
        let middle = plus(self.track.origin, stage.mean);
        let corners = [-reach, reach].map(|off| middle.map(|part| part + off));
        if !ground.may_hide(corners[0], corners[1]) {
            return seen(stage.mean);
        }
        let rim = |corner: usize, radius: f64| {
            plus(stage.mean, stage.axes.rim(radius, PI * corner as f64 / 4.0))
        };
        let sum: f64 = (0..8)
            .map(|corner| 2.0 * seen(rim(corner, stage.radii[0] * 0.9)) + seen(rim(corner, stage.radii[0] * 1.7)))
            .sum();
        (sum + 4.0 * seen(stage.mean)) / 28.0
    }

    /// The azimuth of the walk at a stage: against the reading for a trackway that is read backward.
    pub fn walked_rad(&self, stage: &Stage) -> f64 {
        stage.heading_rad + if self.track.reversed { PI } else { 0.0 }
    }

    /// The step of a stage in the track's own count.
    pub fn step(&self, number: usize) -> i32 {
        self.track.last().step + 1 + i32::try_from(number).unwrap_or(i32::MAX / 2)
    }

    /// Where the foot of a stage should point, radians.
    pub fn azimuth_rad(&self, number: usize) -> f64 {
        let stands_left = (self.step(number).rem_euclid(2) == 0) == (self.track.even_left > 0.0);
        let is_left = stands_left != self.track.reversed;
        let outward = if is_left { -self.rotation_rad } else { self.rotation_rad };
        self.walked_rad(&self.stages[number]) + outward
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
            azimuth_deg: fold_deg(self.azimuth_rad(number).to_degrees()),
            in_extent: self.surroundings.ground.at(position_m),
            seen: self.seen[number],
            hidden,
        }
    }
}

/// One way on.
pub(super) fn onward(
    index: &SurfaceIndex,
    surroundings: &Surroundings,
    trackway: &[PrintNo],
    direction: Direction,
    options: &ContinuationOptions,
) -> Result<Onward, ContinuationFault> {
    let way = Way::of(index, surroundings, trackway, direction, options)?;
    let corridor = corridor(way.track.origin, way.track.last().place, &way.stages);
    Ok(Onward {
        direction,
        from: way.track.last().no,
        limb: way.track.limb,
        steps: (0..way.stages.len())
            .map(|number| way.predicted(number, direction, 0.0))
            .collect(),
        corridor,
        candidates: Vec::new(),
        none_of_these: 1.0,
        targets: Vec::new(),
    })
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
