//! Laws that every sample must follow, and samples that must not break anything.

use crate::properties::every;
use proptest::prelude::*;

use super::*;

/// Fewer draws than by default: the laws hold for any number.
const QUICK: Chance = Chance {
    seed: 1,
    draws: 199,
    permutations: 199,
};

fn azimuths() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(0.0..360.0f64, 3..40)
}

fn report(azimuths_deg: &[f64]) -> Report {
    Report::new(
        &Directions::from_degrees(azimuths_deg).unwrap(),
        Some(10.0),
        &QUICK,
    )
}

fn near(one: Option<f64>, other: Option<f64>, tolerance: f64) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() <= tolerance * one.abs().max(1.0),
        (None, None) => true,
        _ => false,
    }
}

/// The difference of two azimuths, 0 to 180 degrees.
fn apart_deg(one_deg: f64, other_deg: f64) -> f64 {
    let apart = (one_deg - other_deg).rem_euclid(360.0);
    apart.min(360.0 - apart)
}

fn statistics(report: &Report) -> Vec<Option<f64>> {
    let summary = &report.summary;
    let mut all = vec![
        summary.r_bar,
        summary.circular_variance,
        summary.circular_sd_deg,
        summary.angular_deviation_deg,
        summary.kappa,
        summary.kappa_corrected,
    ];
    for outcome in [
        &report.rayleigh,
        &report.rao_spacing,
        &report.kuiper,
        &report.watson_u2,
    ] {
        all.push(outcome.test().map(|test| test.statistic));
        all.push(outcome.p());
    }
    all
}

proptest! {
    #![proptest_config(every(4))]

    #[test]
    fn turning_all_azimuths_turns_the_mean_and_nothing_else(azimuths_deg in azimuths(), turn_deg in 0.0..360.0f64) {
        let turned: Vec<f64> = azimuths_deg.iter().map(|azimuth| azimuth + turn_deg).collect();
        let (before, after) = (report(&azimuths_deg), report(&turned));
        prop_assume!(before.summary.r_bar.unwrap() > 1e-3);
        for (one, other) in statistics(&before).into_iter().zip(statistics(&after)) {
            prop_assert!(near(one, other, 1e-8), "{one:?} became {other:?}");
        }
        let (mean, turned_mean) = (before.summary.mean_deg.unwrap(), after.summary.mean_deg.unwrap());
        prop_assert!(apart_deg(mean + turn_deg, turned_mean) < 1e-7);
    }

    #[test]
    fn order_does_not_matter(azimuths_deg in azimuths()) {
        let backwards: Vec<f64> = azimuths_deg.iter().rev().copied().collect();
        prop_assert_eq!(report(&azimuths_deg), report(&backwards));
    }

    #[test]
    fn a_mirror_turns_the_mean_round_north(azimuths_deg in azimuths()) {
        let mirrored: Vec<f64> = azimuths_deg.iter().map(|azimuth| -azimuth).collect();
        let (before, after) = (report(&azimuths_deg), report(&mirrored));
        prop_assume!(before.summary.r_bar.unwrap() > 1e-3);
        for (one, other) in statistics(&before).into_iter().zip(statistics(&after)) {
            prop_assert!(near(one, other, 1e-8), "{one:?} became {other:?}");
        }
        let (mean, mirrored_mean) = (before.summary.mean_deg.unwrap(), after.summary.mean_deg.unwrap());
        prop_assert!(apart_deg(-mean, mirrored_mean) < 1e-7);
    }

    #[test]
    fn axes_may_be_given_by_either_end(azimuths_deg in azimuths()) {
        let ends: Vec<f64> = azimuths_deg
            .iter()
            .enumerate()
            .map(|(place, azimuth)| azimuth + if place % 2 == 0 { 180.0 } else { 0.0 })
            .collect();
        let [one, other] = [&azimuths_deg, &ends].map(|axes| summary(&Directions::axes_from_degrees(axes).unwrap()));
        prop_assert!(near(one.r_bar, other.r_bar, 1e-9));
        prop_assert!(one.mean_deg.is_none_or(|mean| mean < 180.0));
    }

    #[test]
    fn groups_may_change_places_and_turn_together(one in azimuths(), two in azimuths(), turn_deg in 0.0..360.0f64) {
        let groups = |turn: f64| [&one, &two].map(|azimuths_deg| {
            let turned: Vec<f64> = azimuths_deg.iter().map(|azimuth| azimuth + turn).collect();
            Directions::from_degrees(&turned).unwrap()
        });
        let ([a, b], [c, d]) = (groups(0.0), groups(turn_deg));
        let all = |one: &Directions, two: &Directions| [
            watson_williams(&[one, two], &QUICK).unwrap().test.statistic,
            watson_two_sample(one, two, &QUICK).unwrap().statistic,
            mardia_watson_wheeler(&[one, two], &QUICK).unwrap().statistic,
        ];
        for (before, after) in all(&a, &b).into_iter().zip(all(&d, &c)) {
            prop_assert!((before - after).abs() < 1e-8 * before.abs().max(1.0), "{before} became {after}");
        }
    }
}

