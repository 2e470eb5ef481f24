//! The test of equal concentration between von Mises groups.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::{CircularError, Directions, PMethod, Test};

/// Each group needs more than four directions: the weights below take four away.
const LEAST: usize = 5;

/// Do groups share one κ? Watson–Williams supposes that they do.
///
/// # Formula
/// χ² with k − 1 degrees of freedom of Σ w g² − (Σ w g)² / Σ w, by the pooled R̄. Below 0.45:
/// g = asin(√(3/8) 2R̄ⱼ), w = 4(nⱼ − 4)/3. From 0.45 to 0.70: g = asinh((R̄ⱼ − 1.089)/0.258),
/// w = (nⱼ − 3)/0.798. Above, and where the arc sine has no value, Bartlett's form: (ν ln((N − ΣRⱼ)/ν) −
/// Σ νⱼ ln((nⱼ − Rⱼ)/νⱼ)) / (1 + d), νⱼ = nⱼ − 1, ν = N − k, d = (Σ 1/νⱼ − 1/ν) / (3(k − 1)).
///
/// # Errors
/// [`CircularError::TooFewGroups`], [`CircularError::TooFew`] for a group below five,
/// [`CircularError::NoSpread`] where a group has no spread, [`CircularError::MixedKinds`].
///
/// # References
/// Mardia, K. V. & Jupp, P. E. (2000), Directional Statistics, section 7.4; Fisher, N. I. & Lewis, T.
/// (1983), Biometrika 70, 333-341.
pub fn equal_concentration(groups: &[&Directions]) -> Result<Test, CircularError> {
    if groups.len() < 2 {
        return Err(CircularError::TooFewGroups { groups: groups.len() });
    }
    for group in groups {
        CircularError::unless_at_least(group.n(), LEAST)?;
        if group.kind() != groups[0].kind() {
            return Err(CircularError::MixedKinds);
        }
    }
    if groups.iter().any(|group| group.all_equal()) {
        return Err(CircularError::NoSpread);
    }
    let statistic = chi_squared(groups).max(0.0);
    let p = ChiSquared::new((groups.len() - 1) as f64)
        .expect("two groups leave one degree of freedom")
        .sf(statistic);
    Ok(Test {
        statistic,
        p: Some(p),
        p_method: PMethod::ChiSquared,
    })
}

fn chi_squared(groups: &[&Directions]) -> f64 {
    let pooled = pooled_r_bar(groups);
    let scaled = |group: &Directions| (3.0f64 / 8.0).sqrt() * 2.0 * group.r_bar();
    if pooled < 0.45 && groups.iter().all(|group| scaled(group) <= 1.0) {
        let weighted = |group: &&Directions| (4.0 * (group.n() as f64 - 4.0) / 3.0, scaled(group).asin());
        return weighted_spread(groups.iter().map(weighted));
    }
    if (0.45..=0.70).contains(&pooled) {
        let weighted = |group: &&Directions| {
            let weight = (group.n() as f64 - 3.0) / 0.798;
            (weight, ((group.r_bar() - 1.089) / 0.258).asinh())
        };
        return weighted_spread(groups.iter().map(weighted));
    }
    bartlett(groups)
}

fn pooled_r_bar(groups: &[&Directions]) -> f64 {
    let (mut cosine, mut sine, mut n) = (0.0, 0.0, 0);
    for group in groups {
        let sums = group.resultant();
        cosine += sums.0;
        sine += sums.1;
        n += group.n();
    }
    sine.hypot(cosine) / n as f64
}

fn weighted_spread(weighted: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut weights, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for (weight, value) in weighted {
        weights += weight;
        sum += weight * value;
        squares += weight * value * value;
    }
    squares - sum * sum / weights
}

fn bartlett(groups: &[&Directions]) -> f64 {
    let (mut freedom, mut lost, mut logs, mut inverses) = (0.0, 0.0, 0.0, 0.0);
    for group in groups {
        let own_freedom = group.n() as f64 - 1.0;
        let own_lost = group.n() as f64 * group.variance();
        freedom += own_freedom;
        lost += own_lost;
        logs += own_freedom * (own_lost / own_freedom).ln();
        inverses += 1.0 / own_freedom;
    }
    let d = (inverses - 1.0 / freedom) / (3.0 * (groups.len() as f64 - 1.0));
    (freedom * (lost / freedom).ln() - logs) / (1.0 + d)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_groups_differ_by_nothing() {
        for spread in [5.0, 40.0, 58.0] {
            let azimuths = [-2.0, -1.0, -0.5, 0.5, 1.0, 2.0].map(|step: f64| step * spread);
            let group = Directions::from_degrees(&azimuths).unwrap();
            let test = equal_concentration(&[&group, &group, &group]).unwrap();
            assert!(
                test.statistic < 1e-9 && (test.p.unwrap() - 1.0).abs() < 1e-4,
                "{spread}"
            );
        }
    }

    #[test]
    fn a_narrow_and_a_wide_group_differ() {
        let narrow = [-2.0, -1.0, 0.0, 1.0, 2.0, 1.5, -1.5, 0.5];
        let wide = narrow.map(|azimuth_deg: f64| azimuth_deg * 25.0);
        let groups = [narrow, wide].map(|azimuths| Directions::from_degrees(&azimuths).unwrap());
        assert!(equal_concentration(&[&groups[0], &groups[1]]).unwrap().p.unwrap() < 1e-6);
    }

    #[test]
    fn small_and_equal_groups_are_refused() {
        let few = Directions::from_degrees(&[1.0, 2.0]).unwrap();
        assert_eq!(
            equal_concentration(&[&few, &few]),
            Err(CircularError::TooFew { n: 2, least: 5 })
        );
        let equal = Directions::from_degrees(&[1.0; 6]).unwrap();
        assert_eq!(
            equal_concentration(&[&equal, &equal]),
            Err(CircularError::NoSpread)
        );
    }
}
