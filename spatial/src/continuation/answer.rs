//! The answer in the words of the interface: metres in the surface's CRS, degrees from its grid north.

use super::ground::InExtent;
use crate::index::PrintNo;
use crate::model::{Label, Limb, Side, named};
use geo::Polygon;

named!(
    /// To which end of a trackway something lies.
    Direction {
        /// After its last print.
        After = "after",
        /// Before its first print.
        Before = "before",
    }
);

/// Where a trackway goes on, both ways.
#[derive(Debug, Clone, PartialEq)]
pub struct Continuation {
    /// After its last print.
    pub after: Onward,
    /// Before its first print.
    pub before: Onward,
}

/// Where a trackway goes on, one way.
#[derive(Debug, Clone, PartialEq)]
pub struct Onward {
    /// Which way.
    pub direction: Direction,
    /// Its last print that way; pes where there are pes prints.
    pub from: PrintNo,
    /// The limb whose prints are predicted.
    pub limb: Limb,
    /// The next prints, the nearest first.
    pub steps: Vec<PredictedStep>,
    /// One polygon around all 95 % regions.
    pub corridor: Polygon<f64>,
    /// The prints and trackways that could continue it, the most probable first.
    pub candidates: Vec<Candidate>,
    /// The probability that none of the candidates is its next print: `1` less the sum of theirs, those not given included.
    pub none_of_these: f64,
    /// The squares of ground where further prints are worth looking for, the most probable first.
    pub targets: Vec<Target>,
}

/// Where one further print should lie.
#[derive(Debug, Clone, PartialEq)]
pub struct PredictedStep {
    /// 1 for the next print, 2 for the one after it.
    pub step: usize,
    /// Which way.
    pub direction: Direction,
    /// Easting and northing of the mean, metres.
    pub position_m: [f64; 2],
    /// Standard deviation along the ellipse's long axis, metres.
    pub sd_major_m: f64,
    /// Standard deviation along the ellipse's short axis, metres.
    pub sd_minor_m: f64,
    /// Azimuth of the long axis, 0 to 180 degrees.
    pub ellipse_azimuth_deg: f64,
    /// Radius of the 50 % region, in those standard deviations; 1.18 for a normal law (√(−2 ln 0.5)), other where tails are heavy.
    pub radius_50: f64,
    /// Radius of the 95 % region, in those standard deviations; 2.45 for a normal law.
    pub radius_95: f64,
    /// The ellipse that holds the print with 50 %.
    pub region_50: Polygon<f64>,
    /// The ellipse that holds the print with 95 %.
    pub region_95: Polygon<f64>,
    /// Its side, where sides of the trackway are known.
    pub side: Option<Side>,
    /// Where the foot should point, degrees.
    pub azimuth_deg: f64,
    /// The extent that the mean lies in.
    pub in_extent: InExtent,
    /// The probability that a print made there is seen.
    pub seen: f64,
    /// The probability that the trackway has this step and that no print of it was seen here or before, the candidates weighed.
    pub hidden: f64,
}

/// What a candidate is.
#[derive(Debug, Clone, PartialEq)]
pub enum CandidateKind {
    /// A print of no standing trackway, taken for the main row's next print.
    Print {
        /// The print.
        print: PrintNo,
        /// The manus print of its set, where one lies there.
        manus: Option<PrintNo>,
    },
    /// A manus print of no standing trackway whose pes is missing.
    Manus {
        /// The print.
        print: PrintNo,
    },
    /// A standing trackway that goes on from here.
    Trackway {
        /// Its label.
        label: Label,
        /// Its print that comes next.
        print: PrintNo,
        /// Whether it would have to be read against the order in which it stands.
        reversed: bool,
    },
}

/// What a term in favour or against rests on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// What was compared, in words.
    pub what: &'static str,
    /// How much that speaks for (above zero) or against it, natural logarithm of odds.
    pub log_odds: f64,
}

/// What could continue a trackway.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// What it is.
    pub kind: CandidateKind,
    /// The probability that it is the next thing seen of this trackway.
    pub probability: f64,
    /// The step that it would be; 1 is the next.
    pub step: usize,
    /// How many prints lie unseen between.
    pub missing: usize,
    /// How far it lies from the trackway's end, metres.
    pub distance_m: f64,
    /// Whether its recorded side is that which the steps between demand; `None` where a side is unknown.
    pub side_fits: Option<bool>,
    /// Whether it lies in the corridor.
    pub in_corridor: bool,
    /// What speaks for it and against it.
    pub terms: Vec<Term>,
}

/// A square of ground.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// Its outline; its corners are whole multiples of its side.
    pub square: Polygon<f64>,
    /// What its middle lies in.
    pub in_extent: InExtent,
    /// The probability that it holds at least one print of this trackway that nobody has seen.
    pub probability: f64,
    /// The expected number of such prints.
    pub expected_prints: f64,
    /// The step that adds most to it.
    pub nearest_step: usize,
}

/// A proposal that two standing trackways are one.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// The trackway that comes first.
    pub from: Label,
    /// Whether `from` has to be read against the order in which it stands; only where its own direction is in doubt.
    pub from_reversed: bool,
    /// The trackway that goes on.
    pub to: Label,
    /// Whether `to` has to be read against the order in which it stands.
    pub to_reversed: bool,
    /// The last print before the gap and the first after it.
    pub prints: [PrintNo; 2],
    /// The width of the gap, metres.
    pub distance_m: f64,
    /// How many prints are missing between, the most probable number.
    pub missing: usize,
    /// The probability that this link is right, all others weighed.
    pub probability: f64,
    /// Whether it is in the set of links that are most probable together.
    pub chosen: bool,
    /// What speaks for it and against it.
    pub terms: Vec<Term>,
}
