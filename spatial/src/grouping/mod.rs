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
//! | `strips` | which prints lie near a place |
//! | `ground` | where a missing print could be hidden |
//! | `gait`, `seen` | what is held of gaits beforehand, and learnt from the trackways found |
//! | `motion` | where the next print of a row should lie |
//! | `kin` | what a row's prints have in common: size, shape, limb, kind, sides, azimuths |
//! | `scatter` | how sizes, shapes and azimuths scatter within a row |
//! | `scoring`, `arriving`, `three`, `gaps` | the log-likelihood ratio of a row of prints against chance |
//! | `candidates` | which prints could follow one another, from the R-tree |
//! | `growing` | tracklets, from certain triples outwards |
//! | `solving`, `improving`, `rows`, `joining` | the choice among all tracklets, and its improvement |
//! | `untangling` | two rows that have mixed their prints, told apart anew |
//! | `sets`, `line`, `singles` | manus prints joined to the pes row that they run along with |
//! | `direction` | which way it was walked |
//! | `doubts`, `components`, `sampling`, `probabilities` | how sure each link is |
//! | `wishes` | links that the user has fixed or forbidden |
//! | `terms`, `explaining` | what each part of the evidence adds to a link |
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
mod arriving;
mod candidates;
mod components;
mod direction;
mod doubts;
mod evidence;
mod explaining;
mod gait;
mod gaps;
mod ground;
mod growing;
mod improving;
mod joining;
mod kin;
mod line;
mod motion;
mod probabilities;
mod rows;
mod sampling;
mod scatter;
mod scoring;
mod seen;
mod sets;
mod singles;
mod solving;
mod strips;
mod terms;
mod three;
mod untangling;
mod wishes;

use crate::index::{PrintNo, SurfaceIndex};

/// What the caller may choose.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupingOptions {
    /// Seed of the sampling from which link probabilities come.
    pub seed: u64,
    /// How many times gaits are learnt from the trackways found and the prints grouped again.
    pub rounds: usize,
    /// How many changes the sampling tries for each doubtful link; 0 leaves the sampling out, and each probability is then the scores' own.
    pub samples: usize,
    /// Links that the user is sure of, each of two prints in walking order: they follow each other in one row of the
    /// answer, whatever the evidence says, and all else is grouped around them.
    pub fixed: Vec<[PrintNo; 2]>,
    /// Pairs of prints that never follow each other in the answer, in either order.
    pub forbidden: Vec<[PrintNo; 2]>,
    /// Whether each link is explained by the parts of its score.
    pub explain: bool,
}

/// What the user has told of links cannot all be true.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Contradiction {
    /// No print of the surface has this number.
    #[error("a link names print number {0}, and the surface has no such print")]
    Unknown(PrintNo),
    /// A link from a print to itself.
    #[error("print number {0} is linked to itself")]
    Itself(PrintNo),
    /// The same two prints.
    #[error("the link between print numbers {0} and {1} is both fixed and forbidden")]
    FixedAndForbidden(PrintNo, PrintNo),
    /// Fixed links from one print to two others.
    #[error("fixed links lead from print number {0} to two different prints; a foot goes on to one")]
    TwoAfter(PrintNo),
    /// Fixed links from two prints to one.
    #[error("fixed links lead to print number {0} from two different prints; a foot comes from one")]
    TwoBefore(PrintNo),
    /// Fixed links that come back to where they began.
    #[error("fixed links lead in a circle through print number {0}")]
    Circle(PrintNo),
}

impl Default for GroupingOptions {
    fn default() -> Self {
        Self {
            seed: 1,
            rounds: 2,
            samples: 50,
            fixed: Vec::new(),
            forbidden: Vec::new(),
            explain: false,
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
/// a pace between any two prints proves nothing, unless the user says that it is one.
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
    /// Why each print is there, if it was asked: the links of the midline in walking order, then one for each manus print.
    pub explained: Vec<Explained>,
}

/// One link by the parts of its score: natural logarithms of how much more probable what was measured is if the
/// prints belong together than if they do not.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// The print that the link leads from.
    pub from: PrintNo,
    /// The print that it leads to: the next of the row, or a manus print from its pes or, where that is missing, from
    /// the nearest print of the midline.
    pub to: PrintNo,
    /// What the link adds to the score of its row, as scored from the row's first print (which may be its last in
    /// walking order); for a manus print, ln odds that its row belongs to the midline. The sum of `terms`.
    pub score: f64,
    /// Name and value of each part.
    pub terms: Vec<(&'static str, f64)>,
}

/// Groups the prints of a surface into probable trackways.
///
/// The same surface and options give the same answer on any number of cores. The order of labels does not matter,
/// nor does the way that the surface is turned.
///
/// # References
/// Second-order scores: this program's own. Sampling of links: Oh, Russell & Sastry (2009), Markov chain Monte
/// Carlo data association, IEEE Transactions on Automatic Control 54(3) (cited from memory).
///
/// # Errors
/// Where the fixed and forbidden links of the options contradict each other or name prints that are not there.
pub fn group(index: &SurfaceIndex, options: &GroupingOptions) -> Result<Grouping, Contradiction> {
    let evidence = evidence::Evidence::of(index, options)?;
    let (model, rows) = solving::solve(&evidence, options.rounds);
    let probable = probabilities::of_rows(&model, &rows, options);
    let joined = sets::join(&model, rows);
    Ok(answer::write(&model, &joined, &probable, options.explain))
}

#[cfg(test)]
#[path = "grouping_tests.rs"]
mod tests;

#[cfg(test)]
mod wishes_tests;
