//! The report as tables for people.

use super::{Calibration, Class, ClassReport, Mean};

/// Prints the tables of one class on standard output.
pub fn print_tables(report: &ClassReport) {
    println!(
        "{}: {} surfaces of {:.0} prints on average",
        report.class.name(),
        report.surfaces,
        report.prints
    );
    println!(
        "  {:<20}{:>16}{:>16}{:>16}{:>8}{:>11}{:>18}",
        "method", "precision", "recall", "F1", "order", "direction", "seconds"
    );
    for method in &report.methods {
        println!(
            "  {:<20}{:>16}{:>16}{:>16}{:>8.3}{:>11.3}{:>18}",
            method.method,
            with_spread(method.precision),
            with_spread(method.recall),
            with_spread(method.f1),
            method.order.mean,
            method.direction.mean,
            with_spread(method.seconds),
        );
    }
    for (what, calibration) in [
        ("links", &report.links),
        ("directions", &report.directions),
        ("trackways", &report.wholes),
    ] {
        print_calibration(what, calibration);
    }
    println!();
}

fn with_spread(mean: Mean) -> String {
    format!("{:.3} ± {:.3}", mean.mean, mean.sd)
}

/// Prints the reliability of the link probabilities of medium and hard surfaces together, if both were run.
pub fn print_reliability(reports: &[ClassReport]) {
    let of = |class: Class| reports.iter().find(|report| report.class == class);
    if let (Some(medium), Some(hard)) = (of(Class::Medium), of(Class::Hard)) {
        let together = Calibration::together(&[&medium.links, &hard.links]);
        println!("medium and hard together");
        print_calibration("links", &together);
    }
}

fn print_calibration(what: &str, calibration: &Calibration) {
    println!(
        "  probabilities of {what}: expected calibration error {:.4}",
        calibration.error()
    );
    println!("    {:<14}{:>8}{:>10}{:>8}", "class", "stated", "observed", "n");
    for bin in calibration.bins.iter().filter(|bin| bin.count > 0.0) {
        let class = format!("{:.1} to {:.1}", bin.from, bin.to);
        println!(
            "    {class:<14}{:>8.3}{:>10.3}{:>8}",
            bin.given, bin.right, bin.count
        );
    }
}
