//! The map that a field party takes along: what `continuation` answers, laid over the surface's plan.

use super::continuation::DIGGING_CAUTION;
use crate::catalogue::Indexed;
use crate::plan::{Onward as Overlay, Square, Step};
use spatial::continuation::{Candidate, CandidateKind, Onward, Target};
use spatial::model::Trackway;

/// The overlay for the ends of a trackway.
pub(super) fn overlay(index: &Indexed, trackway: &Trackway, ends: &[&Onward]) -> Overlay<'static> {
    let steps = ends.iter().flat_map(|onward| &onward.steps).map(|step| Step {
        number: step.step,
        at: step.position_m,
        region_50: step.region_50.clone(),
        region_95: step.region_95.clone(),
    });
    let squares = ends.iter().flat_map(|onward| &onward.targets);
    let mut squares: Vec<&Target> = squares.collect();
    squares.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let at = |candidate: &Candidate| {
        let (CandidateKind::Print { print, .. }
        | CandidateKind::Manus { print }
        | CandidateKind::Trackway { print, .. }) = &candidate.kind;
        let print = index.print(*print);
        [print.easting_m, print.northing_m]
    };
    Overlay {
        heading: format!("Where {}:{} should go on", index.id(), trackway.label),
        caution: DIGGING_CAUTION,
        trackways: vec![trackway.label.clone()],
        corridors: ends.iter().map(|onward| onward.corridor.clone()).collect(),
        steps: steps.collect(),
        squares: squares
            .into_iter()
            .map(|target| Square {
                outline: target.square.clone(),
                probability: target.probability,
                in_extent: target.in_extent.kind.name().to_owned(),
            })
            .collect(),
        candidates: ends
            .iter()
            .flat_map(|onward| &onward.candidates)
            .map(at)
            .collect(),
    }
}
