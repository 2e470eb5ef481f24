//! Is the true next print first among the candidates, and is "none of these" said where it is not there?

use super::cut::{Cut, CutSurface, Cutting, cut_surface};
use crate::eval::Class;
use serde::Serialize;
use spatial::continuation::{
    Candidate, CandidateKind, ContinuationOptions, Direction, Onward, Surroundings, continue_trackway,
};
use spatial::index::PrintNo;

/// What was found where the next print is there, and where it is not.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Next {
    /// Cuts whose hidden prints stayed on the surface.
    pub present: usize,
    /// Those in which the first candidate is the next print (or the manus of its set), and is more probable than none.
    pub first: usize,
    /// Those in which it is the first candidate.
    pub first_candidate: usize,
    /// Those in which it is among the first three.
    pub among_three: usize,
    /// Cuts whose hidden prints were taken out.
    pub absent: usize,
    /// Those in which none is more probable than each candidate.
    pub none: usize,
    /// Sum of −ln of the probability given to what is true.
    pub surprise: f64,
}

/// A tenth of the trackways of so many surfaces are cut at one end; of half of them the hidden prints are taken out.
#[must_use]
pub fn next(class: Class, prints: usize, surfaces: usize, first_seed: u64) -> Next {
    let cutting = Cutting {
        part: 0.15,
        present: 0.5,
    };
    let mut next = Next::default();
    for seed in (first_seed..).take(surfaces) {
        next.add(&cut_surface(class, prints, seed, cutting));
    }
    next
}

impl Next {
    pub(super) fn add(&mut self, surface: &CutSurface) {
        let surroundings = Surroundings::of(&surface.index);
        let options = ContinuationOptions::default();
        for cut in &surface.cuts {
            let Ok(found) = continue_trackway(&surface.index, &surroundings, &cut.kept, &options) else {
                continue;
            };
            let onward = if cut.direction == Direction::After {
                found.after
            } else {
                found.before
            };
            if cut.present.is_empty() {
                self.absent_one(&onward);
            } else {
                self.present_one(cut, &onward);
            }
        }
    }

    fn absent_one(&mut self, onward: &Onward) {
        self.absent += 1;
        let most = onward
            .candidates
            .first()
            .map_or(0.0, |candidate| candidate.probability);
        self.none += usize::from(onward.none_of_these > most);
        self.surprise -= onward.none_of_these.max(1e-9).ln();
    }

    fn present_one(&mut self, cut: &Cut, onward: &Onward) {
        self.present += 1;
        let nearest = cut.present.iter().map(|(paces, _)| *paces).min().unwrap_or(0);
        let of_next: Vec<PrintNo> = (cut.present.iter())
            .filter(|(paces, _)| *paces == nearest)
            .map(|(_, print)| *print)
            .collect();
        let right = |candidate: &Candidate| match candidate.kind {
            CandidateKind::Print { print, .. }
            | CandidateKind::Manus { print }
            | CandidateKind::Trackway { print, .. } => of_next.contains(&print),
        };
        let place = onward.candidates.iter().position(right);
        self.first_candidate += usize::from(place == Some(0));
        self.among_three += usize::from(place.is_some_and(|place| place < 3));
        let given: f64 = (onward.candidates.iter().filter(|candidate| right(candidate)))
            .map(|candidate| candidate.probability)
            .sum();
        let sure = place == Some(0) && onward.candidates[0].probability > onward.none_of_these;
        self.first += usize::from(sure);
        self.surprise -= given.max(1e-9).ln();
    }
}
