//! The grouping finds the trackways of simulated surfaces, and better than the baselines do.

use tests::eval::{Class, ClassReport, evaluate};

/// Floors below the figures aimed at, 0.99, 0.95 and 0.85, so that a few unlucky surfaces do not fail.
const EASY_FLOOR: f64 = 0.97;
const MEDIUM_FLOOR: f64 = 0.90;
const HARD_FLOOR: f64 = 0.75;
const BLIND_FLOOR: f64 = 0.85;

fn run(class: Class) -> ClassReport {
    let report = evaluate(class, 400, 3, 101);
    let [grouping, nearest, assignment] = &report.methods[..] else {
        panic!("three methods")
    };
    assert!(grouping.f1.mean > nearest.f1.mean, "{report:?}");
    assert!(grouping.f1.mean > assignment.f1.mean, "{report:?}");
    report
}

#[test]
fn easy_surfaces_are_read_nearly_without_fault() {
    let report = run(Class::Easy);
    assert!(report.methods[0].f1.mean >= EASY_FLOOR, "{report:?}");
}

#[test]
fn medium_surfaces_are_read_well() {
    let report = run(Class::Medium);
    assert!(report.methods[0].f1.mean >= MEDIUM_FLOOR, "{report:?}");
    // Links of which the grouping is nearly sure are nearly always right.
    let sure = report.links.bins.last().expect("classes of probability");
    assert!(sure.count > 100.0 && sure.right > 0.95, "{sure:?}");
}

#[test]
fn hard_surfaces_are_read_better_than_by_the_baselines() {
    let report = run(Class::Hard);
    assert!(report.methods[0].f1.mean >= HARD_FLOOR, "{report:?}");
}

#[test]
fn blind_surfaces_are_read_better_than_by_the_baselines() {
    let report = run(Class::Blind);
    assert!(report.methods[0].f1.mean >= BLIND_FLOOR, "{report:?}");
}

#[test]
fn crowded_ground_is_read_better_than_by_the_baselines() {
    run(Class::Crowded);
}
