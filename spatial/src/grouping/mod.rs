//! Prints into probable trackways.
//!
//! A pace alone says little, but the stride repeats: of four prints in walking order, the fourth lies near
//! the second plus the stride from the first to the third. On a surface with few prints a square metre such
//! a repeat has long odds against chance, whatever is known of the feet. So this method is second-order:
//! it follows midline, step and gauge of each row of prints as it goes along, and scores each
//! further print against the chance that it lies there for no reason.
//!
//! | module | what it does |
//! | --- | --- |
//! | `evidence` | the prints as the method reads them, and how common each measure is on the surface |
//! | `ground` | where a missing print could be hidden |
//! | `gait`, `seen` | what is held of gaits beforehand, and learnt from the trackways found |
//! | `motion` | where the next print of a row should lie |
//! | `kin` | what a row's prints have in common: size, shape, limb, kind, sides, azimuths |
//! | `scoring`, `three`, `gaps` | the log-likelihood ratio of a row of prints against chance |
//! | `candidates` | which prints could follow one another, from the R-tree |
//! | `growing` | tracklets, from certain triples outwards |
//! | `solving`, `improving` | the choice among all tracklets, and its improvement |
//! | `untangling` | two rows that have mixed their prints, told apart anew |
//! | `sets`, `line`, `singles` | manus prints joined to the pes row that they run along with |
//! | `direction` | which way it was walked |
//! | `doubts`, `sampling`, `probabilities` | how sure each link is |
//! | `answer` | the result in the words of the interface |
//!
//! The steps: triples of prints are scored about each print; rows grow from the best; the best disjoint rows are
//! chosen over all; then tails are swapped, rows merged and split, prints put in, taken out and exchanged, as long as
//! the score rises. Gaits are learnt from what was found, and all is done once more. Manus rows join their pes rows.
//! Links that could be otherwise are sampled.
//!
//! No linear assignment of successors starts it: without azimuths each pair is as good in either direction, so that
//! the best assignment falls into pairs that follow each other; and single pairs say too little.
//!
//! A row is the prints of one limb kind of one animal. A trackway is one row, or a pes row with its manus row.

mod answer;
mod candidates;
mod direction;
mod doubts;
mod evidence;
mod gait;
mod gaps;
mod ground;
mod growing;
mod improving;
mod kin;
mod line;
mod motion;
mod probabilities;
mod sampling;
mod scoring;
mod seen;
mod sets;
mod singles;
mod solving;
mod three;
mod untangling;

use crate::index::{PrintNo, SurfaceIndex};

/// What the caller may choose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupingOptions {
    /// Seed of the sampling from which link probabilities come.
    pub seed: u64,
    /// How many times gaits are learnt from the trackways found and the prints grouped again.
    pub rounds: usize,
    /// How many changes the sampling tries for each doubtful link; 0 leaves the sampling out, and each probability is then the scores' own.
    pub samples: usize,
}

impl Default for GroupingOptions {
    fn default() -> Self {
        Self {
            seed: 1,
            rounds: 2,
            samples: 100,
        }
    }
}

/// The prints of one surface, grouped. Every print is in one trackway or in `ungrouped`, and nowhere twice.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Grouping {
    /// The probable trackways, the longest first.
    pub trackways: Vec<GroupedTrackway>,
    /// The prints of no trackway, by number.
    pub ungrouped: Vec<PrintNo>,
}

/// A probable trackway: at least three prints of one limb kind, since two prints only show a pace, and
/// a pace between any two prints proves nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupedTrackway {
    /// All prints in walking order, manus prints included; a manus stands just before or after the pes of its set.
    pub prints: Vec<PrintNo>,
    /// The probability of each successive pair in `prints`.
    pub link_probabilities: Vec<f64>,
    /// The probability that these prints are one animal's, in one row as given.
    pub probability: f64,
    /// The probability that it was walked in this direction rather than the reverse, 0.5 to 1.
    pub direction_probability: f64,
    /// The pes prints alone, in walking order (or those of the one row that there is).
    pub midline: Vec<PrintNo>,
    /// How many prints are missing between successive prints of `midline`.
    pub missing: Vec<u8>,
}

/// Groups the prints of a surface into probable trackways.
///
/// The same surface and options give the same answer on any number of cores. The order of labels does not matter,
/// nor does the way that the surface is turned.
///
/// # References
/// Second-order scores: this program's own. Sampling of links: Oh, Russell & Sastry (2009), Markov chain Monte
/// Carlo data association, IEEE Transactions on Automatic Control 54(3) (cited from memory).
#[must_use]
pub fn group(index: &SurfaceIndex, options: &GroupingOptions) -> Grouping {
    let evidence = evidence::Evidence::of(index);
    let (model, rows) = solving::solve(&evidence, options.rounds);
    let probable = probabilities::of_rows(&model, &rows, options);
    let joined = sets::join(&model, rows);
    answer::write(&model, &joined, &probable)
}

#[cfg(test)]
#[path = "grouping_tests.rs"]
mod tests;
