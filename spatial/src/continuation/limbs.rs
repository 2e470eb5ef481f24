//! Which prints of a trackway are pes and which manus.

use super::plane::ln_normal;
use super::track::length_m;
use crate::index::{PrintNo, SurfaceIndex};
use crate::model::Limb;

/// The probability that a recorded limb is wrong. Common practice: a few in a hundred are.
const WRONG: f64 = 0.03;
/// The probability that the next print is of the other limb kind, where both walked. Common practice: sets are mostly
/// whole, and each is written down with its pes first.
const OTHER: f64 = 0.8;
/// The probability that a trackway shows both, before it is looked at. Common practice: about as many do as do not.
const LN_BOTH: f64 = -1.5;
/// The least and the largest scatter of ln length about the mean of a limb.
const SCATTER: [f64; 2] = [0.04, 0.16];
/// How many times means and scatter are learnt from the limbs, and these from them.
const ROUNDS: usize = 6;

const LIMBS: [Limb; 2] = [Limb::Pes, Limb::Manus];

/// A print as it is read here: ln of its length, and the limb that is recorded.
type Seen = (f64, Option<Limb>);

/// The limb of each print in walking order: all one, or pes and manus in turn, by what is recorded, by length and by order.
/// What nobody named is pes, since bipeds are mostly recorded without.
pub(super) fn limbs(index: &SurfaceIndex, prints: &[PrintNo]) -> Vec<Limb> {
    let seen: Vec<Seen> = (prints.iter())
        .map(|no| (length_m(index.print(*no)).ln(), index.print(*no).limb))
        .collect();
    told_apart(&seen)
}

fn told_apart(seen: &[Seen]) -> Vec<Limb> {
    let ln_one = |limb: Limb| {
        seen.iter()
            .map(|(_, recorded)| ln_recorded(*recorded, limb))
            .sum::<f64>()
    };
    let (pes, manus) = (ln_one(Limb::Pes), ln_one(Limb::Manus));
    let all = if manus > pes { Limb::Manus } else { Limb::Pes };
    let mut sizes = seen.iter().map(|(size, _)| *size);
    let (mean, sd) = mean_and_scatter(&mut sizes);
    let ln_sizes: f64 = seen.iter().map(|(size, _)| ln_normal(size - mean, sd)).sum();
    let turns = Turns::learnt(seen);
    if seen.len() >= 4 && turns.ln_density + LN_BOTH > pes.max(manus) + ln_sizes {
        turns.limbs()
    } else {
        vec![all; seen.len()]
    }
}

/// ln of the probability that this is recorded of a print of a limb.
fn ln_recorded(recorded: Option<Limb>, limb: Limb) -> f64 {
    match recorded {
        None => 0.0,
        Some(recorded) if recorded == limb => (1.0 - WRONG).ln(),
        Some(_) => WRONG.ln(),
    }
}

fn mean_and_scatter(sizes: &mut dyn Iterator<Item = f64>) -> (f64, f64) {
    let (mut count, mut sum, mut sum_2) = (0.0, 0.0, 0.0);
    for size in sizes {
        (count, sum, sum_2) = (count + 1.0, sum + size, sum_2 + size * size);
    }
    let mean = sum / f64::max(count, 1.0);
    let sd = (sum_2 / f64::max(count, 1.0) - mean * mean).max(0.0).sqrt();
    (mean, sd.clamp(SCATTER[0], SCATTER[1]))
}

/// Pes and manus in turn: the probability that each print is a pes, and ln of the density of all that was seen.
#[derive(Debug, Default)]
struct Turns {
    pes: Vec<f64>,
    ln_density: f64,
}

impl Turns {
    /// # Formula
    /// A hidden Markov chain of two states whose means are learnt by expectation and maximisation (Rabiner 1989,
    /// Proceedings of the IEEE 77(2); from memory).
    fn learnt(seen: &[Seen]) -> Self {
        let mut turns = Self::guessed(seen);
        for _ in 0..ROUNDS {
            let sum: f64 = turns.pes.iter().sum();
            let mean = |pes: bool| {
                let weight = |share: &f64| if pes { *share } else { 1.0 - share };
                let all: f64 = (turns.pes.iter().zip(seen))
                    .map(|(share, (size, _))| weight(share) * size)
                    .sum();
                let of = if pes { sum } else { seen.len() as f64 - sum };
                all / of.max(1e-9)
            };
            let means = [mean(true), mean(false)];
            let off_2 = |(share, (size, _)): (&f64, &Seen)| {
                share * (size - means[0]).powi(2) + (1.0 - share) * (size - means[1]).powi(2)
            };
            let off_2: f64 = turns.pes.iter().zip(seen).map(off_2).sum();
            let sd = (off_2 / seen.len().max(1) as f64)
                .sqrt()
                .clamp(SCATTER[0], SCATTER[1]);
            turns = Self::given(seen, means, sd);
        }
        turns
    }

