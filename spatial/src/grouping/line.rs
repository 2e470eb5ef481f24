//! A row laid out as a line of stations, so that other prints can be seen from each of its steps.

use super::evidence::{Evidence, Foot, Member};
use super::motion::Vector;
use super::scoring::{Model, Row};
use crate::model::Limb;
use std::collections::BTreeMap;

/// A row as the places where its feet stand at each step, missing ones included.
#[derive(Debug)]
pub(super) struct Line {
    pub prints: Vec<(i32, Member)>,
    pub stations: Vec<Station>,
    pub pace_m: f64,
    pub length_m: f64,
    pub unsteadiness: f64,
    pub pes: f64,
    pub manus: f64,
    pub morphotype: Option<u16>,
    /// ln odds that it was walked as listed, and that even steps are left.
    pub forward: f64,
    pub even_left: f64,
}

/// Where a foot stands at one step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Station {
    pub place: Vector,
    pub heading: Vector,
    pub step: i32,
}

impl Station {
    /// Where a place lies from here: ahead, and outward for even steps.
    pub fn offset(&self, place: Vector) -> [f64; 2] {
        let off = place - self.place;
        let left = off.dot(self.heading.to_left());
        [
            off.dot(self.heading),
            if self.step % 2 == 0 { left } else { -left },
        ]
    }
}

impl Line {
    pub fn of(model: &Model, row: &Row) -> Self {
        let evidence = model.evidence;
        let mut step = 0;
        let mut prints = vec![(0, row.prints[0])];
        for (member, missing) in row.prints[1..].iter().zip(&row.missing) {
            step += 1 + i32::from(*missing);
            prints.push((step, *member));
        }
        let stations = stations(evidence, &prints);
        let walk = model.walk(&row.prints, &mut Vec::new());
        let feet = || row.prints.iter().map(|member| evidence.foot(*member));
        let walked_m: f64 = stations
            .windows(2)
            .map(|pair| (pair[1].place - pair[0].place).length())
            .sum();
        let count = row.prints.len() as f64;
        let of_limb = |limb: Limb| feet().filter(|foot| foot.limb == Some(limb)).count() as f64;
        Self {
            pace_m: walked_m / f64::from(step.max(1)),
            length_m: (feet().map(|foot| foot.size).sum::<f64>() / count).exp(),
            unsteadiness: walk.map_or(0.1, |walk| walk.unsteadiness()),
            forward: walk.map_or(0.0, |walk| walk.kin().forward()),
            even_left: walk.map_or(0.0, |walk| walk.kin().even_left(&model.gait)),
            pes: of_limb(Limb::Pes),
            manus: of_limb(Limb::Manus),
            morphotype: commonest(feet()),
            prints,
            stations,
        }
    }

    pub fn station(&self, step: i32) -> Option<&Station> {
        usize::try_from(step)
            .ok()
            .and_then(|step| self.stations.get(step))
    }
}

fn commonest<'a>(feet: impl Iterator<Item = &'a Foot>) -> Option<u16> {
    let mut counts: BTreeMap<u16, usize> = BTreeMap::new();
    for number in feet.filter_map(|foot| foot.morphotype) {
        *counts.entry(number).or_default() += 1;
    }
    counts
        .into_iter()
        .max_by_key(|(number, count)| (*count, std::cmp::Reverse(*number)))
        .map(|(number, _)| number)
}

/// The feet's places at each step: prints where they are, and between them where the midline and gauge put them.
fn stations(evidence: &Evidence, prints: &[(i32, Member)]) -> Vec<Station> {
    let places: Vec<(i32, Vector)> = prints
        .iter()
        .map(|(step, member)| (*step, evidence.place(*member)))
        .collect();
    let headings: Vec<Vector> = (0..places.len()).map(|at| heading(&places, at)).collect();
    let gauge_m = half_gauge_m(&places, &headings);
    let mut stations = Vec::new();
    for at in 0..places.len() {
        let (step, place) = places[at];
        stations.push(Station {
            place,
            heading: headings[at],
            step,
        });
        let Some((next_step, next_place)) = places.get(at + 1) else {
            break;
        };
        let left = headings[at].to_left();
        let side = |step: i32| if step % 2 == 0 { gauge_m } else { -gauge_m };
        let (from, to) = (place - left * side(step), *next_place - left * side(*next_step));
        for between in step + 1..*next_step {
            let part = f64::from(between - step) / f64::from(next_step - step);
            let midline = from + (to - from) * part;
            stations.push(Station {
                place: midline + left * side(between),
                heading: headings[at],
                step: between,
            });
        }
    }
    stations
}

/// The heading at a print: the direction of the walk two prints about it.
fn heading(places: &[(i32, Vector)], at: usize) -> Vector {
    let (from, to) = (at.saturating_sub(2), (at + 2).min(places.len() - 1));
    // Ends of different feet would turn the heading by the gauge; step back to the same foot where there is one.
    let to = if (places[to].0 - places[from].0) % 2 != 0 && to > from + 1 {
        to - 1
    } else {
        to
    };
    (places[to].1 - places[from].1).unit()
}

/// How far even prints stand to the left of the midline, on average.
fn half_gauge_m(places: &[(i32, Vector)], headings: &[Vector]) -> f64 {
    let mut offs: Vec<f64> = Vec::new();
    for at in 1..places.len().saturating_sub(1) {
        let [(s0, one), (s1, two), (s2, three)] = [places[at - 1], places[at], places[at + 1]];
        if (s1 - s0) % 2 != 0 && (s2 - s1) % 2 != 0 {
            let part = f64::from(s1 - s0) / f64::from(s2 - s0);
            let off = (two - (one + (three - one) * part)).dot(headings[at].to_left()) / 2.0;
            offs.push(if s1 % 2 == 0 { off } else { -off });
        }
    }
    if offs.is_empty() {
        0.0
    } else {
        offs.iter().sum::<f64>() / offs.len() as f64
    }
}
