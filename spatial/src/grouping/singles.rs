//! Single prints that keep to a row at a constant offset, though they make no row that could be found on its own.
//!
//! Each free print near a row votes for the offset at which it lies. Where enough prints agree at enough steps,
//! they are the manus prints of the row, or the pes prints if they are the larger ones.

use super::evidence::Member;
use super::kin::Kin;
use super::line::{Line, Station};
use super::scoring::{Model, Row};
use super::sets::{Joined, KEEPS, around, form, of_sizes};
use rayon::prelude::*;

/// The least odds of a row of such prints, and of one print more for a row that has them.
const LEAST_ODDS: f64 = 4.0;
const LEAST_GAIN: f64 = 1.5;
/// Fewer prints are no row.
const FEWEST: usize = 3;

/// Prints that could join a trackway.
struct Offer {
    place: usize,
    prints: Vec<(i32, Member)>,
    offset: [f64; 2],
    odds: f64,
    terms: Vec<(&'static str, f64)>,
    larger: bool,
}

/// Joins single prints to trackways, the most probable first.
pub(super) fn join(model: &Model, joined: &mut [Joined]) {
    let mut is_free = vec![true; model.evidence.feet.len()];
    for joined in joined.iter() {
        let fore = joined.fore.iter().map(|(_, member)| member);
        joined
            .midline
            .prints
            .iter()
            .chain(fore)
            .for_each(|member| is_free[*member as usize] = false);
    }
    let search = |(place, joined): (usize, &Joined)| Search::new(model, &is_free, joined).offers(place);
    let mut offers: Vec<Offer> = joined.par_iter().enumerate().flat_map_iter(search).collect();
    offers.sort_by(|a, b| b.odds.total_cmp(&a.odds).then(a.place.cmp(&b.place)));
    for offer in offers {
        let are_free = offer.prints.iter().all(|(_, member)| is_free[*member as usize]);
        if are_free && joined[offer.place].keeps_fixed(model, &offer.prints) {
            offer
                .prints
                .iter()
                .for_each(|(_, member)| is_free[*member as usize] = false);
            take(model, &mut joined[offer.place], offer);
        }
    }
}

fn take(model: &Model, joined: &mut Joined, offer: Offer) {
    if joined.fore.is_empty() {
        (joined.ahead_m, joined.odds) = (offer.offset[0], offer.odds);
        joined.terms = offer.terms.clone();
    }
    if offer.larger {
        change_places(model, joined, offer);
    } else {
        joined.fore.extend(offer.prints);
        joined.fore.sort_unstable();
    }
}

/// The larger prints found become the midline, and the row as it was its manus prints.
fn change_places(model: &Model, joined: &mut Joined, offer: Offer) {
    let mut line = Line::of(model, &joined.midline).prints;
    let row: Row = model.row(offer.prints.iter().map(|(_, member)| *member).collect());
    let first = |step: i32, prints: &[(i32, Member)]| {
        prints
            .iter()
            .find(|(_, member)| *member == row.prints[0])
            .map_or(step, |(step, _)| *step)
    };
    let start = first(0, &offer.prints);
    // The row may be listed the other way about than the one it was found beside.
    let way = if start == offer.prints[0].0 { 1 } else { -1 };
    line.iter_mut()
        .for_each(|(step, _)| *step = way * (*step - start));
    line.sort_unstable();
    joined.ahead_m = -f64::from(way) * offer.offset[0];
    joined.fore = line;
    joined.midline = row;
}

/// A free print with its offset from a station.
type Near = (Member, [f64; 2]);

/// The search along one trackway.
struct Search<'a> {
    model: &'a Model<'a>,
    joined: &'a Joined,
    line: Line,
    /// Free prints near each station, with their offset from it.
    near: Vec<(Station, Vec<Near>)>,
}

impl<'a> Search<'a> {
    fn new(model: &'a Model<'a>, is_free: &[bool], joined: &'a Joined) -> Self {
        let line = Line::of(model, &joined.midline);
        let reach_m = (2.5 * line.length_m).min(1.2 * line.pace_m);
        let near_one = |station: &Station| {
            let free = model
                .evidence
                .within(station.place, reach_m, joined.midline.prints[0])
                .filter(|member| is_free[*member as usize]);
            (
                *station,
                free.map(|member| (member, station.offset(model.evidence.place(member))))
                    .collect(),
            )
        };
        let near = line.stations.iter().map(near_one).collect();
        Self {
            model,
            joined,
            line,
            near,
        }
    }

    fn offers(&self, place: usize) -> Vec<Offer> {
        if self.joined.fore.is_empty() {
            return self.best_row(place).into_iter().collect();
        }
        self.missing_ones(place)
    }