    /// By what is recorded, else by length: what is longer than half of all is rather a pes.
    fn guessed(seen: &[Seen]) -> Self {
        let mut sizes: Vec<f64> = seen.iter().map(|(size, _)| *size).collect();
        sizes.sort_unstable_by(f64::total_cmp);
        let middle = sizes.get(sizes.len() / 2).copied().unwrap_or(0.0);
        let guess = |(size, recorded): &Seen| match recorded {
            Some(Limb::Pes) => 1.0 - WRONG,
            Some(Limb::Manus) => WRONG,
            None if *size > middle => 0.7,
            None => 0.3,
        };
        Self {
            pes: seen.iter().map(guess).collect(),
            ln_density: f64::NEG_INFINITY,
        }
    }

    /// Forward along the row and back.
    fn given(seen: &[Seen], means: [f64; 2], sd: f64) -> Self {
        let emitted: Vec<[f64; 2]> = (seen.iter())
            .map(|(size, recorded)| {
                [0, 1].map(|limb| {
                    (ln_normal(size - means[limb], sd) + ln_recorded(*recorded, LIMBS[limb])).exp()
                })
            })
            .collect();
        let moved = |from: [f64; 2]| [0, 1].map(|to| (1.0 - OTHER) * from[to] + OTHER * from[1 - to]);
        let (mut forward, mut ln_density) = (Vec::with_capacity(seen.len()), 0.0);
        let mut before = [0.5; 2];
        for emission in &emitted {
            let here = [0, 1].map(|limb| before[limb] * emission[limb]);
            let sum = (here[0] + here[1]).max(f64::MIN_POSITIVE);
            ln_density += sum.ln();
            let here = here.map(|part| part / sum);
            forward.push(here);
            before = moved(here);
        }
        let mut pes = vec![0.5; seen.len()];
        let mut behind = [1.0; 2];
        for at in (0..seen.len()).rev() {
            let here = [0, 1].map(|limb| forward[at][limb] * behind[limb]);
            pes[at] = here[0] / (here[0] + here[1]).max(f64::MIN_POSITIVE);
            let reached = [0, 1].map(|limb| emitted[at][limb] * behind[limb]);
            let moved = moved(reached);
            let sum = (moved[0] + moved[1]).max(f64::MIN_POSITIVE);
            behind = moved.map(|part| part / sum);
        }
        Self { pes, ln_density }
    }

    fn limbs(&self) -> Vec<Limb> {
        let limb = |share: &f64| if *share >= 0.5 { Limb::Pes } else { Limb::Manus };
        self.pes.iter().map(limb).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Limb::{Manus, Pes};

    fn unnamed(lengths: &[f64]) -> Vec<Limb> {
        told_apart(
            &lengths
                .iter()
                .map(|length| (length.ln(), None))
                .collect::<Vec<Seen>>(),
        )
    }

    #[test]
    fn two_sizes_in_turn_are_two_limbs() {
        let found = unnamed(&[0.5, 0.27, 0.52, 0.25, 0.49, 0.26]);
        assert_eq!(found, [Pes, Manus, Pes, Manus, Pes, Manus]);
        // A manus is missing between the second and the third pes.
        let found = unnamed(&[0.5, 0.4, 0.52, 0.49, 0.41, 0.5, 0.39, 0.51, 0.4]);
        assert_eq!(found, [Pes, Manus, Pes, Pes, Manus, Pes, Manus, Pes, Manus]);
    }

    #[test]
    fn one_size_is_one_limb() {
        assert_eq!(unnamed(&[0.5, 0.48, 0.52, 0.47, 0.53, 0.5]), [Pes; 6]);
        assert_eq!(unnamed(&[0.5, 0.4, 0.5]), [Pes; 3], "too few to tell");
        assert_eq!(unnamed(&[0.5]), [Pes]);
        assert_eq!(unnamed(&[]), []);
        assert_eq!(unnamed(&[0.3; 8]), [Pes; 8], "no scatter at all");
    }

    #[test]
    fn a_name_that_fits_nothing_else_is_taken_for_an_error() {
        let mut seen: Vec<Seen> = vec![(0.2f64.ln(), Some(Pes)); 12];
        seen[5].1 = Some(Manus);
        assert_eq!(told_apart(&seen), [Pes; 12]);
        let manus: Vec<Seen> = vec![(0.2f64.ln(), Some(Manus)); 5];
        assert_eq!(told_apart(&manus), [Manus; 5]);
    }

    #[test]
    fn what_nobody_named_goes_by_length_and_order() {
        let limbs = [
            Some(Pes),
            Some(Manus),
            None,
            Some(Manus),
            Some(Pes),
            None,
            Some(Pes),
            None,
        ];
        let lengths = [0.44, 0.37, 0.41, 0.38, 0.46, 0.4, 0.43, 0.39];
        let seen: Vec<Seen> = lengths.iter().map(|length| f64::ln(*length)).zip(limbs).collect();
        assert_eq!(
            told_apart(&seen),
            [Pes, Manus, Pes, Manus, Pes, Manus, Pes, Manus]
        );
    }
}
