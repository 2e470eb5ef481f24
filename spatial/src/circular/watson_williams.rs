//! The Watson–Williams test: do groups share one mean direction?

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

use super::arrangements::Pooled;
use super::{Chance, CircularError, Directions, Outcome, PMethod, Test, equal_concentration, kappa};

/// Below this weighted R̄ (κ = 1) the F distribution does not hold.
const LEAST_R_BAR: f64 = 0.45;

/// Groups smaller than this take permutations.
const SMALL_GROUP: usize = 5;

/// The Watson–Williams test with its assumption checked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WatsonWilliams {
    /// F and its p.
    pub test: Test,
    /// Σ Rⱼ / N, the mean resultant length within groups.
    pub within_r_bar: f64,
    /// The test of equal κ, which Watson–Williams supposes.
    pub equal_concentration: Outcome,
    /// Why F should not be leaned on, where that is so.
    pub cautions: Vec<String>,
}

/// The Watson–Williams test of equal mean directions, supposing von Mises groups of equal κ.
///
/// # Formula
/// F = K (N − k) (Σ Rⱼ − R) / ((k − 1) (N − Σ Rⱼ)), with K = 1 + 3/(8κ), κ solved from A(κ) = Σ Rⱼ / N; Rⱼ are the
/// groups' resultants, R the pooled one, N the number of directions, k of groups. p is the tail of
/// F(k − 1, N − k); where Σ Rⱼ / N < 0.45 or a group has fewer than five directions, permutations of F instead.
/// Programs that take κ from the pooled R̄ differ in the third digit.
///
/// # Errors
/// [`CircularError::TooFewGroups`] below two groups, [`CircularError::TooFew`] for a group below two,
/// [`CircularError::NoSpread`] where no group has any spread, [`CircularError::MixedKinds`].
///
/// # References
/// Watson, G. S. & Williams, E. J. (1956), Biometrika 43, 344-352; Stephens, M. A. (1972), Annals of the
/// Institute of Statistical Mathematics 24 (the factor K); Zar, Biostatistical Analysis, section 27.4.
pub fn watson_williams(groups: &[&Directions], chance: &Chance) -> Result<WatsonWilliams, CircularError> {
    let pooled = Pooled::new(groups, 2)?;
    if groups.iter().all(|group| group.all_equal()) {
        return Err(CircularError::NoSpread);
    }
    let parts: Vec<(f64, f64)> = pooled
        .azimuths_deg
        .iter()
        .map(|deg| deg.to_radians().sin_cos())
        .collect();
    let statistic = |labels: &[u16]| f_ratio(&parts, labels, groups.len());
    let observed = f_from_within(
        groups
            .iter()
            .map(|group| group.n() as f64 * group.variance())
            .sum(),
        resultant(&parts),
        parts.len(),
        groups.len(),
    );
    let lost: f64 = groups
        .iter()
        .map(|group| group.n() as f64 * group.variance())
        .sum();
    let within_r_bar = 1.0 - lost / parts.len() as f64;
    let smallest = pooled.sizes.iter().copied().min().unwrap_or(0);
    let equal = equal_concentration(groups);
    let (p, p_method) = if within_r_bar < LEAST_R_BAR || smallest < SMALL_GROUP {
        pooled.p(statistic, chance)
    } else {
        (
            f_tail(observed, groups.len(), parts.len()),
            PMethod::FDistribution,
        )
    };
    let cautions = cautions(within_r_bar, equal.as_ref().ok());
    let test = Test {
        statistic: observed,
        p: Some(p),
        p_method,
    };
    Ok(WatsonWilliams {
        test,
        within_r_bar,
        equal_concentration: equal.into(),
        cautions,
    })
}

/// F of one arrangement of the labels.
fn f_ratio(parts: &[(f64, f64)], labels: &[u16], groups: usize) -> f64 {
    let mut sums = vec![(0.0, 0.0); groups];
    for ((sine, cosine), label) in parts.iter().zip(labels) {
        let sum = &mut sums[usize::from(*label)];
        *sum = (sum.0 + sine, sum.1 + cosine);
    }
    let within: f64 = sums
        .iter()
        .map(|(sine, cosine): &(f64, f64)| sine.hypot(*cosine))
        .sum();
    let lost = (parts.len() as f64 - within).max(0.0);
    f_from_within(lost, resultant(parts), parts.len(), groups)
}

