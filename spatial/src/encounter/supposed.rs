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
        let (one, other) = if is_cut {
            (&self.cut, &self.whole)
        } else {
            (&self.whole, &self.cut)
        };
        one.as_ref().or(other.as_ref()).expect("one of both is made")
    }
}
