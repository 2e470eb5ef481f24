//! What a print adds to its row's score, part by part, in the words of the trade.

/// One part of a link's score. Each is a natural logarithm of how much more probable what was measured is if the print
/// belongs to the row than if it does not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Term {
    Stride,
    Pace,
    Turn,
    Azimuth,
    Size,
    Shape,
    Side,
    Limb,
    Morphotype,
    Missing,
    Chance,
    Told,
}

impl Term {
    const ALL: [Self; 12] = [
        Self::Stride,
        Self::Pace,
        Self::Turn,
        Self::Azimuth,
        Self::Size,
        Self::Shape,
        Self::Side,
        Self::Limb,
        Self::Morphotype,
        Self::Missing,
        Self::Chance,
        Self::Told,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Self::Stride => "repeated stride",
            Self::Pace => "pace for foot length",
            Self::Turn => "change of direction",
            Self::Azimuth => "foot azimuth",
            Self::Size => "size",
            Self::Shape => "width for length",
            Self::Side => "sides alternate",
            Self::Limb => "limb",
            Self::Morphotype => "morphotype",
            Self::Missing => "missing prints",
            Self::Chance => "chance",
            Self::Told => "told so",
        }
    }
}

/// Where the parts of a score go.
pub(super) trait Tally {
    /// A part that comes as a logarithm.
    fn add(&mut self, term: Term, value: f64);
    /// A part that comes as the ratio itself.
    fn times(&mut self, term: Term, ratio: f64);
}

/// The sum alone. Ratios are multiplied first and one logarithm is taken of them all: scoring is the better part of
/// the work, and logarithms were the better part of scoring.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sum {
    logarithms: f64,
    ratio: f64,
}

impl Sum {
    pub fn new() -> Self {
        Self {
            logarithms: 0.0,
            ratio: 1.0,
        }
    }

    pub fn total(self) -> f64 {
        self.logarithms + self.ratio.ln()
    }
}

impl Tally for Sum {
    fn add(&mut self, _: Term, value: f64) {
        self.logarithms += value;
    }

    fn times(&mut self, _: Term, ratio: f64) {
        self.ratio *= ratio;
    }
}

/// Each part by itself.
#[derive(Debug, Clone, Default)]
pub(super) struct Terms([Option<f64>; Term::ALL.len()]);

impl Tally for Terms {
    fn add(&mut self, term: Term, value: f64) {
        *self.0[term as usize].get_or_insert(0.0) += value;
    }

    fn times(&mut self, term: Term, ratio: f64) {
        self.add(term, ratio.ln());
    }
}

impl Terms {
    /// The parts that there are, by name.
    pub fn named(&self) -> Vec<(&'static str, f64)> {
        let named = |(term, value): (Term, Option<f64>)| Some((term.name(), value?));
        Term::ALL.into_iter().zip(self.0).filter_map(named).collect()
    }

    pub fn sum(&self) -> f64 {
        self.0.iter().flatten().sum()
    }
}
