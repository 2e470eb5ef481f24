//! What lies in the way: prints and trackways that could go on from an end, against none of them.

use super::ahead::{Ahead, Stage};
use super::answer::{Candidate, CandidateKind, Term};
use super::ends::trackways;
use super::following::Node;
use super::likeness::looks;
use super::plane::{Spread, Vector, length, ln_student, minus, plus};
use super::steps::Way;
use super::track::{beside, position_sd_m};
use crate::index::PrintNo;
use crate::model::Record;
use std::collections::BTreeSet;

/// ln of the prior that what is seen next is a single print rather than the end of a trackway, or the other way round.
const LN_HALF: f64 = -std::f64::consts::LN_2;
/// ln of the prior of a radar anomaly. Common practice: one in three proves to be a print.
const LN_ANOMALY: f64 = -1.1;
/// Steps less probable than this are not looked at.
pub(super) const LEAST_CHANCE: f64 = 1e-7;
/// How far off a step's mean prints are looked for, in standard deviations.
const REACH: f64 = 5.0;
/// How many prints are looked at for what follows them.
const FOLLOWED: usize = 6;
/// How many steps beyond the first of these are looked at for what follows. It is the same ground for all of them: a print
/// that is passed over counts for those who take it in, and a way is not better because it reaches farther.
const BEYOND: usize = 2;
/// How many prints that could follow one are followed in turn.
const BRANCHES: usize = 2;

/// The hypotheses, each with its weight.
pub(super) struct Weighed {
    pub candidates: Vec<Candidate>,
    pub none: f64,
}

/// One hypothesis while it is weighed.
pub(super) struct Hypothesis {
    pub kind: CandidateKind,
    pub place: Vector,
    /// Where the main row's foot would stand, and the variance of that.
    pub foot: (Vector, f64),
    pub stage: usize,
    pub side_fits: Option<bool>,
    pub terms: Vec<Term>,
    pub weight: f64,
}

/// The chance at each step that it is the first that is seen, and that none of them is.
pub(super) fn first_seen(seen: &[f64], ends: f64) -> (Vec<f64>, f64) {
    let mut goes_on = 1.0;
    let chances: Vec<f64> = (seen.iter())
        .map(|seen| {
            goes_on *= 1.0 - ends;
            let chance = goes_on * seen;
            goes_on *= 1.0 - seen;
            chance
        })
        .collect();
    let none = 1.0 - chances.iter().sum::<f64>();
    (chances, none.max(1e-9))
}

/// Weighs all that lies in the way.
///
/// # Formula
/// Weight of a candidate: Σ over steps k of P(k is the first step seen) · density of its place at k / density of such
/// prints (or ends) hereabouts · likelihood ratios of its looks. Weight of none: P(no step is seen). Each over the sum.
pub(super) fn weigh(way: &Way) -> Weighed {
    let (chances, none) = first_seen(&way.seen, way.surroundings.habits.ends);
    let own: BTreeSet<PrintNo> = way.track.prints.iter().copied().collect();
    let mut hypotheses = prints(way, &way.stages, &chances, &own);
    follow_up(way, &mut hypotheses, &own);
    hypotheses.extend(trackways(way, &chances, &own));
    let sum: f64 = none + hypotheses.iter().map(|hypothesis| hypothesis.weight).sum::<f64>();
    let mut candidates: Vec<Candidate> = (hypotheses.into_iter())
        .map(|hypothesis| candidate(way, hypothesis, sum))
        .collect();
    candidates.sort_by(|a, b| {
        (b.probability.total_cmp(&a.probability)).then(a.distance_m.total_cmp(&b.distance_m))
    });
    Weighed {
        candidates,
        none: none / sum,
    }
}

fn candidate(way: &Way, hypothesis: Hypothesis, sum: f64) -> Candidate {
    Candidate {
        probability: hypothesis.weight / sum,
        step: hypothesis.stage + 1,
        missing: hypothesis.stage,
        distance_m: length(minus(hypothesis.place, way.track.last().place)),
        side_fits: hypothesis.side_fits,
        in_corridor: false,
        terms: hypothesis.terms,
        kind: hypothesis.kind,
    }
}

/// The prints of no standing trackway near the steps ahead.
fn single_prints(way: &Way, stages: &[Stage], chances: &[f64], own: &BTreeSet<PrintNo>) -> BTreeSet<PrintNo> {
    let mut found = BTreeSet::new();
    for (stage, _) in stages
        .iter()
        .zip(chances)
        .filter(|(_, chance)| **chance > LEAST_CHANCE)
    {
        let (lower, upper) = around(way, stage, way.manus_reach_m());
        let near = way.index.in_box(lower, upper).into_iter();
        found.extend(near.filter(|no| !own.contains(no) && way.surroundings.trackway_of(*no).is_none()));
    }
    found
}

pub(super) fn around(way: &Way, stage: &Stage, further_m: f64) -> ([f64; 2], [f64; 2]) {
    let reach = REACH * stage.axes.major + further_m;
    let middle = plus(way.track.origin, stage.mean);
    (middle.map(|part| part - reach), middle.map(|part| part + reach))
}

