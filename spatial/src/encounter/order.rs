//! Which trackway came first, by prints that cut into others.

use super::evidence::Overlying;
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::Label;
use petgraph::algo::tarjan_scc;
use petgraph::graph::{DiGraph, NodeIndex};
use std::collections::{BTreeMap, HashMap};

/// Said wherever trackways are put in order.
pub const ORDER_CAUTION: &str = "A print that cuts into another was made later, if what was recorded as overprinting is \
    that. How much later nobody can tell from it: minutes, or seasons if the ground stayed soft. Trackways that no overprint joins \
    have no order among them.";

/// All overprints between standing trackways.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Overprints {
    /// By upper and lower trackway: each upper print with the lower one that it cuts into.
    of_pair: BTreeMap<(Label, Label), Vec<[PrintNo; 2]>>,
}

/// What overprinting tells of two trackways.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum First {
    /// The one came first.
    One,
    /// The other came first.
    Other,
    /// Each treads on the other: both were there at about one time, or an overprint was read the wrong way round.
    Both,
    /// No print of one cuts into a print of the other.
    Unknown,
}

impl Overprints {
    /// Reads them from the prints' `overlies`.
    #[must_use]
    pub fn of(index: &SurfaceIndex) -> Self {
        let standing = index.standing_trackways();
        let owner: HashMap<&Label, &Label> = (standing.iter())
            .flat_map(|trackway| trackway.prints.iter().map(|print| (print, &trackway.label)))
            .collect();
        let mut of_pair: BTreeMap<(Label, Label), Vec<[PrintNo; 2]>> = BTreeMap::new();
        for trackway in &standing {
            for upper in index.prints_of(trackway) {
                let Some(remarks) = &index.print(upper).remarks else {
                    continue;
                };
                for lower in &remarks.overlies {
                    let below = owner.get(lower).filter(|below| ***below != trackway.label);
                    if let (Some(below), Some(lower)) = (below, index.find(lower)) {
                        let pair = (trackway.label.clone(), (*below).clone());
                        of_pair.entry(pair).or_default().push([upper, lower]);
                    }
                }
            }
        }
        Self { of_pair }
    }

    /// The prints of one trackway that cut into prints of another, each with the print below it.
    #[must_use]
    pub fn by(&self, upper: &Label, lower: &Label) -> &[[PrintNo; 2]] {
        let found = self.of_pair.get(&(upper.clone(), lower.clone()));
        found.map_or(&[], Vec::as_slice)
    }

    /// How many there are of each two trackways.
    #[must_use]
    pub fn overlying(&self) -> Vec<Overlying> {
        let each = self.of_pair.iter().map(|((upper, lower), prints)| Overlying {
            upper: upper.clone(),
            lower: lower.clone(),
            prints: prints.len() as u32,
        });
        each.collect()
    }

    /// What they tell of two trackways.
    #[must_use]
    pub fn first(&self, one: &Label, other: &Label) -> First {
        match (self.by(one, other).is_empty(), self.by(other, one).is_empty()) {
            (true, true) => First::Unknown,
            (false, true) => First::Other,
            (true, false) => First::One,
            (false, false) => First::Both,
        }
    }
}

/// The order in which the trackways of a surface were made, as far as overprints tell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Order {
    /// Each two trackways that an overprint joins, by label.
    pub relations: Vec<Relation>,
    /// Sets of trackways of which each would have been made before itself. At least one overprint among them was read the
    /// wrong way round, or the animals were there at about one time.
    pub contradictions: Vec<Vec<Label>>,
    /// Each trackway that an overprint joins to another, with how many others at least were made one after the other
    /// before it. Of two trackways that no chain of overprints joins, these numbers tell nothing.
    pub levels: Vec<(Label, usize)>,
}

/// Two trackways that an overprint joins.
#[derive(Debug, Clone, PartialEq)]
pub struct Relation {
    /// The one made first, by most of their overprints.
    pub earlier: Label,
    /// The one made later.
    pub later: Label,
    /// Overprints that say so.
    pub overprints: usize,
    /// Overprints that say the opposite.
    pub against: usize,
    /// Whether the two are in one contradiction.
    pub contradicted: bool,
}

