//! The largest set of trackways that are all apart, and a colouring.

use serde::Serialize;

/// How many comparisons the search makes, about, before it stops: a fraction of a second.
const MOST_WORK: usize = 200_000_000;

/// How a search for the largest set ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SearchEnd {
    /// There is no larger set.
    Exact,
    /// The largest set found until the search was stopped; still that many animals at least.
    Stopped,
}

/// Which trackways are apart from which.
#[derive(Debug, Clone)]
pub(super) struct Graph {
    count: usize,
    joined: Vec<bool>,
}

impl Graph {
    pub fn new(count: usize) -> Self {
        Self {
            count,
            joined: vec![false; count * count],
        }
    }

    pub fn join(&mut self, a: usize, b: usize) {
        self.joined[a * self.count + b] = true;
        self.joined[b * self.count + a] = true;
    }

    fn are_joined(&self, a: usize, b: usize) -> bool {
        self.joined[a * self.count + b]
    }

    /// The graph of some of the trackways only, numbered anew in the order given.
    pub fn among(&self, members: &[usize]) -> Self {
        let mut part = Self::new(members.len());
        for (b, &member_b) in members.iter().enumerate() {
            for (a, &member_a) in members[..b].iter().enumerate() {
                if self.are_joined(member_a, member_b) {
                    part.join(a, b);
                }
            }
        }
        part
    }

    /// The largest clique, ascending.
    ///
    /// Groups of trackways that are apart from everything outside the group are solved one by one: their
    /// cliques add up.
    pub fn largest_clique(&self) -> (Vec<usize>, SearchEnd) {
        let mut search = Search {
            graph: self,
            best: Vec::new(),
            work: 0,
        };
        let mut clique = Vec::new();
        for group in self.groups() {
            search.best.clear();
            search.expand(&mut Vec::new(), self.by_degree(group));
            clique.append(&mut search.best);
        }
        clique.sort_unstable();
        let end = if search.work < MOST_WORK {
            SearchEnd::Exact
        } else {
            SearchEnd::Stopped
        };
        (clique, end)
    }

    /// How many colours a greedy colouring takes, the most joined first.
    pub fn colours(&self) -> usize {
        self.coloured(&self.by_degree((0..self.count).collect())).len()
    }

    /// Classes of members none of which are joined.
    fn coloured(&self, members: &[usize]) -> Vec<Vec<usize>> {
        let mut classes: Vec<Vec<usize>> = Vec::new();
        for &member in members {
            let free = classes
                .iter_mut()
                .find(|class| class.iter().all(|&other| !self.are_joined(member, other)));
            match free {
                Some(class) => class.push(member),
                None => classes.push(vec![member]),
            }
        }
        classes
    }

    fn by_degree(&self, mut members: Vec<usize>) -> Vec<usize> {
        let degree = |no: usize| {
            (0..self.count)
                .filter(|&other| self.are_joined(no, other))
                .count()
        };
        members.sort_by_cached_key(|&no| (std::cmp::Reverse(degree(no)), no));
        members
    }

    /// The connected parts of the complement: members of two parts are always joined.
    fn groups(&self) -> Vec<Vec<usize>> {
        let mut waiting: Vec<usize> = (0..self.count).collect();
        let mut groups = Vec::new();
        while let Some(first) = waiting.pop() {
            let mut group = vec![first];
            let mut looked_at = 0;
            while looked_at < group.len() {
                let from = group[looked_at];
                looked_at += 1;
                group.extend(waiting.extract_if(.., |other| !self.are_joined(from, *other)));
            }
            groups.push(group);
        }
        groups
    }
}

/// Branch and bound: a set cannot grow by more than the colours of its candidates.
///
/// # References
/// Tomita, E. & Seki, T. (2003), An efficient branch-and-bound algorithm for finding a maximum clique (from
/// memory).
struct Search<'a> {
    graph: &'a Graph,
    best: Vec<usize>,
    work: usize,
}

impl Search<'_> {
    fn expand(&mut self, chosen: &mut Vec<usize>, candidates: Vec<usize>) {
        if chosen.len() > self.best.len() {
            self.best.clone_from(chosen);
        }
        self.work += candidates.len() * candidates.len();
        let bounded: Vec<(usize, usize)> = (self.graph.coloured(&candidates).into_iter().zip(1..))
            .flat_map(|(class, colour)| class.into_iter().map(move |no| (no, colour)))
            .collect();
        for (place, &(no, colour)) in bounded.iter().enumerate().rev() {
            // The first descent always ends, so that a set is found even where the search is stopped.
            let stopped = self.work >= MOST_WORK && !self.best.is_empty();
            if chosen.len() + colour <= self.best.len() || stopped {
                return;
            }
            chosen.push(no);
            let rest = bounded[..place].iter().map(|(other, _)| *other);
            self.expand(
                chosen,
                rest.filter(|&other| self.graph.are_joined(no, other)).collect(),
            );
            chosen.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn graph(count: usize, pairs: &[(usize, usize)]) -> Graph {
        let mut graph = Graph::new(count);
        pairs.iter().for_each(|&(a, b)| graph.join(a, b));
        graph
    }

    #[test]
    fn small_graphs_by_hand() {
        assert_eq!(graph(0, &[]).largest_clique(), (vec![], SearchEnd::Exact));
        assert_eq!(graph(0, &[]).colours(), 0);
        assert_eq!(graph(3, &[]).largest_clique().0.len(), 1);
        assert_eq!(
            graph(4, &[(0, 1), (1, 2), (0, 2), (2, 3)]).largest_clique().0,
            [0, 1, 2]
        );
        // A ring of five: no three are all joined, yet two colours are not enough.
        let ring = graph(5, &[(0, 1), (1, 2), (2, 3), (3, 4), (4, 0)]);
        assert_eq!((ring.largest_clique().0.len(), ring.colours()), (2, 3));
    }

    #[test]
    fn a_search_too_long_still_finds_a_set() {
        // Joined by a rule without structure: every second pair or so of 400.
        let mut dense = Graph::new(400);
        for b in 1..400usize {
            for a in 0..b {
                if (a * 7919 + b * 104_729) % 97 < 80 {
                    dense.join(a, b);
                }
            }
        }
        let (clique, _) = dense.largest_clique();
        assert!(clique.len() > 3 && clique.len() <= dense.colours());
        for (number, &b) in clique.iter().enumerate() {
            assert!(clique[..number].iter().all(|&a| dense.are_joined(a, b)));
        }
    }

    proptest! {
        #[test]
        fn as_by_trying_every_set(joined in prop::collection::vec(any::<bool>(), 66), count in 1..12usize) {
            let mut graph = Graph::new(count);
            let mut wanted = joined.iter();
            for b in 1..count {
                for a in 0..b {
                    if *wanted.next().unwrap() { graph.join(a, b); }
                }
            }
            let is_clique = |set: u32| {
                let members: Vec<usize> = (0..count).filter(|no| set >> no & 1 == 1).collect();
                members.iter().all(|&a| members.iter().all(|&b| a == b || graph.are_joined(a, b)))
            };
            let largest = (0u32..1 << count).filter(|&set| is_clique(set)).map(u32::count_ones).max().unwrap();
            let (clique, end) = graph.largest_clique();
            prop_assert_eq!(clique.len(), largest as usize);
            prop_assert_eq!(end, SearchEnd::Exact);
            prop_assert!(graph.colours() >= clique.len());
        }
    }
}
