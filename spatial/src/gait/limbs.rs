//! Which limb a print is of, where nobody said.

use super::summary::median;
use super::{Doubt, Placed};
use crate::model::Limb;

/// Where manus prints are less than this part of the pes prints' length, or the other way round, length tells
/// them apart.
const TELLS_APART: f64 = 0.8;

/// The limb of each print: as recorded; else, in a trackway of both limbs, by its length; else pes, since
/// bipeds are mostly recorded without.
pub(super) fn limbs(trackway: &[Placed], doubts: &mut Vec<Doubt>) -> Vec<Limb> {
    let ln_pes = ln_length(trackway, Limb::Pes);
    let ln_manus = ln_length(trackway, Limb::Manus);
    (trackway.iter())
        .map(|placed| match (placed.print.limb, ln_pes, ln_manus) {
            (Some(limb), ..) => limb,
            (None, Some(pes), Some(manus)) if (pes - manus).abs() > -TELLS_APART.ln() => {
                let length = placed.print.length_m.ln();
                let is_manus = (length - manus).abs() < (length - pes).abs();
                let limb = if is_manus { Limb::Manus } else { Limb::Pes };
                doubts.push(Doubt::of(
                    placed,
                    "has no limb recorded: taken for the one whose length it has",
                ));
                limb
            }
            (None, ..) => {
                if ln_manus.is_some() {
                    doubts.push(Doubt::of(placed, "has no limb recorded: taken for a pes print"));
                }
                Limb::Pes
            }
        })
        .collect()
}

/// The middle of the logarithms of the lengths of one limb's prints.
fn ln_length(trackway: &[Placed], limb: Limb) -> Option<f64> {
    let of_limb = trackway.iter().filter(|placed| placed.print.limb == Some(limb));
    let mut logs: Vec<f64> = of_limb
        .map(|placed| placed.print.length_m.ln())
        .filter(|log| log.is_finite())
        .collect();
    median(&mut logs)
}
