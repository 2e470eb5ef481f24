//! The run, and its report as tables for people.

use super::{Coverage, Gaps, Next, coverage, gaps, next};
use crate::eval::Class;
use serde::Serialize;

/// What was measured on the surfaces of one class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OnwardReport {
    /// The class.
    pub class: Class,
    /// How many surfaces, from which seed on, and about how many prints on each.
    pub surfaces: usize,
    /// The first surface's seed.
    pub seed: u64,
    /// Prints on each, about.
    pub prints: usize,
    /// Whether the regions hold what they should, all steps together and step by step.
    pub coverage: Vec<Coverage>,
    /// Whether the next print is found.
    pub next: Next,
    /// Whether trackways are found again behind a covered band.
    pub gaps: Gaps,
    /// Precision, recall and F1 of these.
    pub gaps_measures: [f64; 3],
}

/// Measures one class on surfaces from successive seeds.
#[must_use]
pub fn evaluate_onward(class: Class, prints: usize, surfaces: usize, seed: u64) -> OnwardReport {
    let gaps = gaps(class, prints, surfaces, seed);
    OnwardReport {
        class,
        surfaces,
        seed,
        prints,
        coverage: coverage(class, prints, surfaces, seed),
        next: next(class, prints, surfaces, seed),
        gaps_measures: gaps.measures(),
        gaps,
    }
}

/// Prints the tables of one class on standard output.
pub fn print_onward(report: &OnwardReport) {
    println!(
        "{}: {} surfaces of about {} prints, seeds from {}",
        report.class.name(),
        report.surfaces,
        report.prints,
        report.seed
    );
    println!("  {:<8}{:>8}{:>12}{:>12}", "step", "prints", "in 50 %", "in 95 %");
    for coverage in report.coverage.iter().filter(|coverage| coverage.prints > 0) {
        let [half, most] = coverage.parts();
        let step = if coverage.step == 0 {
            "all".to_owned()
        } else {
            coverage.step.to_string()
        };
        println!("  {step:<8}{:>8}{half:>12.3}{most:>12.3}", coverage.prints);
    }
    let next = &report.next;
    println!(
        "  next print there: first and more probable than none in {} of {}, first candidate in {}, among three in {}",
        next.first, next.present, next.first_candidate, next.among_three
    );
    println!(
        "  next print not there: none of these in {} of {}",
        next.none, next.absent
    );
    let [precision, recall, f1] = report.gaps_measures;
    println!(
        "  links across covered bands: precision {precision:.3}, recall {recall:.3}, F1 {f1:.3} ({} true, {} proposed)\n",
        report.gaps.links, report.gaps.proposed
    );
}
