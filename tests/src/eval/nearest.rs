//! Baseline: chains of nearest neighbours.

use spatial::index::{PrintNo, SurfaceIndex};
use spatial::model::Print;

/// Links the nearest two prints that could follow one another, then the next nearest, as long as no print has more than
/// two links and no chain closes. A link is at most eight foot lengths long, and joins prints whose lengths differ by at
/// most a quarter and whose limb and kind, where both are known, are the same.
#[must_use]
pub fn nearest_chains(index: &SurfaceIndex) -> Vec<Vec<PrintNo>> {
    let mut links: Vec<(f64, PrintNo, PrintNo)> = Vec::new();
    for (one, print) in (0..).zip(index.prints()) {
        let at = [print.easting_m, print.northing_m];
        for (other, distance_m) in index.within(at, 8.0 * print.length_m) {
            if other > one && could_be_one(print, index.print(other)) {
                links.push((distance_m, one, other));
            }
        }
    }
    links.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut chains = Chains::of(index.prints().len());
    for (_, one, other) in links {
        chains.link(one, other);
    }
    chains.listed()
}

/// Whether two prints agree in what is known of them.
pub(super) fn could_be_one(one: &Print, other: &Print) -> bool {
    let differs = |a: Option<&str>, b: Option<&str>| a.is_some() && b.is_some() && a != b;
    let limbs = [one, other].map(|print| print.limb.map(spatial::model::Limb::name));
    (one.length_m / other.length_m).ln().abs() < 0.25
        && !differs(limbs[0], limbs[1])
        && !differs(one.morphotype.as_deref(), other.morphotype.as_deref())
}

/// Chains of prints while they are linked.
pub(super) struct Chains {
    links: Vec<Vec<PrintNo>>,
    /// A parent nearer to the chain's root, for each print.
    parents: Vec<usize>,
}

impl Chains {
    pub fn of(prints: usize) -> Self {
        Self {
            links: vec![Vec::new(); prints],
            parents: (0..prints).collect(),
        }
    }

    /// Links two prints if each has an end free and they are not of one chain yet.
    pub fn link(&mut self, one: PrintNo, other: PrintNo) {
        let (a, b) = (one as usize, other as usize);
        let (root, other_root) = (self.root(a), self.root(b));
        if self.links[a].len() < 2 && self.links[b].len() < 2 && root != other_root {
            self.links[a].push(other);
            self.links[b].push(one);
            self.parents[root] = other_root;
        }
    }

    fn root(&mut self, mut print: usize) -> usize {
        while self.parents[print] != print {
            self.parents[print] = self.parents[self.parents[print]];
            print = self.parents[print];
        }
        print
    }

    /// The chains of three or more prints, each from one end to the other.
    pub fn listed(&self) -> Vec<Vec<PrintNo>> {
        let mut seen = vec![false; self.links.len()];
        let mut chains = Vec::new();
        for start in 0..self.links.len() {
            if self.links[start].len() == 1 && !seen[start] {
                let chain = self.walked_from(start as PrintNo);
                for no in &chain {
                    seen[*no as usize] = true;
                }
                if chain.len() >= 3 {
                    chains.push(chain);
                }
            }
        }
        chains
    }

    fn walked_from(&self, start: PrintNo) -> Vec<PrintNo> {
        let mut chain = vec![start];
        let mut before = None;
        let mut at = start;
        while let Some(next) = self.links[at as usize]
            .iter()
            .copied()
            .find(|next| Some(*next) != before)
        {
            chain.push(next);
            before = Some(at);
            at = next;
        }
        chain
    }
}
