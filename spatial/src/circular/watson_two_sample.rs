//! Watson's two-sample U² test.

use super::arrangements::Pooled;
use super::watson_u2::series_tail;
use super::{Chance, CircularError, Directions, PMethod, Test};

/// From so many directions in the smaller group on, the series is used.
const SERIES_FROM: usize = 50;

/// Watson's two-sample U²: do two groups share one distribution? It supposes no form, and takes ties.
///
/// # Formula
/// U² = n₁n₂/N² (Σ t d² − (Σ t d)²/N), summed over the distinct directions; t is how many of both groups lie
/// there, d the difference of the two cumulative shares just after it. p by all arrangements of the labels up
/// to 200,000, else by random ones; from 50 in each group on 2 Σ (−1)^(k−1) exp(−2k²π²U²).
///
/// # Errors
/// [`CircularError::TooFew`] for a group below two, [`CircularError::MixedKinds`].
///
/// # References
/// Watson, G. S. (1962), Biometrika 49, 57-63; Zar, Biostatistical Analysis, section 27.5 (ties).
pub fn watson_two_sample(
    one: &Directions,
    other: &Directions,
    chance: &Chance,
) -> Result<Test, CircularError> {
    let pooled = Pooled::new(&[one, other], 2)?;
    let sizes = [one.n() as f64, other.n() as f64];
    let ties = ties(&pooled.azimuths_deg);
    let statistic = u2(&pooled.labels, &ties, sizes);
    let (p, p_method) = if one.n().min(other.n()) >= SERIES_FROM {
        (series_tail(statistic), PMethod::LargeSample)
    } else {
        pooled.p(|labels| u2(labels, &ties, sizes), chance)
    };
    Ok(Test {
        statistic,
        p: Some(p),
        p_method,
    })
}

/// How many directions lie at each distinct place, in order.
pub(super) fn ties(azimuths_deg: &[f64]) -> Vec<usize> {
    azimuths_deg
        .chunk_by(|one, next| one == next)
        .map(<[f64]>::len)
        .collect()
}

fn u2(labels: &[u16], ties: &[usize], sizes: [f64; 2]) -> f64 {
    let total = sizes[0] + sizes[1];
    let (mut counts, mut at) = ([0.0, 0.0], 0);
    let (mut sum, mut squares) = (0.0, 0.0);
    for tied in ties {
        for label in &labels[at..at + tied] {
            counts[usize::from(*label)] += 1.0;
        }
        at += tied;
        let (weight, ahead) = (*tied as f64, counts[0] / sizes[0] - counts[1] / sizes[1]);
        sum += weight * ahead;
        squares += weight * ahead * ahead;
    }
    sizes[0] * sizes[1] / (total * total) * (squares - sum * sum / total)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_against_two_by_hand() {
        // Order 1 1 2 2: d = ½, 1, ½, 0; Σd = 2, Σd² = 1.5; U² = 4/16 (1.5 - 1) = 0.125.
        let one = Directions::from_degrees(&[10.0, 20.0]).unwrap();
        let two = Directions::from_degrees(&[30.0, 40.0]).unwrap();
        let test = watson_two_sample(&one, &two, &Chance::default()).unwrap();
        assert!((test.statistic - 0.125).abs() < 1e-15);
        // Of the six arrangements around the circle four keep the groups together.
        assert!((test.p.unwrap() - 4.0 / 6.0).abs() < 1e-15);
    }

    #[test]
    fn equal_samples_do_not_differ() {
        let one = Directions::from_degrees(&[5.0, 5.0, 100.0, 250.0]).unwrap();
        let test = watson_two_sample(&one, &one, &Chance::default()).unwrap();
        assert!(test.statistic.abs() < 1e-15);
        assert_eq!(test.p, Some(1.0));
    }
}
