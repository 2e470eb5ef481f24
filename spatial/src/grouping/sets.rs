//! Manus rows joined to the pes row that they run along with, at a constant offset.
//!
//! Two animals side by side keep a distance too, but each has its own pace, so that their prints drift
//! against each other; a manus keeps to its pes at every step.

use super::evidence::Member;
use super::gait::Normal;
use super::line::Line;
use super::rows::Rows;
use super::scoring::{Model, Row};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// A pes row with the manus prints of its sets, or one row alone.
#[derive(Debug, Clone)]
pub(super) struct Joined {
    pub midline: Row,
    /// Manus prints with the step of their set, counted from the first print of the midline; sorted by step.
    pub fore: Vec<(i32, Member)>,
    /// How far ahead of its pes the manus stands, if the midline was walked as it is listed, metres.
    pub ahead_m: f64,
    /// ln odds that the manus prints belong to the midline, and what these come from.
    pub odds: f64,
    pub terms: Vec<(&'static str, f64)>,
}

/// Joins rows, and then the single prints that fit a set.
pub(super) fn join(model: &Model, rows: Vec<Row>) -> Vec<Joined> {
    let lines: Vec<Line> = rows.par_iter().map(|row| Line::of(model, row)).collect();
    let placed = Rows::new(model.evidence.feet.len(), rows.clone());
    let mut matches: Vec<Match> = (0..rows.len())
        .into_par_iter()
        .flat_map_iter(|fore| matches_of(model, &lines, &placed, fore))
        .collect();
    matches.sort_by(|a, b| {
        b.odds
            .total_cmp(&a.odds)
            .then((a.hind, a.fore).cmp(&(b.hind, b.fore)))
    });
    let mut joined: Vec<Option<Joined>> = rows.into_iter().map(|row| Some(Joined::alone(row))).collect();
    let mut is_hind = vec![false; joined.len()];
    for found in matches {
        let Some(fore) = joined[found.fore].take_if(|_| !is_hind[found.fore]) else {
            continue;
        };
        match &mut joined[found.hind] {
            Some(hind) if hind.accepts(model, &found) => {
                hind.take(&found);
                is_hind[found.hind] = true;
            }
            _ => joined[found.fore] = Some(fore),
        }
    }
    let mut joined: Vec<Joined> = joined.into_iter().flatten().collect();
    super::singles::join(model, &mut joined);
    if model.evidence.wishes.is_empty() {
        return joined;
    }
    joined.into_iter().flat_map(|joined| joined.told(model)).collect()
}

impl Joined {
    pub fn alone(row: Row) -> Self {
        Self {
            midline: row,
            fore: Vec::new(),
            ahead_m: 0.0,
            odds: 0.0,
            terms: Vec::new(),
        }
    }

    /// Parted again where two prints would follow each other that must not, or where fixed links of the two rows go
    /// opposite ways.
    fn told(self, model: &Model) -> Vec<Self> {
        let wishes = &model.evidence.wishes;
        let listed = listed(&self);
        let is_allowed = |pair: &[Member]| !wishes.is_forbidden(pair[0], pair[1]);
        let fore: Vec<Member> = self.fore.iter().map(|(_, member)| *member).collect();
        let (mine, theirs) = (wishes.goes_on(&self.midline.prints), wishes.goes_on(&fore));
        let is_one_way = mine.is_none() || theirs.is_none() || mine == theirs;
        if listed.windows(2).all(is_allowed) && is_one_way && self.midline.prints.windows(2).all(is_allowed) {
            return vec![self];
        }
        let rows = [self.midline.prints, fore];
        let pieces = rows
            .iter()
            .flat_map(|row| row.chunk_by(|a, b| !wishes.is_forbidden(*a, *b)));
        pieces
            .filter(|prints| model.is_row(prints))
            .map(|prints| model.row(prints.to_vec()))
            .filter(|row| row.score > 0.0)
            .map(Self::alone)
            .collect()
    }

    /// A further piece of a manus row must have about the same offset and stand at other steps.
    fn accepts(&self, model: &Model, found: &Match) -> bool {
        let taken = |step: i32| self.fore.iter().any(|(other, _)| *other == step);
        self.fore.is_empty()
            || (found.prints.iter().all(|(step, _)| !taken(*step))
                && (found.ahead_m - self.ahead_m).abs() < found.apart_m
                && self.keeps_fixed(model, &found.prints))
    }

