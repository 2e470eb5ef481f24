//! Measures the grouping of prints on simulated surfaces, beside two baselines.

use clap::Parser;
use tests::eval::{Class, ClassReport, evaluate, print_reliability, print_tables};

/// Measures how well prints are grouped into trackways, on simulated surfaces with known truth.
///
/// Prints, for each class of surfaces, the pairwise precision, recall and F1 of "these two prints are of one
/// trackway", the part of pairs in the right order, the part of trackways in the right direction, and whether
/// the probabilities given come true; beside two baselines. The surfaces are invented and drawn from seeds.
#[derive(Debug, Parser)]
struct Arguments {
    /// A small part of the run, in some seconds.
    #[arg(long)]
    short: bool,
    /// One JSON document instead of tables.
    #[arg(long)]
    json: bool,
    /// Surfaces of each class [default: 20, or 3 with --short].
    #[arg(long)]
    surfaces: Option<usize>,
    /// Prints of each surface, about, where the class does not say it [default: 1000, or 300 with --short].
    #[arg(long)]
    prints: Option<usize>,
    /// The first surface's seed.
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let surfaces = arguments.surfaces.unwrap_or(if arguments.short { 3 } else { 20 });
    let prints = arguments
        .prints
        .unwrap_or(if arguments.short { 300 } else { 1000 });
    let mut reports: Vec<ClassReport> = Vec::new();
    for class in Class::ALL {
        let report = evaluate(class, prints, surfaces, arguments.seed);
        if !arguments.json {
            print_tables(&report);
        }
        reports.push(report);
    }
    if !arguments.json {
        print_reliability(&reports);
    }
    if arguments.json {
        println!("{}", serde_json::to_string_pretty(&reports)?);
    }
    Ok(())
}
