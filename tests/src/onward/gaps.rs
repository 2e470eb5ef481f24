//! Are trackways found again behind a covered band?

use super::cut::{standing, walked, without};
use crate::eval::{Class, index_of};
use geo::{Contains, LineString, Point, Polygon};
use serde::Serialize;
use spatial::continuation::{ContinuationOptions, Surroundings, link_ends};
use spatial::index::SurfaceIndex;
use spatial::model::{Extent, ExtentKind, Label};
use spatial::simulate::Simulated;
use std::collections::BTreeSet;

/// How wide the bands are, metres.
const WIDE_M: f64 = 5.0;

/// Links across covered bands.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Gaps {
    /// Trackways with three main prints or more on both sides of a band.
    pub links: usize,
    /// Links proposed.
    pub proposed: usize,
    /// Those that are right.
    pub right: usize,
    /// Sum of the probabilities of the links proposed.
    pub given: f64,
}

impl Gaps {
    /// Precision, recall and F1.
    #[must_use]
    pub fn measures(&self) -> [f64; 3] {
        let ratio = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
        let precision = ratio(self.right as f64, self.proposed as f64);
        let recall = ratio(self.right as f64, self.links as f64);
        [
            precision,
            recall,
            ratio(2.0 * precision * recall, precision + recall),
        ]
    }
}

/// Two bands through each of so many surfaces; links of half a chance and more count as proposed.
#[must_use]
pub fn gaps(class: Class, prints: usize, surfaces: usize, first_seed: u64) -> Gaps {
    let mut gaps = Gaps::default();
    for seed in (first_seed..).take(surfaces) {
        gaps.add(class.scenario(prints).simulate(seed));
    }
    gaps
}

impl Gaps {
    pub(super) fn add(&mut self, simulated: Simulated) {
        let (index, true_pairs) = banded(simulated);
        let surroundings = Surroundings::of(&index);
        let options = ContinuationOptions {
            least_probability: 0.5,
            ..ContinuationOptions::default()
        };
        let Ok(links) = link_ends(&index, &surroundings, &options) else {
            return;
        };
        self.links += true_pairs.len();
        for link in links.iter().filter(|link| link.chosen) {
            self.proposed += 1;
            self.given += link.probability;
            let pair = (link.from.clone(), link.to.clone());
            let right = !link.from_reversed && !link.to_reversed && true_pairs.contains(&pair);
            self.right += usize::from(right);
        }
    }
}

/// A surface with covered bands, its trackways in pieces, and the pairs of pieces that are one.
fn banded(simulated: Simulated) -> (SurfaceIndex, BTreeSet<(Label, Label)>) {
    let bands = bands(&simulated);
    let mut contents = simulated.contents.clone();
    let hidden = |print: usize| {
        let print = &simulated.contents.prints[print];
        let at = Point::new(print.easting_m, print.northing_m);
        bands.iter().any(|band| band.polygon.contains(&at))
    };
    let gone: BTreeSet<usize> = (0..contents.prints.len())
        .filter(|print| hidden(*print))
        .collect();
    let mut pairs = BTreeSet::new();
    for (trackway, walked) in &walked(&simulated) {
        let main: BTreeSet<usize> = walked.main.iter().map(|(_, print)| *print).collect();
        let mut pieces: Vec<Vec<usize>> = vec![Vec::new()];
        for (_, print) in walked.all() {
            match gone.contains(&print) {
                true => pieces.push(Vec::new()),
                false => pieces.last_mut().expect("one at least").push(print),
            }
        }
        pieces.retain(|piece| piece.iter().filter(|print| main.contains(print)).count() >= 3);
        let label = |number: usize| -> Label {
            format!("T{trackway}-{number}")
                .parse()
                .expect("letters and digits are a label")
        };
        for (number, piece) in pieces.iter().enumerate() {
            let prints = piece
                .iter()
                .map(|print| simulated.contents.prints[*print].label.clone())
                .collect();
            contents.trackways.push(standing(label(number).as_str(), prints));
            if number > 0 {
                pairs.insert((label(number - 1), label(number)));
            }
        }
    }
    contents.extents.extend(bands);
    (index_of(without(contents, &gone)), pairs)
}

/// Two bands from south to north, at a third and two thirds of the surface's width.
fn bands(simulated: &Simulated) -> Vec<Extent> {
    let prints = &simulated.contents.prints;
    let range = |part: fn(&spatial::model::Print) -> f64| {
        let values = prints.iter().map(part);
        (
            values.clone().fold(f64::INFINITY, f64::min),
            values.fold(f64::NEG_INFINITY, f64::max),
        )
    };
    let ((west, east), (south, north)) = (range(|print| print.easting_m), range(|print| print.northing_m));
    [1.0, 2.0]
        .map(|third| {
            let from = west + third / 3.0 * (east - west) - WIDE_M / 2.0;
            let (to, south, north) = (from + WIDE_M, south - 1.0, north + 1.0);
            let corners = vec![(from, south), (to, south), (to, north), (from, north)];
            Extent {
                label: format!("B{third}")
                    .parse()
                    .expect("letters and digits are a label"),
                kind: ExtentKind::Covered,
                polygon: Polygon::new(LineString::from(corners), Vec::new()),
                surveyed_on: None,
                revision: 0,
            }
        })
        .to_vec()
}
