//! Which way a trackway was walked.

use super::evidence::Member;
use super::motion::Vector;
use super::scoring::Model;
use super::sets::Joined;

/// ln odds that the manus prints, where they lie apart from their pes, lie ahead of them. Common practice.
const MANUS_AHEAD: f64 = 1.4;

/// ln odds that the trackway was walked as its midline is listed rather than the other way.
///
/// Three things tell: where feet point, which side of the midline left feet stand on, and that a manus stands ahead.
pub(super) fn forward_odds(model: &Model, joined: &Joined) -> f64 {
    let Some(walk) = model.walk(&joined.midline.prints, &mut Vec::new()) else {
        return 0.0;
    };
    let mut odds = walk.kin().forward() + by_sides(model, joined, walk.kin().even_left(&model.gait));
    if !joined.fore.is_empty() {
        let fore: Vec<Member> = joined.fore.iter().map(|(_, member)| *member).collect();
        odds += model
            .walk(&fore, &mut Vec::new())
            .map_or(0.0, |walk| walk.kin().forward());
        odds += MANUS_AHEAD * joined.ahead_m.signum();
    }
    odds
}

/// Left feet stand on the left of the midline, if the gauge is not lost in the noise.
///
/// # Formula
/// With p the probability that even steps are left feet and q that they stand on the left going forward:
/// ln (pq + (1−p)(1−q)) / (p(1−q) + (1−p)q).
fn by_sides(model: &Model, joined: &Joined, even_left: f64) -> f64 {
    let offs = left_offs(model, joined);
    let count = offs.len() as f64;
    if count < 2.0 {
        return 0.0;
    }
    let mean = offs.iter().sum::<f64>() / count;
    let variance = offs.iter().map(|off| (off - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let stands = mean / (variance / count).sqrt().max(1e-6);
    let left = |odds: f64| 1.0 / (1.0 + (-odds).exp());
    // A logistic curve stands for the normal integral; narrow gauges and crossing feet keep it from certainty.
    let (p, q) = (
        left(even_left.clamp(-5.0, 5.0)),
        left((1.7 * stands).clamp(-4.0, 4.0)),
    );
    ((p * q + (1.0 - p) * (1.0 - q)) / (p * (1.0 - q) + (1.0 - p) * q)).ln()
}

/// How far each print stands to the left of the line between its neighbours of the other foot, even steps positive.
fn left_offs(model: &Model, joined: &Joined) -> Vec<f64> {
    let places: Vec<Vector> = joined
        .midline
        .prints
        .iter()
        .map(|member| model.evidence.place(*member))
        .collect();
    let (mut even, mut offs) = (true, Vec::new());
    for at in 1..places.len().saturating_sub(1) {
        let (before, after) = (joined.midline.missing[at - 1], joined.midline.missing[at]);
        even ^= before % 2 == 0;
        if before == 0 && after == 0 {
            let line = places[at + 1] - places[at - 1];
            let off = (places[at] - places[at - 1]).dot(line.unit().to_left());
            offs.push(if even { off } else { -off });
        }
    }
    offs
}