fn prints(way: &Way, stages: &[Stage], chances: &[f64], own: &BTreeSet<PrintNo>) -> Vec<Hypothesis> {
    let singles = single_prints(way, stages, chances, own);
    let mut hypotheses = Vec::new();
    for no in &singles {
        hypotheses.extend(as_main(way, stages, chances, *no, &singles));
        hypotheses.extend(as_manus(way, stages, chances, *no));
    }
    hypotheses
}

/// Adds up the weights of a hypothesis over the steps; its terms are those of the most probable one.
pub(super) fn over_steps(
    stages: &[Stage],
    chances: &[f64],
    mut at: impl FnMut(usize) -> Option<(Vec<Term>, Option<PrintNo>)>,
) -> Option<(usize, Vec<Term>, Option<PrintNo>, f64)> {
    let mut best: Option<(usize, Vec<Term>, Option<PrintNo>, f64)> = None;
    let mut sum = 0.0;
    for (number, (_, chance)) in stages.iter().zip(chances).enumerate() {
        if *chance <= LEAST_CHANCE {
            continue;
        }
        let Some((mut terms, with)) = at(number) else {
            continue;
        };
        terms.push(Term {
            what: "going on unseen as far as here",
            log_odds: chance.ln() + LN_HALF,
        });
        let weight = terms
            .iter()
            .map(|term| term.log_odds)
            .sum::<f64>()
            .min(300.0)
            .exp();
        sum += weight;
        if best.as_ref().is_none_or(|best| weight > best.3) {
            best = Some((number, terms, with, weight));
        }
    }
    best.map(|(number, terms, with, _)| (number, terms, with, sum))
}

/// How far a print of known position error lies off, as a likelihood ratio.
fn place_term(density: f64, common_m2: f64) -> Option<Term> {
    (density > 1e-9 * common_m2).then(|| Term {
        what: "place",
        log_odds: (density / common_m2).ln(),
    })
}

fn anomaly(way: &Way, no: PrintNo, terms: &mut Vec<Term>) {
    if way.index.print(no).record == Some(Record::Anomaly) {
        terms.push(Term {
            what: "radar anomaly",
            log_odds: LN_ANOMALY,
        });
    }
}

/// A print as the main row's next.
fn as_main(
    way: &Way,
    stages: &[Stage],
    chances: &[f64],
    no: PrintNo,
    singles: &BTreeSet<PrintNo>,
) -> Option<Hypothesis> {
    let print = way.index.print(no);
    let place = way.place(no);
    let position_m2 = position_sd_m(print).powi(2);
    let common_m2 = way.single_m2;
    let found = over_steps(stages, chances, |number| {
        let mut terms = vec![place_term(stages[number].density(place, position_m2), common_m2)?];
        let step = stages[number].nodes[0].motion.step;
        let azimuth = way.foot_azimuth_rad(step, stages[number].heading_rad);
        terms.extend(looks(way, &way.likeness, print, azimuth, way.track.side(step)));
        anomaly(way, no, &mut terms);
        let with = manus_beside(way, &stages[number], step, no, singles);
        if let Some((_, term)) = &with {
            terms.push(*term);
        }
        Some((terms, with.and_then(|(manus, _)| manus)))
    });
    let (stage, terms, manus, weight) = found?;
    let side = way.track.side(way.step(stage)).map(|(side, _)| side);
    Some(Hypothesis {
        kind: CandidateKind::Print { print: no, manus },
        place,
        foot: (place, position_m2),
        stage,
        side_fits: print.side.zip(side).map(|(one, other)| one == other),
        terms,
        weight,
    })
}

/// The manus print of a set beside its pes: the best that lies there, and what its being there or not says.
fn manus_beside(
    way: &Way,
    stage: &Stage,
    step: i32,
    pes: PrintNo,
    singles: &BTreeSet<PrintNo>,
) -> Option<(Option<PrintNo>, Term)> {
    let fore = way.fore.as_ref()?;
    let at = beside(way.place(pes), stage.heading_rad, fore.offset_m, way.sign(step));
    let mut sum = 1.0 - fore.seen;
    let mut best: Option<(PrintNo, f64)> = None;
    for no in singles.iter().filter(|no| **no != pes) {
        let off = minus(way.place(*no), at);
        if length(off) > REACH * fore.sd_m {
            continue;
        }
        let density = ln_student(Spread::round(fore.sd_m.powi(2)), off, 5.0);
        let looks: f64 = looks(
            way,
            &fore.likeness,
            way.index.print(*no),
            stage.heading_rad,
            way.track.side(step),
        )
        .iter()
        .filter(|term| term.what != "azimuth of the foot")
        .map(|term| term.log_odds)
        .sum();
        let weight = fore.seen * (density + looks - way.single_m2.ln()).min(300.0).exp();
        sum += weight;
        if best.is_none_or(|(_, most)| weight > most) {
            best = Some((*no, weight));
        }
    }
    let with = best.filter(|(_, weight)| *weight > sum / 2.0).map(|(no, _)| no);
    let what = if with.is_some() {
        "manus print of the set"
    } else {
        "no manus print of the set"
    };
    Some((
        with,
        Term {
            what,
            log_odds: sum.ln(),
        },
    ))
}

