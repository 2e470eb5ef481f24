//! The best set of links, each end in one link at most; and how probable each link is with all others weighed.

use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};

/// A column at a distance, the nearest first.
#[derive(Debug, PartialEq)]
struct Reached {
    distance: f64,
    column: usize,
}

impl Eq for Reached {}

impl Ord for Reached {
    fn cmp(&self, other: &Self) -> Ordering {
        (other.distance.total_cmp(&self.distance)).then(other.column.cmp(&self.column))
    }
}

impl PartialOrd for Reached {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// The assignment of rows to columns with the largest sum of weights; a row without one gains nothing.
///
/// # References
/// Shortest augmenting paths with column prices, on lists of options: Jonker & Volgenant (1987), A shortest augmenting path
/// algorithm for dense and sparse linear assignment problems, Computing 38 (from memory).
pub(super) fn assign(columns: usize, options: &[Vec<(usize, f64)>]) -> Vec<Option<usize>> {
    let rows = options.len();
    // Each row has a column of its own, of weight nothing, for staying alone.
    let all = columns + rows;
    let (mut prices, mut row_of) = (vec![0.0; all], vec![None; all]);
    let (mut column_of, mut distances) = (vec![None; rows], vec![f64::INFINITY; all]);
    let mut came_from = vec![0; all];
    let cost = |row: usize, column: usize| -> f64 {
        let listed = options[row].iter().find(|(option, _)| *option == column);
        listed.map_or(0.0, |(_, weight)| -weight)
    };
    for start in 0..rows {
        let (mut heap, mut touched, mut scanned) = (BinaryHeap::new(), Vec::new(), BTreeSet::new());
        let (mut row, mut level) = (start, 0.0);
        let end = loop {
            let base = match column_of[row] {
                Some(column) => cost(row, column) - prices[column] - level,
                None => 0.0,
            };
            let own = std::iter::once((columns + row, 0.0));
            for (column, weight) in options[row].iter().copied().chain(own) {
                let distance = -weight - prices[column] - base;
                if !scanned.contains(&column) && distance < distances[column] {
                    distances[column] = distance;
                    came_from[column] = row;
                    touched.push(column);
                    heap.push(Reached { distance, column });
                }
            }
            // What was reached again on a shorter way since it was put on the heap is passed over.
            let is_current = |reached: &Reached| {
                !scanned.contains(&reached.column) && reached.distance <= distances[reached.column]
            };
            let Some(next) = std::iter::from_fn(|| heap.pop()).find(is_current) else {
                break None;
            };
            level = next.distance;
            match row_of[next.column] {
                None => break Some(next.column),
                Some(owner) => {
                    scanned.insert(next.column);
                    row = owner;
                }
            }
        };
        for column in &scanned {
            prices[*column] += distances[*column] - level;
        }
        for column in touched {
            distances[column] = f64::INFINITY;
        }
        let mut free = end;
        while let Some(column) = free {
            let row = came_from[column];
            row_of[column] = Some(row);
            free = column_of[row].replace(column).filter(|_| row != start);
        }
    }
    (column_of.into_iter())
        .map(|column| column.filter(|column| *column < columns))
        .collect()
}

/// A possible link between two ends, with ln of its odds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    pub ends: [usize; 2],
    pub log_odds: f64,
}

/// Which edges are in the best set in which no end is in two, by the assignment of all ends to all ends.
///
/// Where first ends meet last ends only, which is the rule, this is the best set. Where trackways whose direction is in
/// doubt make circles of an odd number of ends, the assignment goes round them, and the better links of a circle are kept.
pub(super) fn best_set(ends: usize, edges: &[Edge]) -> Vec<bool> {
    let mut options: Vec<Vec<(usize, f64)>> = vec![Vec::new(); ends];
    for edge in edges.iter().filter(|edge| edge.log_odds > 0.0) {
        let [one, other] = edge.ends;
        options[one].push((other, edge.log_odds));
        options[other].push((one, edge.log_odds));
    }
    let mate = assign(ends, &options);
    let mut order: Vec<usize> = (0..edges.len()).collect();
    let wanted = |edge: &Edge| {
        let [one, other] = edge.ends;
        usize::from(mate[one] == Some(other)) + usize::from(mate[other] == Some(one))
    };
    order.sort_by(|a, b| {
        let (a, b) = (&edges[*a], &edges[*b]);
        (wanted(b).cmp(&wanted(a))).then(b.log_odds.total_cmp(&a.log_odds))
    });
    let (mut taken, mut chosen) = (vec![false; ends], vec![false; edges.len()]);
    for number in order {
        let [one, other] = edges[number].ends;
        if wanted(&edges[number]) > 0 && !taken[one] && !taken[other] {
            (taken[one], taken[other], chosen[number]) = (true, true, true);
        }
    }
    chosen
}

/// How often messages are passed, and which part of each is renewed.
const ROUNDS: usize = 80;
const RENEWED: f64 = 0.7;