#[test]
fn no_sample_gives_a_number_that_is_not_finite() {
    let even: Vec<f64> = (0..36).map(|k| 10.0 * f64::from(k)).collect();
    let samples = [
        vec![],
        vec![0.0],
        vec![0.0, 180.0],
        vec![90.0, 90.0],
        vec![1e300, -1e300, 0.0],
        vec![0.0, 120.0, 240.0],
        vec![77.7; 3],
        vec![359.999_999_999_999_9; 60],
        vec![45.0, 45.000_000_000_1, 45.0, 45.0, 45.0],
        even,
    ];
    for azimuths in &samples {
        for sample in [
            Directions::from_degrees(azimuths),
            Directions::axes_from_degrees(azimuths),
        ] {
            let sample = sample.unwrap();
            let report = Report::new(&sample, Some(0.0), &QUICK);
            let numbers = statistics(&report)
                .into_iter()
                .flatten()
                .chain(report.summary.mean_ci_deg.into_iter().flatten());
            for number in numbers.chain(report.v_test.as_ref().and_then(Outcome::p)) {
                assert!(number.is_finite(), "{azimuths:?}: {report:?}");
            }
            for fitted in judge(&sample, &QUICK).models {
                assert!(fitted.bic.is_finite(), "{azimuths:?}: {fitted:?}");
            }
        }
    }
}

#[test]
fn tests_without_enough_data_say_how_much_is_needed() {
    for azimuths in [vec![], vec![10.0], vec![10.0, 20.0]] {
        let report = report(&azimuths);
        for outcome in [
            &report.rayleigh,
            &report.rao_spacing,
            &report.kuiper,
            &report.watson_u2,
        ] {
            assert_eq!(
                outcome,
                &Outcome::NotMade(CircularError::TooFew {
                    n: azimuths.len(),
                    least: 3
                })
            );
        }
    }
}

/// Fifty simulated herds of one true heading each: the 95 % interval should miss it about one time in twenty.
#[test]
fn the_interval_of_the_mean_holds_the_true_mean() {
    use rand::{RngExt, SeedableRng};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(8);
    for n in [5, 12, 24, 60] {
        let mut held = 0;
        for _ in 0..2000 {
            // The sum of three even numbers: bell-shaped, within 120 degrees, spread 40 degrees.
            let azimuths: Vec<f64> = (0..n)
                .map(|_| 80.0 * (rng.random::<f64>() + rng.random::<f64>() + rng.random::<f64>() - 1.5))
                .collect();
            let interval = mean_interval(&Directions::from_degrees(&azimuths).unwrap());
            // No interval is the whole circle, which holds everything.
            held += u32::from(
                interval.is_ok_and(|interval| interval.degrees[0] > interval.degrees[1])
                    || interval_missing(&azimuths),
            );
        }
        let share = f64::from(held) / 2000.0;
        assert!((0.93..=0.975).contains(&share), "n = {n}: {share}");
    }
}

fn interval_missing(azimuths_deg: &[f64]) -> bool {
    mean_interval(&Directions::from_degrees(azimuths_deg).unwrap()).is_err()
}
