//! Published values and general statistics libraries as judges; the tables and the reasons where definitions
//! differ stand in `fixtures/reference/circular/README.md`.

use super::*;

const SAMPLES: &str = include_str!("../../../fixtures/reference/circular/samples.csv");
const PUBLISHED: &str = include_str!("../../../fixtures/reference/circular/published_sets.csv");
const ONE_SAMPLE: &str = include_str!("../../../fixtures/reference/circular/one_sample.csv");
const GROUP_SAMPLES: &str = include_str!("../../../fixtures/reference/circular/group_samples.csv");
const GROUPS: &str = include_str!("../../../fixtures/reference/circular/groups.csv");
const NULL: &str = include_str!("../../../fixtures/reference/circular/null_monte_carlo.csv");

/// Where the definition is the same.
const SAME: f64 = 1e-9;

fn degrees(cell: &str) -> Directions {
    let azimuths: Vec<f64> = cell.split(' ').map(|azimuth| azimuth.parse().unwrap()).collect();
    Directions::from_degrees(&azimuths).unwrap()
}

fn sample(set: &str) -> Directions {
    let row = SAMPLES
        .lines()
        .find(|row| row.split(',').next() == Some(set))
        .unwrap();
    degrees(row.rsplit(',').next().unwrap())
}

fn groups(set: &str) -> Vec<Directions> {
    let rows = GROUP_SAMPLES
        .lines()
        .filter(|row| row.split(',').next() == Some(set));
    rows.map(|row| degrees(row.rsplit(',').next().unwrap())).collect()
}

/// First cell, second cell and the number in the last; quoted cells between hold commas of their own.
fn rows(table: &'static str) -> impl Iterator<Item = (&'static str, &'static str, &'static str, f64)> {
    table.lines().skip(1).map(|row| {
        let (set, rest) = row.split_once(',').unwrap();
        let (statistic, rest) = rest.split_once(',').unwrap();
        let (library, value) = rest.rsplit_once(',').unwrap_or(("", rest));
        (set, statistic, library, value.parse().unwrap())
    })
}

fn assert_near(ours: f64, theirs: f64, tolerance: f64, what: &str) {
    let error = (ours - theirs).abs() / theirs.abs().max(1.0);
    assert!(error <= tolerance, "{what}: {ours} beside {theirs}");
}

/// Our value under the table's name for it, and how near it must come.
fn ours(sample: &Directions, statistic: &str, theirs: f64) -> Option<(f64, f64)> {
    let (name, azimuth) = statistic.split_once('@').unwrap_or((statistic, "0"));
    let (n, summary, chance) = (sample.n() as f64, summary(sample), Chance::default());
    let v_test = || v_test(sample, azimuth.parse().unwrap()).unwrap();
    Some(match name {
        "mean_deg" => (summary.mean_deg?, SAME),
        "r_bar" | "rayleigh.r_bar" => (summary.r_bar?, SAME),
        "circular_variance" => (summary.circular_variance?, SAME),
        "circular_sd_deg" => (summary.circular_sd_deg?, SAME),
        "angular_deviation_deg" => (summary.angular_deviation_deg?, SAME),
        "kappa" => (summary.kappa?, SAME),
        "mean_ci_half_deg" => {
            let [from, to] = summary.mean_ci_deg?;
            ((to - from).rem_euclid(360.0) / 2.0, SAME)
        }
        "rayleigh.statistic" => (rayleigh(sample).ok()?.statistic, SAME),
        // The integral's own error is about 1e-12 for n of ten and more, 1e-9 for n = 5.
        "rayleigh.p" => (rayleigh(sample).ok()?.p?, 2e-9f64.min(theirs * 1e-5)),
        "rao_spacing.statistic" => (rao_spacing(sample).ok()?.statistic, SAME),
        "kuiper.statistic" => (kuiper(sample).ok()?.statistic, SAME),
        "kuiper.p" => (kuiper(sample).ok()?.p?, SAME.min(theirs * 1e-6)),
        "kuiper.modified" => (
            kuiper(sample).ok()?.statistic * (n.sqrt() + 0.155 + 0.24 / n.sqrt()),
            SAME,
        ),
        "watson_u2.statistic" => (watson_u2(sample, &chance).ok()?.statistic, SAME),
        "watson_u2.modified" => {
            let raw = watson_u2(sample, &chance).ok()?.statistic;
            ((raw - 0.1 / n + 0.1 / (n * n)) * (1.0 + 0.8 / n), SAME)
        }
        "v_test.statistic" => (v_test().statistic, SAME),
        "v_test.p" => (v_test().p?, 2e-9f64.min(theirs * 1e-5)),
        "v_test.r0" => (v_test().statistic / n, SAME),
        _ => return None,
    })
}

