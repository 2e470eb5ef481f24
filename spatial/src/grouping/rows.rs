//! The rows while they are improved, and what changes in them.

use super::arriving::AHEAD;
use super::doubts::link;
use super::evidence::Member;
use super::scoring::{Model, Row};
use std::collections::HashSet;

/// Rows instead of other rows.
#[derive(Debug, Clone)]
pub(super) struct Change {
    /// The places of one or two rows that go.
    pub gone: Vec<usize>,
    /// The rows that come. Those of fewer than three prints set their prints free.
    pub new: Vec<Vec<Member>>,
    pub gain: f64,
    /// The prints after which this change and others that would gain too were seen.
    pub seen_at: Vec<Member>,
}

/// The rows, and which of them each print is in.
pub(super) struct Rows {
    pub all: Vec<Option<Row>>,
    pub of: Vec<Option<usize>>,
    /// The place of each print in its row.
    pub at: Vec<u32>,
    /// The prints about which something has changed since they were looked at.
    pub is_stirred: Vec<bool>,
}

impl Rows {
    pub fn new(members: usize, rows: Vec<Row>) -> Self {
        let (mut of, mut places) = (vec![None; members], vec![0; members]);
        for (place, row) in rows.iter().enumerate() {
            for (member, at) in row.prints.iter().zip(0..) {
                of[*member as usize] = Some(place);
                places[*member as usize] = at;
            }
        }
        Self {
            all: rows.into_iter().map(Some).collect(),
            of,
            at: places,
            is_stirred: vec![false; members],
        }
    }

    pub fn prints(&self, place: usize) -> &[Member] {
        self.all[place].as_ref().map_or(&[], |row| &row.prints)
    }

    pub fn score(&self, place: usize) -> f64 {
        self.all[place].as_ref().map_or(0.0, |row| row.score)
    }

    /// Applies what neither touches a row already changed nor wants a free print already taken; gives the rows to look
    /// at again.
    pub fn apply(&mut self, model: &Model, changes: Vec<Change>) -> Vec<usize> {
        let mut touched = vec![false; self.all.len()];
        let (mut again, mut stirred) = (Vec::new(), Vec::new());
        for change in changes {
            stirred.extend(&change.seen_at);
            if change.gone.iter().any(|place| touched[*place]) || !self.has_left(&change) {
                continue;
            }
            for place in &change.gone {
                touched[*place] = true;
            }
            let freed = self.exchange(model, change, &mut stirred);
            again.extend(
                freed
                    .into_iter()
                    .flat_map(|member| self.neighbours(model, member)),
            );
        }
        self.is_stirred.fill(false);
        self.stir(&stirred);
        again.extend(stirred.iter().filter_map(|member| self.of[*member as usize]));
        again.retain(|place| self.all[*place].is_some());
        again.sort_unstable();
        again.dedup();
        again
    }

    /// Whether the prints of the rows to come are in the rows to go, or in none.
    fn has_left(&self, change: &Change) -> bool {
        let mut prints = change.new.iter().flatten();
        prints.all(|member| self.of[*member as usize].is_none_or(|place| change.gone.contains(&place)))
    }

    /// Notes that something has changed at these prints, and so for those next to them in their rows.
    fn stir(&mut self, prints: &[Member]) {
        for member in prints {
            self.is_stirred[*member as usize] = true;
            if let Some(row) = self.of[*member as usize].and_then(|place| self.all[place].as_ref()) {
                let at = self.at[*member as usize] as usize;
                let beside = at.saturating_sub(AHEAD)..(at + AHEAD + 1).min(row.prints.len());
                for near in &row.prints[beside] {
                    self.is_stirred[*near as usize] = true;
                }
            }
        }
    }

    pub fn stir_whole(&mut self, places: &[usize]) {
        for row in places.iter().filter_map(|place| self.all[*place].as_ref()) {
            for member in &row.prints {
                self.is_stirred[*member as usize] = true;
            }
        }
    }

    /// Carries one change out, and notes the prints whose links have changed; gives those that are in no row any more.
    fn exchange(&mut self, model: &Model, change: Change, stirred: &mut Vec<Member>) -> Vec<Member> {
        let (mut freed, mut parted) = (Vec::new(), HashSet::new());
        for place in change.gone {
            let pairs = self.prints(place).windows(2);
            parted.extend(pairs.map(|pair| link(pair[0], pair[1])));
            for member in self.all[place].take().map_or_else(Vec::new, |row| row.prints) {
                self.of[member as usize] = None;
                freed.push(member);
            }
        }
        for prints in change.new {
            if !model.is_row(&prints) {
                continue;
            }
            let row = model.row(prints);
            if row.score <= 0.0 {
                continue;
            }
            for (member, at) in row.prints.iter().zip(0..) {
                self.of[*member as usize] = Some(self.all.len());
                self.at[*member as usize] = at;
            }
            for pair in row.prints.windows(2) {
                if !parted.remove(&link(pair[0], pair[1])) {
                    stirred.extend(pair);
                }
            }
            self.all.push(Some(row));
        }
        stirred.extend(parted.into_iter().flat_map(|(one, other)| [one, other]));
        freed.retain(|member| self.of[*member as usize].is_none());
        freed
    }

    /// The rows that a print just set free could go to.
    pub fn neighbours(&self, model: &Model, member: Member) -> Vec<usize> {
        let foot = model.evidence.foot(member);
        let near = model
            .evidence
            .within(foot.place, model.gait.longest_pace_m(foot.length_m), member);
        near.filter_map(|other| self.of[other as usize]).collect()
    }
}
