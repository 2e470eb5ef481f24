//! Rows improved under the second-order score: tails swapped, rows merged and split, prints put in, taken out and exchanged.

use super::arriving::{AHEAD, Next};
use super::evidence::Member;
use super::gaps::MOST_MISSING;
use super::growing::lengthened;
use super::rows::{Change, Rows};
use super::scoring::{Model, Row, Walk};
use rayon::prelude::*;

/// A change must bring this much, or rounding could make it go round in circles.
const LEAST_GAIN: f64 = 1e-6;
/// Another next print is thought of when it is at most this much worse than the present one, seen from the prints before.
const WORTH_A_TRY: f64 = 4.0;
/// This much of a gain over the next few prints is hope enough that a change could bring anything: rows are scored in
/// an order of their own, and what is said of the next few prints is not said of all.
pub(super) const HOPE: f64 = -3.0;
/// How many other next prints are thought of at each print.
const CHOICES: usize = 4;

/// How long rows are improved.
#[derive(Debug, Clone, Copy)]
pub(super) struct Effort {
    /// Sweeps over all rows that still change.
    sweeps: usize,
    /// How many times tangles are looked for.
    untangled: usize,
}

impl Effort {
    /// Until nothing gains any more.
    pub const WHOLE: Self = Self {
        sweeps: 40,
        untangled: 4,
    };
    /// Enough to learn gaits from.
    pub const FIRST: Self = Self {
        sweeps: 6,
        untangled: 0,
    };
}

/// Applies the best changes until none is left that gains.
///
/// Every sweep looks for changes of all rows at once and then applies them one by one, the best first, so the
/// result does not depend on how many cores looked. After the first sweep only the surroundings of what has changed
/// are looked at.
///
/// Rows that `is_settled` names are looked at only where others come near them.
pub(super) fn improve(
    model: &Model,
    mut rows: Vec<Row>,
    effort: Effort,
    is_settled: impl Fn(&Row) -> bool,
) -> Vec<Row> {
    rows.sort_by_key(|row| model.evidence.rank[row.prints[0] as usize]);
    let fresh: Vec<usize> = (0..rows.len())
        .filter(|place| !is_settled(&rows[*place]))
        .collect();
    let mut rows = Rows::new(model.evidence.feet.len(), rows);
    rows.stir_whole(&fresh);
    let near = |place: &usize| {
        rows.prints(*place)
            .iter()
            .flat_map(|member| rows.neighbours(model, *member))
            .collect::<Vec<_>>()
    };
    let mut unsettled: Vec<usize> = fresh.iter().flat_map(near).chain(fresh.iter().copied()).collect();
    unsettled.sort_unstable();
    unsettled.dedup();
    let (mut untangled, mut looked) = (0, rows.all.len());
    let mut touched: Vec<usize> = Vec::new();
    for _ in 0..effort.sweeps {
        touched.extend(&unsettled);
        let mut changes: Vec<Change> = unsettled
            .par_iter()
            .filter_map(|place| best_change(model, &rows, *place))
            .collect();
        changes.sort_by(|a, b| b.gain.total_cmp(&a.gain).then_with(|| a.gone.cmp(&b.gone)));
        unsettled = rows.apply(model, changes);
        if unsettled.is_empty() && untangled < effort.untangled && looked < rows.all.len() {
            // What has changed far away in a row counts too, for each print is seen from all before it.
            unsettled = (looked..rows.all.len())
                .filter(|place| rows.all[*place].is_some())
                .collect();
            rows.stir_whole(&unsettled);
            looked = rows.all.len();
            continue;
        }
        if unsettled.is_empty() && untangled < effort.untangled {
            untangled += 1;
            touched.retain(|place| rows.all[*place].is_some());
            touched.sort_unstable();
            touched.dedup();
            let changes = super::untangling::untangled(model, &rows, &std::mem::take(&mut touched));
            unsettled = rows.apply(model, changes);
        }
        if unsettled.is_empty() {
            break;
        }
    }
    rows.all.into_iter().flatten().collect()
}

fn best_change(model: &Model, rows: &Rows, place: usize) -> Option<Change> {
    let onward = rows.prints(place).to_vec();
    let backward: Vec<Member> = onward.iter().rev().copied().collect();
    let mut search = Search {
        model,
        rows,
        place,
        walks: model.walks(&onward),
        turned: model.walks(&backward),
        at: 0,
        seen_at: Vec::new(),
        best: None,
    };
    search.parts(&onward);
    for prints in [onward, backward] {
        if search.along(&prints) {
            search.longer(&prints);
        }
        search.joins(&prints);
        std::mem::swap(&mut search.walks, &mut search.turned);
    }
    let mut best = search.best?;
    best.seen_at = search.seen_at;
    Some(best)
}

