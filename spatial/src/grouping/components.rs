//! What is sampled together: rows that could exchange prints, and large fields of them cut into blocks.

use super::doubts::{Doubts, Link, link};
use super::evidence::Member;
use super::rows::Rows;
use super::scoring::Row;
use std::collections::{BTreeMap, BTreeSet};

/// A component with more links than this is walked in blocks. On a wide surface most rows hang together by way of
/// others, and such a walk would jump about in all that is kept of it, on one core.
const BLOCK: usize = 2_000;

/// Rows that have doubts about each other, and the links that can be tried between their prints.
#[derive(Debug)]
pub(super) struct Component {
    pub rows: Vec<Vec<Member>>,
    pub tried: Vec<Link>,
    pub possible: BTreeSet<Link>,
}

/// Rows that could exchange prints, together with the free prints between them.
pub(super) fn components(rows: &[Row], placed: &Rows, doubts: &[Doubts]) -> Vec<Component> {
    let mut groups = Groups::of(placed.of.len());
    for row in rows {
        for pair in row.prints.windows(2) {
            groups.join(pair[0], pair[1]);
        }
    }
    let mut tried: BTreeSet<Link> = doubts
        .iter()
        .flat_map(|doubts| doubts.tried.iter().copied())
        .collect();
    let touched: BTreeSet<Member> = tried.iter().flat_map(|(one, other)| [*one, *other]).collect();
    for pair in rows.iter().flat_map(|row| row.prints.windows(2)) {
        if touched.contains(&pair[0]) || touched.contains(&pair[1]) {
            tried.insert(link(pair[0], pair[1]));
        }
    }
    tried.iter().for_each(|(one, other)| groups.join(*one, *other));
    let mut components: BTreeMap<Member, Component> = BTreeMap::new();
    let empty = || Component {
        rows: Vec::new(),
        tried: Vec::new(),
        possible: BTreeSet::new(),
    };
    for pair in tried {
        let component = components.entry(groups.root(pair.0)).or_insert_with(empty);
        component.tried.push(pair);
        component.possible.insert(pair);
    }
    for row in rows {
        if let Some(component) = components.get_mut(&groups.root(row.prints[0])) {
            component
                .possible
                .extend(row.prints.windows(2).map(|pair| link(pair[0], pair[1])));
            component.rows.push(row.prints.clone());
        }
    }
    let blocks = components
        .into_values()
        .flat_map(|component| component.blocks(placed));
    blocks.collect()
}

impl Component {
    /// Its links in blocks of neighbours, each with the rows that they touch; all else stands still while a block is
    /// walked. Since every walk begins anew after a few looks, what is changed in one block seldom reaches another.
    fn blocks(self, placed: &Rows) -> Vec<Self> {
        if self.tried.len() <= BLOCK {
            return vec![self];
        }
        // Members that follow each other are mostly neighbours, and so are links in the order of members.
        let count = self.tried.len().div_ceil(BLOCK);
        let links = self.tried.chunks(self.tried.len().div_ceil(count));
        links.map(|links| self.block(links, placed)).collect()
    }

    fn block(&self, tried: &[Link], placed: &Rows) -> Self {
        let ends = tried.iter().flat_map(|(one, other)| [*one, *other]);
        let touched: BTreeSet<usize> = ends
            .clone()
            .filter_map(|member| placed.of[member as usize])
            .collect();
        let rows: Vec<Vec<Member>> = touched
            .into_iter()
            .map(|row| placed.prints(row).to_vec())
            .collect();
        let members: BTreeSet<Member> = ends.chain(rows.iter().flatten().copied()).collect();
        let possible = (members.iter())
            .flat_map(|one| self.possible.range((*one, 0)..=(*one, Member::MAX)))
            .filter(|(_, other)| members.contains(other));
        Self {
            possible: possible.copied().collect(),
            tried: tried.to_vec(),
            rows,
        }
    }
}

/// Prints that belong together by way of links.
struct Groups {
    parents: Vec<Member>,
}

impl Groups {
    fn of(members: usize) -> Self {
        Self {
            parents: (0..members as Member).collect(),
        }
    }

    fn root(&mut self, mut member: Member) -> Member {
        while self.parents[member as usize] != member {
            self.parents[member as usize] = self.parents[self.parents[member as usize] as usize];
            member = self.parents[member as usize];
        }
        member
    }

    /// The smaller root stays, so that the result does not depend on the order of joins.
    fn join(&mut self, one: Member, other: Member) {
        let (a, b) = (self.root(one), self.root(other));
        self.parents[a.max(b) as usize] = a.min(b);
    }
}