#[test]
fn libraries_agree_on_every_statistic_of_every_sample() {
    let mut compared = 0;
    for (set, statistic, library, theirs) in rows(ONE_SAMPLE) {
        // R's κ is a piecewise approximation, compared below; of the interval see the README.
        let for_reading = statistic == "mean_ci_half_deg" && library.starts_with("pycircstat2");
        if for_reading || library.starts_with("R ") && statistic.starts_with("kappa") {
            continue;
        }
        let sample = sample(set);
        let (ours, tolerance) =
            ours(&sample, statistic, theirs).unwrap_or_else(|| panic!("{set} has no {statistic}"));
        assert_near(ours, theirs, tolerance, &format!("{set}, {statistic}, {library}"));
        compared += 1;
    }
    assert!(compared > 300, "{compared}");
}

#[test]
fn the_correction_of_kappa_is_that_of_r() {
    let value = |set: &str, name: &str| {
        let found = rows(ONE_SAMPLE).find(|row| row.0 == set && row.1 == name && row.2.starts_with("R "));
        found.map(|row| row.3)
    };
    for set in ["zarD1", "turtles10", "pigeon13", "vm5", "vm10", "vm12"] {
        let (approximate, corrected) = (
            value(set, "kappa").unwrap(),
            value(set, "kappa_corrected").unwrap(),
        );
        let sample = sample(set);
        assert_near(kappa_corrected(approximate, sample.n()), corrected, SAME, set);
        let exact = summary(&sample).kappa.unwrap();
        assert!(
            (exact / approximate - 1.0).abs() < 0.01,
            "{set}: {exact} beside {approximate}"
        );
    }
}

#[test]
fn published_sets_give_the_published_values() {
    for (set, statistic, _, theirs) in rows(PUBLISHED) {
        let sample = sample(set);
        let what = format!("{set}, {statistic}");
        if let Some(test) = statistic.strip_suffix(".p_monte_carlo") {
            let p = one_sample_p(&sample, test);
            // Both sides may be draws; the table's own p has six decimals and is never below one in a million.
            let error = (theirs.max(p) / 1e6 + p / 1e5).sqrt();
            assert!(
                (p - theirs).abs() < 4.0 * error + 2e-5,
                "{what}: {p} beside {theirs}"
            );
        } else {
            // Six decimals, or five digits of p.
            let tolerance = if statistic == "rayleigh.p" {
                theirs * 1e-5
            } else {
                1e-6
            };
            assert_near(
                ours(&sample, statistic, theirs).unwrap().0,
                theirs,
                tolerance,
                &what,
            );
        }
    }
}

fn one_sample_p(sample: &Directions, test: &str) -> f64 {
    let made = match test {
        "rao_spacing" => rao_spacing(sample),
        "kuiper" => kuiper(sample),
        "watson_u2" => watson_u2(sample, &Chance::default()),
        _ => panic!("no test {test}"),
    };
    made.unwrap().p.unwrap()
}