impl Order {
    /// The partial order of all trackways that overprints join.
    ///
    /// # References
    /// Tarjan, R. (1972), Depth-first search and linear graph algorithms, SIAM Journal on Computing 1 (strongly connected
    /// components: the contradictions).
    #[must_use]
    pub fn of(overprints: &Overprints) -> Self {
        let mut nodes: BTreeMap<&Label, NodeIndex> = BTreeMap::new();
        let mut graph: DiGraph<&Label, ()> = DiGraph::new();
        for label in overprints
            .of_pair
            .keys()
            .flat_map(|(upper, lower)| [upper, lower])
        {
            nodes.entry(label).or_insert_with(|| graph.add_node(label));
        }
        for (upper, lower) in overprints.of_pair.keys() {
            graph.add_edge(nodes[lower], nodes[upper], ());
        }
        // In the order in which they come, what is later stands before what is earlier.
        let mut components = tarjan_scc(&graph);
        components.reverse();
        let mut component_of = vec![0; graph.node_count()];
        for (place, component) in components.iter().enumerate() {
            component
                .iter()
                .for_each(|node| component_of[node.index()] = place);
        }
        let mut before = vec![0usize; components.len()];
        for (place, component) in components.iter().enumerate() {
            let own = before[place] + component.len() - 1;
            let later = component.iter().flat_map(|node| graph.neighbors(*node));
            let later: Vec<usize> = later.map(|node| component_of[node.index()]).collect();
            for next in later.into_iter().filter(|next| *next != place) {
                before[next] = before[next].max(own + 1);
            }
        }
        let mut contradictions: Vec<Vec<Label>> = (components.iter())
            .filter(|component| component.len() > 1)
            .map(|component| {
                let mut labels: Vec<Label> = component.iter().map(|node| graph[*node].clone()).collect();
                labels.sort();
                labels
            })
            .collect();
        contradictions.sort();
        let together = |one: &Label, other: &Label| {
            component_of[nodes[one].index()] == component_of[nodes[other].index()]
        };
        Self {
            relations: relations(overprints, together),
            contradictions,
            levels: (nodes.iter())
                .map(|(label, node)| ((*label).clone(), before[component_of[node.index()]]))
                .collect(),
        }
    }
}

fn relations(overprints: &Overprints, together: impl Fn(&Label, &Label) -> bool) -> Vec<Relation> {
    let mut relations = Vec::new();
    for ((upper, lower), prints) in &overprints.of_pair {
        let against = overprints.by(lower, upper).len();
        // Each two are told once: by the direction that most overprints say, or by label where they are even.
        if against > prints.len() || against == prints.len() && lower < upper {
            continue;
        }
        relations.push(Relation {
            earlier: lower.clone(),
            later: upper.clone(),
            overprints: prints.len(),
            against,
            contradicted: together(lower, upper),
        });
    }
    relations.sort_by(|a, b| (&a.earlier, &a.later).cmp(&(&b.earlier, &b.later)));
    relations
}

#[cfg(test)]
mod tests {
    use super::*;

    fn overprints(pairs: &[(&str, &str, usize)]) -> Overprints {
        let label = |text: &str| text.parse::<Label>().unwrap();
        Overprints {
            of_pair: (pairs.iter())
                .map(|(upper, lower, count)| ((label(upper), label(lower)), vec![[0, 1]; *count]))
                .collect(),
        }
    }

    #[test]
    fn a_chain_is_put_in_order() {
        let order = Order::of(&overprints(&[("T3", "T2", 1), ("T2", "T1", 2), ("T3", "T1", 1)]));
        assert!(order.contradictions.is_empty());
        let levels: Vec<(&str, usize)> = (order.levels.iter())
            .map(|(label, level)| (label.as_str(), *level))
            .collect();
        assert_eq!(levels, [("T1", 0), ("T2", 1), ("T3", 2)]);
        assert_eq!(order.relations.len(), 3);
        assert!(order.relations.iter().all(|relation| !relation.contradicted));
    }

    #[test]
    fn a_circle_is_named_and_what_follows_it_is_still_in_order() {
        let order = Order::of(&overprints(&[
            ("T2", "T1", 1),
            ("T3", "T2", 1),
            ("T1", "T3", 1),
            ("T4", "T3", 1),
        ]));
        let named: Vec<&str> = order.contradictions[0].iter().map(Label::as_str).collect();
        assert_eq!((order.contradictions.len(), named), (1, vec!["T1", "T2", "T3"]));
        let of = |label: &str| {
            order
                .levels
                .iter()
                .find(|(one, _)| one.as_str() == label)
                .unwrap()
                .1
        };
        assert_eq!(of("T4"), 3, "at least three were made before it");
        let last = order
            .relations
            .iter()
            .find(|relation| relation.later.as_str() == "T4")
            .unwrap();
        assert!(!last.contradicted);
    }

    #[test]
    fn two_that_tread_on_each_other_were_there_together_or_misread() {
        let overprints = overprints(&[("T2", "T1", 3), ("T1", "T2", 1)]);
        let [one, other] = ["T1", "T2"].map(|text| text.parse::<Label>().unwrap());
        assert_eq!(overprints.first(&one, &other), First::Both);
        let order = Order::of(&overprints);
        assert_eq!(order.relations.len(), 1);
        let relation = &order.relations[0];
        assert_eq!(
            (relation.later.as_str(), relation.overprints, relation.against),
            ("T2", 3, 1)
        );
        assert!(relation.contradicted && order.contradictions.len() == 1);
    }

    #[test]
    fn nothing_trodden_is_no_order() {
        assert_eq!(Order::of(&Overprints::default()), Order::default());
    }
}