    /// Whether no fixed link of the manus prints is parted by further ones.
    pub fn keeps_fixed(&self, model: &Model, further: &[(i32, Member)]) -> bool {
        let wishes = &model.evidence.wishes;
        if wishes.is_empty() {
            return true;
        }
        let mut all = [&self.fore[..], further].concat();
        all.sort_unstable();
        let prints: Vec<Member> = all.into_iter().map(|(_, member)| member).collect();
        wishes.of_row(&prints) == 0.0
    }

    fn take(&mut self, found: &Match) {
        if self.fore.is_empty() {
            (self.ahead_m, self.odds) = (found.ahead_m, found.odds);
            self.terms = found.terms.to_vec();
        }
        self.fore.extend(&found.prints);
        self.fore.sort_unstable();
    }
}

/// All prints of a trackway as its midline is listed, those of one set in the order in which they lie ahead.
pub(super) fn listed(joined: &Joined) -> Vec<Member> {
    let mut step = 0;
    let mut placed = Vec::with_capacity(joined.midline.prints.len() + joined.fore.len());
    for (at, member) in joined.midline.prints.iter().enumerate() {
        if at > 0 {
            step += 1 + i32::from(joined.midline.missing[at - 1]);
        }
        placed.push((step, false, *member));
    }
    placed.extend(joined.fore.iter().map(|(step, member)| (*step, true, *member)));
    let fore_first = joined.ahead_m < 0.0;
    placed.sort_by_key(|(step, fore, _)| (*step, *fore != fore_first));
    placed.into_iter().map(|(_, _, member)| member).collect()
}

/// A row that could be the manus row of another.
struct Match {
    hind: usize,
    fore: usize,
    prints: Vec<(i32, Member)>,
    ahead_m: f64,
    apart_m: f64,
    odds: f64,
    terms: [(&'static str, f64); 5],
}

/// Rows whose sets' odds are below this stay apart.
const LEAST_ODDS: f64 = 1.0;
/// Standard deviation of a manus about its constant offset, in pes lengths. Common practice: sets keep their form.
pub(super) const KEEPS: f64 = 0.2;

fn matches_of(model: &Model, lines: &[Line], placed: &Rows, fore: usize) -> Vec<Match> {
    let line = &lines[fore];
    let mut near: BTreeSet<usize> = BTreeSet::new();
    for (_, member) in &line.prints {
        let around = model
            .evidence
            .within(model.evidence.place(*member), 2.0 * line.pace_m, *member);
        near.extend(around.filter_map(|other| placed.of[other as usize]));
    }
    let larger = |hind: &usize| *hind != fore && lines[*hind].length_m * 1.1 > line.length_m;
    near.into_iter()
        .filter(larger)
        .filter_map(|hind| best_match(model, lines, hind, fore))
        .collect()
}

fn best_match(model: &Model, lines: &[Line], hind: usize, fore: usize) -> Option<Match> {
    let (mut shifts, line) = (BTreeMap::<(i32, i32), usize>::new(), &lines[fore]);
    for (step, member) in &line.prints {
        let place = model.evidence.place(*member);
        for station in &lines[hind].stations {
            if (place - station.place).length() < 1.5 * lines[hind].pace_m {
                *shifts.entry((1, station.step - step)).or_default() += 1;
                *shifts.entry((-1, station.step + step)).or_default() += 1;
            }
        }
    }
    let matches = shifts.into_iter().filter(|(_, count)| *count >= 2);
    let matches = matches.filter_map(|((way, shift), _)| match_at(model, lines, hind, fore, way, shift));
    matches.max_by(|a, b| a.odds.total_cmp(&b.odds))
}

/// The odds that the two rows are one animal's when this step of the one is that step of the other.
fn match_at(model: &Model, lines: &[Line], hind: usize, fore: usize, way: i32, shift: i32) -> Option<Match> {
    let (pes, manus) = (&lines[hind], &lines[fore]);
    let pairs: Vec<(i32, Member, [f64; 2])> = (manus.prints.iter())
        .filter_map(|(step, member)| {
            let station = pes.station(way * step + shift)?;
            Some((
                station.step,
                *member,
                station.offset(model.evidence.place(*member)),
            ))
        })
        .collect();
    // What hangs over the ends of the pes row is no evidence, but a row that hangs over for the most part is another's.
    if pairs.len() < 2 || pairs.len() * 2 < manus.prints.len() {
        return None;
    }
    let middle = [0, 1].map(|axis| median(pairs.iter().map(|(_, _, offset)| offset[axis]).collect()));
    let keeps_m = KEEPS * pes.length_m;
    let drifts_m = (manus.unsteadiness.max(pes.unsteadiness).max(0.05) * 1.5 * pes.pace_m).max(keeps_m * 1.5);
    let count = pairs.len() as f64;
    // An offset of two rows that have nothing to do with each other is anywhere within a stride; and so may be a single one of a set.
    let anywhere = 1.0 / (2.0 * pes.pace_m).powi(2);
    let or_anywhere = |part: f64, near: f64| ((1.0 - part) * near.exp() + part * anywhere).ln();
    let keeps: f64 = pairs
        .iter()
        .map(|(_, _, offset)| or_anywhere(0.02, around(*offset, middle, keeps_m)))
        .sum();
    let drifts: f64 = pairs
        .windows(2)
        .map(|pair| or_anywhere(0.2, around(pair[1].2, pair[0].2, drifts_m)))
        .sum();
    let terms = [
        ("keeps its place in the set", keeps - drifts - anywhere.ln()),
        ("form of the set", form(middle, pes.length_m)),
        ("size, limb and morphotype", of_one_kind(model, pes, manus)),
        ("sides and foot azimuths", of_one_way(pes, manus, way, shift)),
        ("chance", -(count.ln() + 1.0)),
    ];
    let odds: f64 = terms.iter().map(|(_, value)| value).sum();
    (odds > LEAST_ODDS).then(|| Match {
        hind,
        fore,
        prints: manus
            .prints
            .iter()
            .map(|(step, member)| (way * step + shift, *member))
            .collect(),
        ahead_m: middle[0],
        apart_m: 3.0 * keeps_m,
        odds,
        terms,
    })
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    if values.len().is_multiple_of(2) {
        (values[half - 1] + values[half]) / 2.0
    } else {
        values[half]
    }
}

/// ln of a heavy-tailed density in two dimensions.
pub(super) fn around(offset: [f64; 2], middle: [f64; 2], sd: f64) -> f64 {
    let off_2 = ((offset[0] - middle[0]).powi(2) + (offset[1] - middle[1]).powi(2)) / (sd * sd);
    -3.0 * (off_2 / 4.0).ln_1p() - (std::f64::consts::TAU * sd * sd).ln()
}

/// How common such a set is. Common practice: the manus prints lie within about a pes length and a half of their pes,
/// before or behind it as the row is listed, a little inward or outward.
pub(super) fn form([ahead_m, outward_m]: [f64; 2], length_m: f64) -> f64 {
    let along = Normal::new(0.9, 0.6).ln_density(ahead_m.abs() / length_m) - 2f64.ln();
    let across = Normal::new(0.0, 0.4).ln_density(outward_m / length_m);
    along + across - 2.0 * length_m.ln()
}

/// The odds from limb, size and kind.
fn of_one_kind(model: &Model, pes: &Line, manus: &Line) -> f64 {
    let wrong = (model.gait.wrong / (1.0 - model.gait.wrong)).ln();
    let limbs =
        -wrong * ((pes.pes - pes.manus).clamp(-1.5, 1.5) + (manus.manus - manus.pes).clamp(-1.5, 1.5)) / 1.5;
    let sizes = of_sizes((manus.length_m / pes.length_m).ln());
    let kinds = match (pes.morphotype, manus.morphotype) {
        (Some(one), Some(other)) if one != other => -3.0,
        (Some(one), Some(_)) => -0.5 * model.evidence.morphotype_shares[usize::from(one)].ln(),
        _ => 0.0,
    };
    limbs.clamp(-6.0, 3.0) + sizes + kinds - 1.0
}

/// The odds from directions and sides: fore and hind feet go the same way, and those of one set are of one side.
fn of_one_way(pes: &Line, manus: &Line, way: i32, shift: i32) -> f64 {
    let turned = |odds: f64, by: i32| if by % 2 == 0 { odds } else { -odds };
    let forward = if way > 0 { manus.forward } else { -manus.forward };
    both(pes.forward, forward) + both(pes.even_left, turned(manus.even_left, shift))
}

/// ln of how much more probable it is that two things known by their odds are the same than by the toss of a coin.
fn both(one: f64, other: f64) -> f64 {
    let [p, q] = [one, other].map(|odds| 1.0 / (1.0 + (-odds.clamp(-5.0, 5.0)).exp()));
    (2.0 * (p * q + (1.0 - p) * (1.0 - q))).ln()
}

/// The odds from the ln of manus over pes length: fore feet are smaller; two animals side by side are often of one size.
pub(super) fn of_sizes(ratio: f64) -> f64 {
    let odds = Normal::new(-0.5, 0.3).ln_density(ratio) - Normal::new(0.0, 0.3).ln_density(ratio);
    odds.clamp(-4.0, 3.0)
}
