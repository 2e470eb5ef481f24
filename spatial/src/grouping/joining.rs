//! Pieces of one row joined across several missing prints.

use super::evidence::Member;
use super::gaps::MOST_APART;
use super::improving::{HOPE, Search};
use super::motion::Vector;
use super::scoring::Walk;

/// Prints at the ends of pieces that may be none of theirs.
const FRAYED: usize = 3;
/// A join is thought of when its first print adds no less than this: what comes after it can make up for it.
const WORTH_A_JOIN: f64 = -9.0;
/// The least cosine of the angle under which a join is thought of.
const ASIDE: f64 = 0.7;
/// How many joins are thought of at each end.
const JOINS: usize = 6;

impl Search<'_> {
    /// Joins to pieces further on that go the same way, prints at either piece's end left out or not.
    pub fn joins(&mut self, prints: &[Member]) {
        let shortest = prints.len().saturating_sub(FRAYED).max(3);
        for at in shortest - 1..prints.len() {
            self.at = prints[at];
            // Where only the other piece has changed, its own search sees this one.
            if !self.is_stirred(self.at) {
                continue;
            }
            let (head, tail) = prints.split_at(at + 1);
            let walk = self.walks[at];
            for (other, piece, rest) in self.pieces_ahead(&walk) {
                let start = self.model.start(piece[0]);
                let anew = start.score + self.model.onward(&start, &piece[1..]);
                let mut first = walk;
                self.model.take(&mut first, piece[0]);
                let further = first.score - walk.score + self.model.onward(&first, &piece[1..]);
                if further - anew > HOPE {
                    let joined = [head, &piece].concat();
                    self.offer_all(Some(other), vec![joined, rest, tail.to_vec()]);
                }
            }
        }
    }

    /// The pieces of other rows that could go on from a walk: the row's place, its prints from there on, and those before.
    fn pieces_ahead(&self, walk: &Walk) -> Vec<(usize, Vec<Member>, Vec<Member>)> {
        let Some(pace) = walk.pace() else {
            return Vec::new();
        };
        let from = self.model.evidence.place(walk.last);
        let reach_m = pace.length() * (f64::from(MOST_APART) + 1.3);
        let mut found: Vec<(f64, usize, bool, usize)> = Vec::new();
        for member in self.model.evidence.within(from, reach_m, walk.last) {
            let Some(other) = self.rows.of[member as usize].filter(|other| *other != self.place) else {
                continue;
            };
            let off = self.model.evidence.place(member) - from;
            let theirs = self.rows.prints(other);
            let at = self.rows.at[member as usize] as usize;
            for (is_turned, place) in [(false, at), (true, theirs.len() - 1 - at)] {
                if place <= FRAYED
                    && theirs.len() - place >= 2
                    && off.dot(pace) > ASIDE * off.length() * pace.length()
                    && self.goes_along(theirs, at, is_turned, pace)
                {
                    let gain = self.model.gain(walk, member).gain;
                    if gain > WORTH_A_JOIN {
                        found.push((gain, other, is_turned, place));
                    }
                }
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2, a.3).cmp(&(b.1, b.2, b.3))));
        found.truncate(JOINS);
        let piece = |(_, other, is_turned, place): (f64, usize, bool, usize)| {
            let mut theirs = self.rows.prints(other).to_vec();
            if is_turned {
                theirs.reverse();
            }
            let piece = theirs.split_off(place);
            (other, piece, theirs)
        };
        found.into_iter().map(piece).collect()
    }

    /// Whether a row goes on from one of its prints about as a pace vector points, with paces not wholly others.
    fn goes_along(&self, theirs: &[Member], at: usize, is_turned: bool, pace: Vector) -> bool {
        let on = if is_turned {
            at.saturating_sub(2)
        } else {
            (at + 2).min(theirs.len() - 1)
        };
        let way = self.model.evidence.place(theirs[on]) - self.model.evidence.place(theirs[at]);
        let paces = at.abs_diff(on) as f64;
        way.dot(pace) > 0.3 * way.length() * pace.length()
            && way.length() > 0.4 * paces * pace.length()
            && way.length() < 5.0 * paces * pace.length()
    }
}
