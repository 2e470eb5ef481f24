//! Links that the user has fixed or forbidden.
//!
//! A fixed link outweighs all evidence where it stands, and a row that parts or turns one is worth nothing; so every
//! step of the method works around them without knowing of them. What no score could keep is put right at the end.

use super::doubts::{Link, link};
use super::evidence::Member;
use super::scoring::{Model, Row};
use super::{Contradiction, GroupingOptions};
use crate::index::PrintNo;
use std::collections::{BTreeMap, BTreeSet, HashSet};

/// More than any evidence, and more than any gap costs.
const FIXED: f64 = 1e7;
/// More than any number of fixed links.
const FORBIDDEN: f64 = -1e12;

/// Fixed and forbidden links, by the method's own places of prints.
#[derive(Debug, Default)]
pub(super) struct Wishes {
    after: BTreeMap<Member, Member>,
    before: BTreeMap<Member, Member>,
    forbidden: HashSet<Link>,
}

impl Wishes {
    /// Reads what the user wants.
    ///
    /// # Errors
    /// Where it contradicts itself or names prints that are not there.
    pub fn of(options: &GroupingOptions, members: &[Member]) -> Result<Self, Contradiction> {
        let mut wishes = Self::default();
        let pair = |[one, other]: [PrintNo; 2]| {
            let of = |no: PrintNo| {
                let member = members.get(no as usize).copied();
                member.ok_or(Contradiction::Unknown(no))
            };
            if one == other {
                return Err(Contradiction::Itself(one));
            }
            Ok((of(one)?, of(other)?))
        };
        for forbidden in &options.forbidden {
            let (one, other) = pair(*forbidden)?;
            wishes.forbidden.insert(link(one, other));
        }
        for fixed in &options.fixed {
            let (one, other) = pair(*fixed)?;
            let [from, to] = *fixed;
            if wishes.forbidden.contains(&link(one, other)) {
                return Err(Contradiction::FixedAndForbidden(from, to));
            }
            if wishes.after.insert(one, other).is_some_and(|old| old != other) {
                return Err(Contradiction::TwoAfter(from));
            }
            if wishes.before.insert(other, one).is_some_and(|old| old != one) {
                return Err(Contradiction::TwoBefore(to));
            }
        }
        let circle = |[from, _]: &[PrintNo; 2]| wishes.chain(members[*from as usize]).is_none();
        match options.fixed.iter().find(|fixed| circle(fixed)) {
            Some([from, _]) => Err(Contradiction::Circle(*from)),
            None => Ok(wishes),
        }
    }

    pub fn is_empty(&self) -> bool {
        self.after.is_empty() && self.forbidden.is_empty()
    }

    /// The whole chain of fixed links that a print is in, in walking order; `None` for a circle.
    fn chain(&self, member: Member) -> Option<Vec<Member>> {
        let mut first = member;
        while let Some(before) = self.before.get(&first) {
            first = *before;
            if first == member {
                return None;
            }
        }
        let mut chain = vec![first];
        while let Some(after) = self.after.get(&chain[chain.len() - 1]) {
            chain.push(*after);
        }
        Some(chain)
    }

    /// All chains of fixed links.
    pub fn chains(&self) -> Vec<Vec<Member>> {
        let firsts = self
            .after
            .keys()
            .filter(|member| !self.before.contains_key(member));
        firsts.filter_map(|member| self.chain(*member)).collect()
    }

    pub fn is_fixed(&self, one: Member, other: Member) -> bool {
        self.after.get(&one) == Some(&other) || self.after.get(&other) == Some(&one)
    }

    pub fn is_forbidden(&self, one: Member, other: Member) -> bool {
        self.forbidden.contains(&link(one, other))
    }

    /// What a link is worth by the user's word.
    pub fn of_link(&self, one: Member, other: Member) -> f64 {
        if self.is_forbidden(one, other) {
            FORBIDDEN
        } else if self.is_fixed(one, other) {
            FIXED
        } else {
            0.0
        }
    }

    /// What a row loses that parts fixed links or has some of them the wrong way round.
    pub fn of_row(&self, prints: &[Member]) -> f64 {
        let (mut there, mut along, mut against) = (0, 0, 0);
        for (at, member) in prints.iter().enumerate() {
            there +=
                usize::from(self.after.contains_key(member)) + usize::from(self.before.contains_key(member));
            if let Some(next) = prints.get(at + 1) {
                along += usize::from(self.after.get(member) == Some(next));
                against += usize::from(self.after.get(next) == Some(member));
            }
        }
        // Each link that is whole is counted at both its prints.
        let is_broken = there != 2 * (along + against) || along.min(against) > 0;
        if is_broken { FORBIDDEN } else { 0.0 }
    }

    /// Whether prints in this order go as their fixed links do: `None` where none is among them.
    pub fn goes_on(&self, prints: &[Member]) -> Option<bool> {
        prints.windows(2).find_map(|pair| {
            if self.after.get(&pair[0]) == Some(&pair[1]) {
                Some(true)
            } else if self.after.get(&pair[1]) == Some(&pair[0]) {
                Some(false)
            } else {
                None
            }
        })
    }
}

/// Puts right what no score could keep: chains of fixed links that are not whole become rows of their own, and rows
/// part where a forbidden link is in them.
pub(super) fn enforce(model: &Model, rows: Vec<Row>) -> Vec<Row> {
    let wishes = &model.evidence.wishes;
    if wishes.is_empty() {
        return rows;
    }
    let is_sound = |row: &Row| {
        wishes.of_row(&row.prints) == 0.0
            && row
                .prints
                .windows(2)
                .all(|pair| !wishes.is_forbidden(pair[0], pair[1]))
    };
    let mut rows: Vec<Row> = rows.into_iter().filter(is_sound).collect();
    let held: BTreeSet<Member> = rows.iter().flat_map(|row| row.prints.iter().copied()).collect();
    for chain in wishes.chains() {
        if chain.iter().all(|member| !held.contains(member)) {
            rows.push(model.row(chain));
        }
    }
    rows
}