/// A print as the manus of a set whose pes is missing.
fn as_manus(way: &Way, stages: &[Stage], chances: &[f64], no: PrintNo) -> Option<Hypothesis> {
    let fore = way.fore.as_ref()?;
    let (print, place) = (way.index.print(no), way.place(no));
    let common_m2 = way.single_m2;
    let missing = (way.surroundings.habits.missing * fore.seen).max(1e-3);
    let found = over_steps(stages, chances, |number| {
        let stage = &stages[number];
        let step = stage.nodes[0].motion.step;
        let off = beside([0.0, 0.0], stage.heading_rad, fore.offset_m, way.sign(step));
        let further_m2 = fore.sd_m.powi(2) + position_sd_m(print).powi(2);
        let mut terms = vec![place_term(
            stage.density(minus(place, off), further_m2),
            common_m2,
        )?];
        let side = way.track.side(step);
        let looks = looks(way, &fore.likeness, print, stage.heading_rad, side);
        terms.extend(
            looks
                .into_iter()
                .filter(|term| term.what != "azimuth of the foot"),
        );
        terms.push(Term {
            what: "its pes missing",
            log_odds: missing.ln(),
        });
        anomaly(way, no, &mut terms);
        Some((terms, None))
    });
    let (stage, terms, _, weight) = found?;
    let side = way.track.side(way.step(stage)).map(|(side, _)| side);
    let off = beside(
        [0.0, 0.0],
        stages[stage].heading_rad,
        fore.offset_m,
        way.sign(way.step(stage)),
    );
    Some(Hypothesis {
        kind: CandidateKind::Manus { print: no },
        place,
        foot: (
            minus(place, off),
            fore.sd_m.powi(2) + position_sd_m(print).powi(2),
        ),
        stage,
        side_fits: print.side.zip(side).map(|(one, other)| one == other),
        terms,
        weight,
    })
}

/// What lies beyond the likeliest prints speaks for or against them, too.
fn follow_up(way: &Way, hypotheses: &mut [Hypothesis], own: &BTreeSet<PrintNo>) {
    let mut order: Vec<usize> = (0..hypotheses.len()).collect();
    order.sort_by(|a, b| hypotheses[*b].weight.total_cmp(&hypotheses[*a].weight));
    order.truncate(FOLLOWED);
    let Some(first) = order.iter().map(|number| hypotheses[*number].stage).min() else {
        return;
    };
    for number in order {
        let hypothesis = &hypotheses[number];
        let taken_too = match hypothesis.kind {
            CandidateKind::Print { print, manus } => [Some(print), manus],
            CandidateKind::Manus { print } => [Some(print), None],
            CandidateKind::Trackway { .. } => continue,
        };
        let mut taken = own.clone();
        taken.extend(taken_too.into_iter().flatten());
        let nodes = &way.stages[hypothesis.stage].nodes;
        let left = (first + BEYOND).saturating_sub(hypothesis.stage);
        let log_odds = beyond(way, nodes, hypothesis.foot, left, &taken).ln();
        let hypothesis = &mut hypotheses[number];
        hypothesis.weight *= log_odds.exp();
        hypothesis.terms.push(Term {
            what: "what lies beyond it",
            log_odds,
        });
    }
}

/// The evidence of what lies so many steps beyond a print, over that of its lying there by chance.
fn beyond(
    way: &Way,
    nodes: &[Node],
    (place, position_m2): (Vector, f64),
    left: usize,
    taken: &BTreeSet<PrintNo>,
) -> f64 {
    if left == 0 {
        return 1.0;
    }
    let mut nodes = nodes.to_vec();
    for node in &mut nodes {
        node.weight *= node.motion.observe(&node.noise, place, position_m2).exp();
    }
    nodes.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    nodes.truncate(FOLLOWED);
    let sum: f64 = nodes.iter().map(|node| node.weight).sum();
    if sum <= 0.0 {
        return 1.0;
    }
    for node in &mut nodes {
        node.weight /= sum;
    }
    let stages: Vec<Stage> = Ahead::from(nodes, way.position_m2, way.surroundings.habits.aside)
        .take(left)
        .collect();
    let seen: Vec<f64> = stages.iter().map(|stage| way.seen_at(stage)).collect();
    let (chances, none) = first_seen(&seen, way.surroundings.habits.ends);
    let singles = single_prints(way, &stages, &chances, taken);
    let mut further: Vec<Hypothesis> = (singles.iter())
        .filter_map(|no| as_main(way, &stages, &chances, *no, &singles))
        .collect();
    further.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    for hypothesis in further.iter_mut().take(BRANCHES) {
        let left = left - 1 - hypothesis.stage;
        let nodes = &stages[hypothesis.stage].nodes;
        hypothesis.weight *= beyond(way, nodes, hypothesis.foot, left, taken);
    }
    let further: f64 = further.iter().map(|hypothesis| hypothesis.weight).sum();
    (none + further).clamp(1e-3, 1e12)
}