#[test]
fn p_agrees_with_a_million_draws() {
    let mut compared = 0;
    for row in NULL.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let number = |place: usize| cells[place].parse::<f64>().unwrap();
        let (n, statistic, p, error) = (cells[1].parse().unwrap(), number(2), number(3), number(4));
        let (ours, allowed) = match cells[0] {
            "rayleigh" => (rayleigh::p_of(n, statistic), 0.0),
            "v_test" => (v_test::p_of(n, statistic), 0.0),
            "kuiper" => (kuiper::p_of(n, statistic), 0.0),
            // The normal limit's skewness still shows at n = 300.
            "rao_spacing" => (rao_spacing::p_of(n, statistic), if n > 200 { 0.008 } else { 0.0 }),
            // The series is used from n = 50 on, and says how near it comes.
            "watson_u2" if n >= 50 => (watson_u2::p_of(n, statistic), (0.015 * p).max(1e-4)),
            "watson_u2" => continue,
            other => panic!("no test {other}"),
        };
        assert!((ours - p).abs() < 4.5 * error + allowed, "{row}: {ours}");
        compared += 1;
    }
    assert!(compared > 300, "{compared}");
}

#[test]
fn libraries_agree_on_tests_between_groups() {
    for (set, statistic, library, theirs) in rows(GROUPS) {
        let groups = groups(set);
        let all: Vec<&Directions> = groups.iter().collect();
        let Some(ours) = between(&all, statistic, library) else {
            continue;
        };
        // p-values of scipy and ours come from different expansions of the same integral.
        assert_near(ours, theirs, SAME, &format!("{set}, {statistic}, {library}"));
    }
}

/// Our value under the table's name; `None` for the rows that the README explains.
fn between(groups: &[&Directions], statistic: &str, library: &str) -> Option<f64> {
    let chance = Chance::default();
    let n: f64 = groups.iter().map(|group| group.n() as f64).sum();
    let is_r = library.starts_with("R ");
    let no_ties = n == 40.0;
    match statistic {
        "watson_williams.statistic" => Some(watson_williams(groups, &chance).unwrap().test.statistic),
        "watson_williams.p_f" => {
            let test = watson_williams(groups, &chance).unwrap().test;
            (test.p_method == PMethod::FDistribution).then_some(test.p?)
        }
        "within_r_bar" => Some(watson_williams(groups, &chance).unwrap().within_r_bar),
        "equal_concentration.statistic" => Some(equal_concentration(groups).unwrap().statistic),
        "equal_concentration.p" => equal_concentration(groups).unwrap().p,
        "watson_two_sample.statistic" if !is_r || no_ties => Some(
            watson_two_sample(groups[0], groups[1], &chance)
                .unwrap()
                .statistic,
        ),
        "watson_two_sample.p_all" => {
            let test = watson_two_sample(groups[0], groups[1], &chance).unwrap();
            matches!(test.p_method, PMethod::AllArrangements { .. }).then_some(test.p?)
        }
        "mardia_watson_wheeler.statistic" if !is_r || no_ties => {
            let factor = if is_r { (n - 1.0) / n } else { 1.0 };
            Some(factor * mardia_watson_wheeler(groups, &chance).unwrap().statistic)
        }
        "mardia_watson_wheeler.p_chi_squared" => {
            let test = mardia_watson_wheeler(groups, &chance).unwrap();
            (test.p_method == PMethod::ChiSquared).then_some(test.p?)
        }
        _ => None,
    }
}

#[test]
fn random_permutations_come_near_all_of_them() {
    // The set with ties has 646,646 arrangements; the table has p over all of them.
    let groups = groups("zarD13_ties");
    let all = rows(GROUPS)
        .find(|row| row.0 == "zarD13_ties" && row.1 == "watson_two_sample.p_all")
        .unwrap()
        .3;
    let test = watson_two_sample(&groups[0], &groups[1], &Chance::default()).unwrap();
    assert_eq!(
        test.p_method,
        PMethod::Permutation {
            draws: 9_999,
            seed: 1
        }
    );
    assert!((test.p.unwrap() - all).abs() < 4.0 * (all * (1.0 - all) / 9_999.0).sqrt());
}