/// The probability of each edge if every set in which no end is in two weighs the product of its edges' odds.
///
/// # Formula
/// Messages m(i→j) = 1 / (1 + Σ over k ≠ j of w(ik) m(k→i)); P(ij) = w m(i→j) m(j→i) / (1 + w m(i→j) m(j→i)). Exact
/// where the edges make no circles, close where they do; an end's probabilities never sum to more than 1.
///
/// # References
/// Belief propagation on matchings: Bayati, Shah & Sharma (2008), IEEE Transactions on Information Theory 54 (from memory).
pub(super) fn probabilities(ends: usize, edges: &[Edge]) -> Vec<f64> {
    let weights: Vec<f64> = edges
        .iter()
        .map(|edge| edge.log_odds.clamp(-40.0, 40.0).exp())
        .collect();
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); ends];
    for (number, edge) in edges.iter().enumerate() {
        edge.ends.iter().for_each(|end| at[*end].push(number));
    }
    // The message of each edge's first end to its second, and back.
    let mut messages = vec![[0.5; 2]; edges.len()];
    for _ in 0..ROUNDS {
        let sums: Vec<f64> = (0..ends)
            .map(|end| {
                at[end]
                    .iter()
                    .map(|number| weights[*number] * messages[*number][from_other(&edges[*number], end)])
                    .sum()
            })
            .collect();
        let before = messages.clone();
        for (number, edge) in edges.iter().enumerate() {
            for (way, end) in edge.ends.iter().enumerate() {
                let others = (sums[*end] - weights[number] * before[number][1 - way]).max(0.0);
                let renewed = 1.0 / (1.0 + others);
                messages[number][way] += RENEWED * (renewed - messages[number][way]);
            }
        }
    }
    (weights.iter().zip(&messages))
        .map(|(weight, [one, other])| {
            let both = weight * one * other;
            both / (1.0 + both)
        })
        .collect()
}

/// Which of an edge's messages comes to this end.
fn from_other(edge: &Edge, end: usize) -> usize {
    if edge.ends[0] == end { 1 } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// Sum over all sets in which no end is in two, and the best of them, by trying them all.
    fn all_sets(edges: &[Edge], from: usize, taken: &mut Vec<bool>) -> (f64, f64) {
        let Some(edge) = edges.get(from) else {
            return (1.0, 0.0);
        };
        let (mut sum, mut best) = all_sets(edges, from + 1, taken);
        let [one, other] = edge.ends;
        if !taken[one] && !taken[other] {
            (taken[one], taken[other]) = (true, true);
            let (with, most) = all_sets(edges, from + 1, taken);
            (taken[one], taken[other]) = (false, false);
            sum += edge.log_odds.exp() * with;
            best = f64::max(best, most + edge.log_odds);
        }
        (sum, best)
    }

    fn drawn(rng: &mut ChaCha8Rng, ends: usize, part: f64) -> Vec<Edge> {
        let mut edges = Vec::new();
        for one in 0..ends {
            for other in one + 1..ends {
                // First ends are even, last ends are odd.
                if (one + other) % 2 == 1 && rng.random_bool(part) {
                    let log_odds = rng.random_range(-3.0..6.0);
                    edges.push(Edge {
                        ends: [one, other],
                        log_odds,
                    });
                }
            }
        }
        edges
    }

    #[test]
    fn the_best_set_is_the_best_of_all() {
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        for _ in 0..200 {
            let edges = drawn(&mut rng, 8, 0.6);
            let chosen = best_set(8, &edges);
            let sum: f64 = edges
                .iter()
                .zip(&chosen)
                .filter(|(_, chosen)| **chosen)
                .map(|(edge, _)| edge.log_odds)
                .sum();
            let (_, best) = all_sets(&edges, 0, &mut vec![false; 8]);
            assert!((sum - best).abs() < 1e-9, "{sum} against {best}: {edges:?}");
        }
    }

    #[test]
    fn probabilities_are_exact_on_a_chain_and_near_on_circles() {
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        for _ in 0..50 {
            let chain: Vec<Edge> = (0..6)
                .map(|end| Edge {
                    ends: [end, end + 1],
                    log_odds: rng.random_range(-3.0..5.0),
                })
                .collect();
            compare(7, &chain, 1e-6);
            compare(7, &drawn(&mut rng, 7, 0.4), 0.2);
        }
    }

    fn compare(ends: usize, edges: &[Edge], most: f64) {
        let (whole, _) = all_sets(edges, 0, &mut vec![false; ends]);
        for (number, (edge, given)) in edges.iter().zip(probabilities(ends, edges)).enumerate() {
            let mut taken = vec![false; ends];
            edge.ends.iter().for_each(|end| taken[*end] = true);
            let others: Vec<Edge> = (edges.iter().enumerate())
                .filter(|(at, _)| *at != number)
                .map(|(_, edge)| *edge)
                .collect();
            let with = edge.log_odds.exp() * all_sets(&others, 0, &mut taken).0;
            assert!(
                (given - with / whole).abs() < most,
                "{given} against {}",
                with / whole
            );
        }
    }

    #[test]
    fn no_ends_and_no_edges() {
        assert!(best_set(0, &[]).is_empty() && probabilities(3, &[]).is_empty());
        assert_eq!(assign(2, &[vec![], vec![(1, 2.0)]]), [None, Some(1)]);
        assert_eq!(assign(1, &[vec![(0, 2.0)], vec![(0, 3.0)]]), [None, Some(0)]);
    }
}