/// F from N − Σ Rⱼ (which keeps its digits for narrow groups) and the pooled resultant R.
fn f_from_within(lost: f64, pooled: f64, n: usize, groups: usize) -> f64 {
    let size = n as f64;
    // An arrangement without spread in its groups is the most extreme there can be.
    let Some(kappa) = kappa(lost / size) else {
        return f64::MAX;
    };
    let correction = if kappa > 0.0 {
        1.0 + 3.0 / (8.0 * kappa)
    } else {
        return 0.0;
    };
    let between = (size - lost - pooled).max(0.0);
    correction * (size - groups as f64) * between / ((groups as f64 - 1.0) * lost)
}

fn resultant(parts: &[(f64, f64)]) -> f64 {
    let sum = parts
        .iter()
        .fold((0.0, 0.0), |sum, part| (sum.0 + part.0, sum.1 + part.1));
    f64::hypot(sum.0, sum.1)
}

fn f_tail(f: f64, groups: usize, n: usize) -> f64 {
    FisherSnedecor::new((groups - 1) as f64, (n - groups) as f64)
        .expect("two groups of two or more leave positive degrees of freedom")
        .sf(f)
}

fn cautions(within_r_bar: f64, equal: Option<&Test>) -> Vec<String> {
    let mut cautions = Vec::new();
    if within_r_bar < LEAST_R_BAR {
        cautions.push(format!(
            "the groups are too spread for the F distribution: within-group r_bar {within_r_bar:.2} is below {LEAST_R_BAR}"
        ));
    }
    match equal.and_then(|test| test.p) {
        Some(p) if p < 0.05 => {
            cautions.push(format!(
                "the groups differ in concentration (p = {p:.2e}): the test supposes one kappa"
            ));
        }
        Some(_) => {}
        None => cautions.push("equal concentration of the groups could not be checked".to_owned()),
    }
    cautions
}

#[cfg(test)]
mod tests {
    use super::*;

    fn group(azimuths_deg: &[f64]) -> Directions {
        Directions::from_degrees(azimuths_deg).unwrap()
    }

    #[test]
    fn both_forms_of_f_agree() {
        let (one, two) = (
            group(&[10.0, 20.0, 35.0, 50.0, 5.0]),
            group(&[40.0, 60.0, 80.0, 55.0, 30.0]),
        );
        let made = watson_williams(&[&one, &two], &Chance::default()).unwrap();
        let pooled = Pooled::new(&[&one, &two], 2).unwrap();
        let parts: Vec<_> = pooled
            .azimuths_deg
            .iter()
            .map(|deg| deg.to_radians().sin_cos())
            .collect();
        assert!((f_ratio(&parts, &pooled.labels, 2) / made.test.statistic - 1.0).abs() < 1e-10);
        assert_eq!(made.test.p_method, PMethod::FDistribution);
    }

    #[test]
    fn small_groups_take_all_arrangements() {
        let (one, two) = (group(&[10.0, 20.0, 30.0]), group(&[100.0, 110.0, 120.0]));
        let made = watson_williams(&[&one, &two], &Chance::default()).unwrap();
        assert_eq!(made.test.p_method, PMethod::AllArrangements { arrangements: 20 });
        // The observed split and its mirror are the two most extreme of twenty.
        assert!((made.test.p.unwrap() - 0.1).abs() < 1e-12);
        assert!(
            made.cautions
                .iter()
                .any(|caution| caution.contains("could not be checked"))
        );
    }

    #[test]
    fn groups_without_spread_are_refused() {
        let (one, two) = (group(&[10.0; 4]), group(&[100.0; 4]));
        assert_eq!(
            watson_williams(&[&one, &two], &Chance::default()),
            Err(CircularError::NoSpread)
        );
    }

    #[test]
    fn spread_groups_are_cautioned() {
        let (one, two) = (
            group(&[0.0, 90.0, 180.0, 271.0, 10.0, 200.0]),
            group(&[20.0, 100.0, 190.0, 300.0, 15.0, 222.0]),
        );
        let made = watson_williams(&[&one, &two], &Chance::default()).unwrap();
        assert!(made.within_r_bar < 0.45 && !made.cautions.is_empty());
        assert!(made.test.statistic.is_finite() && made.test.p.unwrap() > 0.05);
    }
}