    /// Prints at the offset of a manus row that has some gaps.
    fn missing_ones(&self, place: usize) -> Vec<Offer> {
        let (offset, kin) = self.of_fore();
        let taken = |step: i32| self.joined.fore.iter().any(|(other, _)| *other == step);
        let fits = |near: &(Station, Vec<Near>)| {
            let step = near.0.step;
            if taken(step) {
                return None;
            }
            let (member, gain) = self.best(near, offset, &[], &kin)?;
            (gain > LEAST_GAIN).then(|| Offer {
                place,
                prints: vec![(step, member)],
                offset,
                odds: gain,
                terms: Vec::new(),
                larger: false,
            })
        };
        self.near.iter().filter_map(fits).collect()
    }

    /// The mean offset of the manus prints, and what they have in common.
    fn of_fore(&self) -> ([f64; 2], Kin) {
        let (mut sum, mut count, mut kin) = ([0.0; 2], 0.0, Kin::default());
        for (step, member) in &self.joined.fore {
            let foot = self.model.evidence.foot(*member);
            kin.add(foot, step % 2 == 0);
            let station = usize::try_from(*step)
                .ok()
                .and_then(|step| self.line.stations.get(step));
            if let Some(station) = station {
                let offset = station.offset(foot.place);
                sum = [sum[0] + offset[0], sum[1] + offset[1]];
                count += 1.0;
            }
        }
        (sum.map(|sum| sum / f64::max(count, 1.0)), kin)
    }

    /// The print that fits the offset best and stands at no other step, and by how much better than chance.
    fn best(
        &self,
        (station, free): &(Station, Vec<Near>),
        offset: [f64; 2],
        others: &[(i32, Member)],
        kin: &Kin,
    ) -> Option<(Member, f64)> {
        let (keeps_m, step) = (KEEPS * self.line.length_m, station.step);
        let gains = free.iter().filter_map(|(member, off)| {
            let near = (off[0] - offset[0]).hypot(off[1] - offset[1]) < 3.0 * keeps_m;
            let is_left = || others.iter().all(|(_, other)| other != member);
            (near && is_left()).then(|| {
                let foot = self.model.evidence.foot(*member);
                let kin = kin.ratio(&self.model.gait, self.model.evidence, foot, step % 2 == 0);
                (
                    *member,
                    around(*off, offset, keeps_m) - self.model.chance(foot) + kin,
                )
            })
        });
        gains.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
    }

    /// The best row of free prints at one offset.
    fn best_row(&self, place: usize) -> Option<Offer> {
        let votes = self
            .near
            .iter()
            .flat_map(|(_, free)| free.iter().map(|(_, offset)| *offset));
        let rows = votes.filter_map(|offset| self.row_at(place, offset));
        rows.max_by(|a, b| a.odds.total_cmp(&b.odds).then_with(|| b.prints.cmp(&a.prints)))
    }

    /// The row of the prints that fit one offset best, from step to step.
    fn row_at(&self, place: usize, offset: [f64; 2]) -> Option<Offer> {
        let (mut prints, mut odds, mut kin) = (Vec::new(), 0.0, Kin::default());
        for near in &self.near {
            let (best, step) = (self.best(near, offset, &prints, &kin), near.0.step);
            if let Some((member, gain)) = best.filter(|(_, gain)| *gain > 0.0) {
                odds += gain;
                kin.add(self.model.evidence.foot(member), step % 2 == 0);
                prints.push((step, member));
            } else {
                odds += self.model.gait.missing.max(0.2).ln();
            }
        }
        if prints.len() < FEWEST {
            return None;
        }
        let sizes = prints
            .iter()
            .map(|(_, member)| self.model.evidence.foot(*member).size);
        let ratio = sizes.sum::<f64>() / prints.len() as f64 - self.line.length_m.ln();
        let larger = ratio > 0.0;
        let set = self.as_set(offset, ratio);
        let terms = vec![
            ("keeps its place in the set", odds),
            ("form and sizes of the set", set),
        ];
        odds += set;
        (odds > LEAST_ODDS).then_some(Offer {
            place,
            prints,
            offset,
            odds,
            terms,
            larger,
        })
    }

    /// How common such a set is, by its offset and by the ln of the sizes' ratio. It stands instead of the first
    /// print's own place, to which the offset was fitted; and few rows have a second that was not found before.
    fn as_set(&self, offset: [f64; 2], ratio: f64) -> f64 {
        let length_m = self.line.length_m * ratio.max(0.0).exp();
        let fitted = around([0.0; 2], [0.0; 2], KEEPS * self.line.length_m);
        form(offset, length_m) + of_sizes(-ratio.abs()) - fitted - 2.0
    }
}
