//! The report as tables for people.

use super::{Calibration, ClassReport, Mean};

/// Prints the tables of one class on standard output.
pub fn print_tables(report: &ClassReport) {
    println!(
        "{}: {} surfaces of about {} prints",
        report.class.name(),
        report.surfaces,
        report.prints
    );
    println!(
        "  {:<20}{:>13}{:>13}{:>13}{:>8}{:>11}{:>10}",
        "method", "precision", "recall", "F1", "order", "direction", "seconds"
    );
    for method in &report.methods {
        println!(
            "  {:<20}{:>13}{:>13}{:>13}{:>8.3}{:>11.3}{:>10.4}",
            method.method,
            with_spread(method.precision),
            with_spread(method.recall),
            with_spread(method.f1),
            method.order.mean,
            method.direction.mean,
            method.seconds.mean,
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

fn print_calibration(what: &str, calibration: &Calibration) {
    println!(
        "  probabilities of {what} (mean error {:.3})",
        calibration.error()
    );
    for bin in calibration.bins.iter().filter(|bin| bin.count > 0.0) {
        println!(
            "    {:.2} to {:.2}: {:>7} given {:.3} on average, {:.3} right",
            bin.from, bin.to, bin.count, bin.given, bin.right
        );
    }
}
