//! Measures the continuation and linking of trackways on simulated surfaces.

use clap::Parser;
use tests::eval::Class;
use tests::onward::{OnwardReport, evaluate_onward, print_onward};

/// Measures how well trackways are continued and linked, on simulated surfaces with known truth.
///
/// Prints, for each class of surfaces: how often hidden prints lie in the regions predicted for them, step by step; how often
/// the true next print is the first candidate, and how often "none of these" is said where it is not there; and how well
/// trackways are found again behind covered bands. The surfaces are invented and drawn from seeds.
#[derive(Debug, Parser)]
struct Arguments {
    /// A small part of the run, in some seconds.
    #[arg(long)]
    short: bool,
    /// One JSON document instead of tables.
    #[arg(long)]
    json: bool,
    /// Surfaces of each class [default: 40, or 3 with --short].
    #[arg(long)]
    surfaces: Option<usize>,
    /// Prints of each surface [default: 1000, or 300 with --short].
    #[arg(long)]
    prints: Option<usize>,
    /// The first surface's seed.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let surfaces = arguments.surfaces.unwrap_or(if arguments.short { 3 } else { 40 });
    let prints = arguments
        .prints
        .unwrap_or(if arguments.short { 300 } else { 1000 });
    let mut reports: Vec<OnwardReport> = Vec::new();
    for class in [Class::Easy, Class::Medium, Class::Hard] {
        let report = evaluate_onward(class, prints, surfaces, arguments.seed);
        if !arguments.json {
            print_onward(&report);
        }
        reports.push(report);
    }
    if arguments.json {
        println!("{}", serde_json::to_string_pretty(&reports)?);
    }
    Ok(())
}
