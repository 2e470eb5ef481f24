//! Watson's test of uniformity.

use std::collections::HashMap;
use std::f64::consts::PI;
use std::sync::{Arc, Mutex, PoisonError};

use super::chance::{share, sorted_uniform};
use super::{Chance, CircularError, Directions, PMethod, Test};

/// From this size on the series with its correction is used.
const SERIES_FROM: usize = 50;

/// Watson's U² test: does the distribution differ from the even one, over the whole circle?
///
/// # Formula
/// U² = Σ (uᵢ − (2i − 1)/(2n))² − n (ū − ½)² + 1/(12n), uᵢ the sorted directions over 360; the raw U². For
/// n ≥ 50, p = 2 Σ (−1)^(k−1) exp(−2k²π²U*²) with U*² = (U² − 0.1/n + 0.1/n²)(1 + 0.8/n): in a million draws p
/// was within 1.5 % of the truth down to 0.01, and 10 % too high at 0.001. Smaller samples take seeded Monte
/// Carlo, p = (draws at least as great + 1) / (draws + 1), since at n = 8 the series gives 1.5 times the p of 0.001.
///
/// # Errors
/// [`CircularError::TooFew`] below three directions.
///
/// # References
/// Watson, G. S. (1961), Biometrika 48, 109-114; Stephens, M. A. (1970), Journal of the Royal Statistical
/// Society B 32, 115-122.
pub fn watson_u2(sample: &Directions, chance: &Chance) -> Result<Test, CircularError> {
    let n = sample.n();
    CircularError::unless_at_least(n, 3)?;
    let statistic = u2(sample.sorted_deg().iter().map(|azimuth_deg| azimuth_deg / 360.0));
    let (p, p_method) = if n >= SERIES_FROM {
        (corrected_tail(n, statistic), PMethod::LargeSample)
    } else {
        let null = simulated(n, chance);
        let reached = null.iter().filter(|drawn| **drawn >= statistic - 1e-12).count() as u64;
        (share(reached, chance.draws), chance.by_simulation())
    };
    Ok(Test {
        statistic,
        p: Some(p),
        p_method,
    })
}

/// The null distribution hangs on the size of the sample only, so that many groups of one size share one.
type Simulated = HashMap<(usize, Chance), Arc<[f64]>>;

/// U² of simulated samples of this size; drawn once, then remembered.
fn simulated(n: usize, chance: &Chance) -> Arc<[f64]> {
    const MOST_REMEMBERED: usize = 64;
    static REMEMBERED: Mutex<Option<Simulated>> = Mutex::new(None);
    let held = || REMEMBERED.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(drawn) = held().get_or_insert_default().get(&(n, *chance)) {
        return drawn.clone();
    }
    // Not under the lock: whoever waits for draws may be given another sample to test.
    let drawn: Arc<[f64]> = chance
        .simulated(|rng, parts| {
            sorted_uniform(rng, parts, n);
            u2(parts.iter().copied())
        })
        .into();
    let mut held = held();
    let remembered = held.get_or_insert_default();
    if remembered.len() >= MOST_REMEMBERED {
        remembered.clear();
    }
    remembered.insert((n, *chance), drawn.clone());
    drawn
}

fn u2(sorted_parts: impl ExactSizeIterator<Item = f64>) -> f64 {
    let n = sorted_parts.len() as f64;
    let (mut squares, mut sum) = (0.0, 0.0);
    for (place, part) in sorted_parts.enumerate() {
        let off = part - (2.0 * place as f64 + 1.0) / (2.0 * n);
        squares += off * off;
        sum += off;
    }
    // The mean of the ranks' parts is ½, so ū - ½ is the mean of the deviations.
    squares - sum * sum / n + 1.0 / (12.0 * n)
}

fn corrected_tail(n: usize, statistic: f64) -> f64 {
    let n = n as f64;
    series_tail((statistic - 0.1 / n + 0.1 / (n * n)) * (1.0 + 0.8 / n))
}

/// The limiting upper tail of U², shared by the one-sample and the two-sample test.
pub(super) fn series_tail(u2: f64) -> f64 {
    // Below this p is 1 to all digits, and the alternating series would need many terms.
    if u2 < 0.005 {
        return 1.0;
    }
    let term = |k: i32| {
        let sign = if k % 2 == 1 { 2.0 } else { -2.0 };
        sign * (-2.0 * f64::from(k * k) * PI * PI * u2).exp()
    };
    (1..=40).map(term).sum::<f64>().clamp(0.0, 1.0)
}

/// p of a given U² by the series, for tests against tables.
#[cfg(test)]
pub(super) fn p_of(n: usize, statistic: f64) -> f64 {
    corrected_tail(n, statistic)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_critical_values() {
        // Stephens (1970), table 1A: U*² = 0.152, 0.187 and 0.267 at 10, 5 and 1 %.
        for (u2, p) in [(0.152, 0.10), (0.187, 0.05), (0.267, 0.01)] {
            assert!((series_tail(u2) / p - 1.0).abs() < 0.03, "{u2}");
        }
    }

    #[test]
    fn the_published_sample_of_eight() {
        // Zar's sample; p by a million draws is 0.002906.
        let sample = Directions::from_degrees(&[45.0, 55.0, 81.0, 96.0, 110.0, 117.0, 132.0, 154.0]).unwrap();
        let test = watson_u2(&sample, &Chance::default()).unwrap();
        assert!((test.statistic - 0.300_875_772).abs() < 1e-9);
        assert!((test.p.unwrap() - 0.002_906).abs() < 4.0 * (0.0029f64 / 99_999.0).sqrt());
    }

    #[test]
    fn the_same_seed_gives_the_same_p_on_any_number_of_cores() {
        let sample = Directions::from_degrees(&[5.0, 60.0, 80.0, 200.0, 300.0]).unwrap();
        let once = watson_u2(&sample, &Chance::default()).unwrap();
        let alone = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        assert_eq!(
            alone.install(|| watson_u2(&sample, &Chance::default())).unwrap(),
            once
        );
        let three = rayon::ThreadPoolBuilder::new().num_threads(3).build().unwrap();
        assert_eq!(
            three.install(|| watson_u2(&sample, &Chance::default())).unwrap(),
            once
        );
    }
}
