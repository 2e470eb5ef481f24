//! The Mardia–Watson–Wheeler test.

use std::f64::consts::TAU;

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::arrangements::Pooled;
use super::watson_two_sample::ties;
use super::{Chance, CircularError, Directions, PMethod, Test};

/// From so many directions in the smallest group on, χ² is used (Batschelet 1981, section 6.3).
const CHI_SQUARED_FROM: usize = 10;

/// The Mardia–Watson–Wheeler test of uniform scores: do two or more groups share one distribution?
///
/// # Formula
/// All directions are ranked and put at even angles β = 2π rank / N, ties at their mean rank. W = 2 Σ (Cⱼ² + Sⱼ²) / nⱼ
/// over the groups' resultants of β. χ² with 2(k − 1) degrees of freedom where every group has ten or more, else
/// permutations, which also hold under ties. Programs that break ties at random differ where there are any.
///
/// # Errors
/// [`CircularError::TooFewGroups`], [`CircularError::TooFew`] for a group below two, [`CircularError::MixedKinds`].
///
/// # References
/// Wheeler, S. & Watson, G. S. (1964), Biometrika 51, 256-257; Mardia, K. V. (1972), Journal of the Royal
/// Statistical Society B 34, 102-113; Batschelet, E. (1981), Circular Statistics in Biology, section 6.3.
pub fn mardia_watson_wheeler(groups: &[&Directions], chance: &Chance) -> Result<Test, CircularError> {
    let pooled = Pooled::new(groups, 2)?;
    let scores = scores(&pooled.azimuths_deg);
    let statistic = |labels: &[u16]| w(&scores, labels, &pooled.sizes);
    let observed = statistic(&pooled.labels);
    let all_large = pooled.sizes.iter().all(|size| *size >= CHI_SQUARED_FROM);
    let (p, p_method) = if all_large {
        let freedom = 2.0 * (groups.len() as f64 - 1.0);
        let chi_squared = ChiSquared::new(freedom).expect("two groups leave two degrees of freedom");
        (chi_squared.sf(observed), PMethod::ChiSquared)
    } else {
        pooled.p(statistic, chance)
    };
    Ok(Test {
        statistic: observed,
        p: Some(p),
        p_method,
    })
}

/// Sine and cosine of each direction's even angle.
fn scores(azimuths_deg: &[f64]) -> Vec<(f64, f64)> {
    let step = TAU / azimuths_deg.len() as f64;
    let mut scores = Vec::with_capacity(azimuths_deg.len());
    for tied in ties(azimuths_deg) {
        let mean_rank = scores.len() as f64 + 0.5 * (tied as f64 + 1.0);
        scores.extend(std::iter::repeat_n((step * mean_rank).sin_cos(), tied));
    }
    scores
}

fn w(scores: &[(f64, f64)], labels: &[u16], sizes: &[usize]) -> f64 {
    let mut sums = vec![(0.0, 0.0); sizes.len()];
    for ((sine, cosine), label) in scores.iter().zip(labels) {
        let sum = &mut sums[usize::from(*label)];
        *sum = (sum.0 + sine, sum.1 + cosine);
    }
    let each = sums
        .iter()
        .zip(sizes)
        .map(|((sine, cosine), size)| (sine * sine + cosine * cosine) / *size as f64);
    2.0 * each.sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_against_two_by_hand() {
        // Ranks 1 and 2 at 90 and 180 degrees: resultant² = 2, W = 2 (2/2 + 2/2) = 4.
        let one = Directions::from_degrees(&[10.0, 20.0]).unwrap();
        let two = Directions::from_degrees(&[30.0, 40.0]).unwrap();
        let test = mardia_watson_wheeler(&[&one, &two], &Chance::default()).unwrap();
        assert!((test.statistic - 4.0).abs() < 1e-12);
        assert!((test.p.unwrap() - 4.0 / 6.0).abs() < 1e-12);
    }

    #[test]
    fn all_equal_directions_tell_nothing() {
        let group = Directions::from_degrees(&[9.0; 3]).unwrap();
        let test = mardia_watson_wheeler(&[&group, &group], &Chance::default()).unwrap();
        assert_eq!(test.p, Some(1.0));
    }
}