/// The search for the best change of one row.
pub(super) struct Search<'a> {
    pub model: &'a Model<'a>,
    pub rows: &'a Rows,
    pub place: usize,
    /// The walk along the row's prints, as far as each of them.
    pub walks: Vec<Walk>,
    /// The same from the row's other end.
    turned: Vec<Walk>,
    /// The print after which changes are looked for, and all prints after which any would gain.
    pub at: Member,
    seen_at: Vec<Member>,
    best: Option<Change>,
}

impl Search<'_> {
    /// Changes within the row: a print taken out, and the row split in two.
    fn parts(&mut self, prints: &[Member]) {
        for at in 0..prints.len() {
            self.at = prints[at];
            if !self.is_stirred(self.at) {
                continue;
            }
            if at < 3
                || self.model.onward(&self.walks[at - 1], &prints[at + 1..]) - self.present(at - 1, AHEAD + 1)
                    > HOPE
            {
                let mut without = prints.to_vec();
                without.remove(at);
                self.offer(None, [without, Vec::new()]);
            }
            if at > 0 && self.splits(prints, at) {
                self.offer(None, [prints[..at].to_vec(), prints[at..].to_vec()]);
            }
        }
    }

    /// Whether the row could be better in two, as far as the next prints show.
    fn splits(&self, prints: &[Member], at: usize) -> bool {
        let start = self.model.start(prints[at]);
        let anew = start.score + self.model.onward(&start, &prints[at + 1..]);
        at < 3 || anew - self.present(at - 1, AHEAD + 1) > HOPE
    }

    /// What the next so many prints add now, after the print at a place.
    fn present(&self, at: usize, count: usize) -> f64 {
        let last = (at + count).min(self.walks.len() - 1);
        self.walks[last].score - self.walks[at].score
    }

    /// The row with all that could be added after its last print, as far as no other row has it.
    fn longer(&mut self, prints: &[Member]) {
        let mut longer = lengthened(self.model, prints.to_vec());
        let free = longer[prints.len()..]
            .iter()
            .take_while(|member| self.rows.of[**member as usize].is_none())
            .count();
        longer.truncate(prints.len() + free);
        if free > 0 {
            self.offer(None, [longer, Vec::new()]);
        }
    }

    pub fn is_stirred(&self, member: Member) -> bool {
        self.rows.is_stirred[member as usize]
    }

    /// Changes after each print, seen from the prints before it. Tells whether anything has changed about the row's end.
    fn along(&mut self, prints: &[Member]) -> bool {
        let mut is_end_stirred = false;
        for at in 2..prints.len() {
            self.at = prints[at];
            let (walk, is_stirred) = (self.walks[at], self.is_stirred(self.at));
            let is_end = at + 1 == prints.len();
            let present = if is_end {
                0.0
            } else {
                self.present(at, 1) - WORTH_A_TRY
            };
            let reach = if is_end { MOST_MISSING } else { 1 };
            let mut nexts = self.model.nexts(&walk, reach, present.clamp(-3.0, 2.0));
            nexts.retain(|next| is_stirred || self.is_stirred(next.member));
            is_end_stirred = is_stirred || !nexts.is_empty();
            let (head, tail) = prints.split_at(at + 1);
            for next in nexts
                .into_iter()
                .filter(|next| !prints.contains(&next.member))
                .take(CHOICES)
            {
                self.with_next(head, tail, &next);
            }
        }
        is_end_stirred
    }

    fn with_next(&mut self, head: &[Member], tail: &[Member], next: &Next) {
        let one = [next.member];
        let after = tail.get(1..).unwrap_or(&[]);
        let at = head.len() - 1;
        match self.rows.of[next.member as usize] {
            None => {
                let mut walk = self.walks[at];
                self.model.take(&mut walk, next.member);
                if next.gain + self.model.onward(&walk, tail) - self.present(at, AHEAD) > HOPE {
                    self.offer(None, [[head, &one, tail].concat(), Vec::new()]);
                }
                if !tail.is_empty() {
                    if next.gain + self.model.onward(&walk, after) - self.present(at, AHEAD + 1) > HOPE {
                        self.offer(None, [[head, &one, after].concat(), Vec::new()]);
                    }
                    if next.gain > 0.0 && self.splits(&[head, tail].concat(), at + 1) {
                        self.offer(None, [[head, &one].concat(), tail.to_vec()]);
                    }
                }
            }
            Some(other) => self.with_other(head, tail, other, next),
        }
    }

    /// Changes of this row and another one that the next print lies in.
    fn with_other(&mut self, head: &[Member], tail: &[Member], other: usize, next: &Next) {
        let theirs = self.rows.prints(other);
        let at = self.rows.at[next.member as usize] as usize;
        let (mut before, mut behind) = (theirs[..at].to_vec(), theirs[at + 1..].to_vec());
        let one = [next.member];
        let mine = tail.get(..1).unwrap_or(&[]);
        let after = tail.get(1..).unwrap_or(&[]);
        let mut walk = self.walks[head.len() - 1];
        self.model.take(&mut walk, next.member);
        let now = |count: usize| self.present(head.len() - 1, count);
        // What the row itself would gain, as far as the next prints show. Where two rows gain together one of them
        // gains alone, and that one's own search sees the same change from its side.
        let hope = |prints: &[Member], count: usize| {
            next.gain + self.model.onward(&walk, prints) - now(count) > HOPE
        };
        let (steals, swaps) = (hope(tail, AHEAD), hope(after, AHEAD + 1));
        if steals {
            self.offer(
                Some(other),
                [[head, &one, tail].concat(), [&before[..], &behind].concat()],
            );
        }
        if swaps {
            self.offer(
                Some(other),
                [
                    [head, &one, after].concat(),
                    [&before[..], mine, &behind].concat(),
                ],
            );
        }
        for _ in 0..2 {
            let is_seen_by_other = before.len() >= 3 && !tail.is_empty();
            let hope =
                next.gain + self.model.onward(&walk, &behind) - self.present(head.len() - 1, AHEAD + 1);
            if is_seen_by_other && hope < HOPE {
                std::mem::swap(&mut before, &mut behind);
                before.reverse();
                behind.reverse();
                continue;
            }
            let joined = [head, &one, &behind].concat();
            self.offer(Some(other), [joined.clone(), [&before[..], tail].concat()]);
            if !tail.is_empty() && !before.is_empty() {
                self.offer_three(other, [joined, before.clone(), tail.to_vec()]);
            }
            // The same with the other row walked the other way.
            std::mem::swap(&mut before, &mut behind);
            before.reverse();
            behind.reverse();
        }
    }

    fn offer(&mut self, other: Option<usize>, new: [Vec<Member>; 2]) {
        self.offer_all(other, new.into());
    }

    fn offer_three(&mut self, other: usize, new: [Vec<Member>; 3]) {
        self.offer_all(Some(other), new.into());
    }

    pub fn offer_all(&mut self, other: Option<usize>, new: Vec<Vec<Member>>) {
        let now = self.rows.score(self.place) + other.map_or(0.0, |other| self.rows.score(other));
        // A row that is worse than chance is no row: its prints count for nothing.
        let then: f64 = new.iter().map(|prints| self.score(prints).max(0.0)).sum();
        let gain = then - now;
        if gain <= LEAST_GAIN {
            return;
        }
        self.seen_at.push(self.at);
        if self.best.as_ref().is_none_or(|best| gain > best.gain) {
            let gone = std::iter::once(self.place).chain(other).collect();
            self.best = Some(Change {
                gone,
                new,
                gain,
                seen_at: Vec::new(),
            });
        }
    }

    /// The score of a new row, as of [`Model::score`]: as far as it goes along with the row that there is, from either
    /// end, it has been walked already.
    fn score(&self, prints: &[Member]) -> f64 {
        let model = self.model;
        if !model.is_row(prints) || !model.evidence.wishes.is_empty() {
            return model.score(prints);
        }
        let is_backward = model.is_backward(prints);
        let in_order = |at: usize| prints[if is_backward { prints.len() - 1 - at } else { at }];
        let shared = |walks: &[Walk]| {
            let walked = walks
                .iter()
                .map(|walk| walk.last)
                .zip((0..prints.len()).map(in_order));
            walked.take_while(|(one, other)| one == other).count()
        };
        let (one, other) = (shared(&self.walks), shared(&self.turned));
        let (walks, known) = if one >= other {
            (&self.walks, one)
        } else {
            (&self.turned, other)
        };
        let mut walk = match known {
            0 => model.start(in_order(0)),
            _ => walks[known - 1],
        };
        for at in known.max(1)..prints.len() {
            model.take(&mut walk, in_order(at));
        }
        walk.score
    }
}
