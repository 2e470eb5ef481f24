//! What chance lays down where the paths leave it open whether the rock's edge cuts them.

use super::edge::Edge;

/// The fractional part of the golden section: its multiples are spread as evenly as any over the unit interval.
const GOLDEN: f64 = 0.618_033_988_749_895;

/// Chance with an edge, without one, or now this and now that.
///
/// # Formula
/// A mixture: the edge is there in so many parts of the permutations as it is likely, so that the p is the mean of what it would be with the
/// edge and without, each as far as it is believed.
///
/// # References
/// Meng, X.-L. (1994), The Annals of Statistics 22, 1142-1160 (from memory): p under a null that is known but for what is believed of
/// a parameter.
#[derive(Debug, Clone)]
pub(super) struct Supposed<T> {
    cut: Option<T>,
    whole: Option<T>,
    likely: f64,
}

impl<T> Supposed<T> {
    /// `lay` says how paths are laid within an edge, and where there is none.
    pub fn of(edge: Option<Edge>, lay: impl Fn(Option<Edge>) -> T) -> Self {
        let likely = edge.as_ref().map_or(0.0, |edge| edge.likely);
        Self {
            whole: (likely < 1.0).then(|| lay(None)),
            cut: edge.map(|edge| lay(Some(edge))),
            likely,
        }
    }

    /// What is likelier.
    pub fn likelier(&self) -> &T {
        self.one(self.likely >= 0.5)
    }

    /// What is taken for a permutation.
    pub fn in_permutation(&self, permutation: u32) -> &T {
        self.one((f64::from(permutation) * GOLDEN).fract() < self.likely)
    }

    fn one(&self, is_cut: bool) -> &T {
        let one = if is_cut { &self.cut } else { &self.whole };
        one.as_ref()
            .expect("what is taken is likely, and what is likely is made")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::encounter::Path;

    /// Of paths that cross a square from side to side.
    fn edge(likely: f64) -> Option<Edge> {
        let line = |no: i32| (0..=20).map(move |pace| [f64::from(pace), 2.0 * f64::from(no)]);
        let paths: Vec<Path> = (0..=10)
            .map(|no| Path::along("T1".parse().unwrap(), line(no).collect(), 0.3).unwrap())
            .collect();
        let mut edge = Edge::of(&paths.iter().collect::<Vec<_>>(), None)?;
        edge.likely = likely;
        Some(edge)
    }

    fn parts(edge: Option<Edge>) -> (usize, bool) {
        let is_cut = Supposed::of(edge, |edge| edge.is_some());
        let cut = (0..1000).filter(|no| *is_cut.in_permutation(*no)).count();
        (cut, *is_cut.likelier())
    }

    #[test]
    fn an_edge_is_there_as_often_as_it_is_likely() {
        assert_eq!(parts(None), (0, false));
        assert_eq!(parts(edge(1.0)), (1000, true));
        for (likely, is_likelier) in [(0.3, false), (0.8, true)] {
            let (cut, likelier) = parts(edge(likely));
            assert!((cut as f64 - 1000.0 * likely).abs() < 3.0, "{cut} of {likely}");
            assert_eq!(likelier, is_likelier);
        }
    }

    #[test]
    fn few_permutations_are_parted_as_evenly() {
        let is_cut = Supposed::of(edge(0.5), |edge| edge.is_some());
        for first in [0, 17, 400] {
            let cut = (first..first + 20)
                .filter(|no| *is_cut.in_permutation(*no))
                .count();
            assert!((8..=12).contains(&cut), "{cut} of 20 from {first}");
        }
    }
}
