//! Measures how well encounters are told from chance, on simulated surfaces.

use clap::Parser;
use tests::encounters::convergence::{self, Effort};
use tests::encounters::grounds::Grounds;
use tests::encounters::{PLANTS, Uniform, pairs_by_chance, power};

/// Measures how well encounters are told from chance, on simulated surfaces.
///
/// Prints, for each kind of surfaces on which animals do not heed each other, whether the p of companions and followers are spread
/// evenly; how often animals that were planted side by side or one behind the other are found; and the same of places where
/// trackways meet. The surfaces are invented and drawn from seeds.
#[derive(Debug, Parser)]
struct Arguments {
    /// A small part of the run.
    #[arg(long)]
    short: bool,
    /// One JSON document instead of tables; that of convergence stays a table.
    #[arg(long)]
    json: bool,
    /// One of the tests; all without it.
    #[arg(long, value_parser = ["pairs-by-chance", "pairs-power", "convergence"])]
    test: Option<String>,
    /// Surfaces of each kind [default: 500, or 60 with --short].
    #[arg(long)]
    surfaces: Option<usize>,
    /// How often the paths of each are laid down by chance.
    #[arg(long, default_value_t = 199)]
    permutations: u32,
    /// The first surface's seed.
    #[arg(long, default_value_t = 1000)]
    seed: u64,
}

/// Each test by its name; it prints its table, or gives its part of the document.
type Test = (&'static str, fn(&Arguments) -> anyhow::Result<serde_json::Value>);
const TESTS: &[Test] = &[
    ("pairs-by-chance", by_chance),
    ("pairs-power", pairs_power),
    ("convergence", meeting),
];

fn main() -> anyhow::Result<()> {
    let arguments = Arguments::parse();
    let mut document = serde_json::Map::new();
    for (name, run) in TESTS {
        if arguments.test.as_deref().is_none_or(|test| test == *name) {
            document.insert((*name).to_owned(), run(&arguments)?);
        }
    }
    if arguments.json {
        println!("{}", serde_json::to_string_pretty(&document)?);
    }
    Ok(())
}

fn surfaces(arguments: &Arguments) -> usize {
    arguments
        .surfaces
        .unwrap_or(if arguments.short { 60 } else { 500 })
}

fn by_chance(arguments: &Arguments) -> anyhow::Result<serde_json::Value> {
    let mut all = Vec::new();
    if !arguments.json {
        println!(
            "{:30} {:>18} {:>18} {:>18} {:>18}",
            "p <= 0.05, KS p", "companions", "a pair", "followers", "a pair"
        );
    }
    for kind in Grounds::all() {
        let found = pairs_by_chance(&kind, surfaces(arguments), arguments.permutations, arguments.seed);
        if !arguments.json {
            let [a, b, c, d] = [
                &found.beside_surface,
                &found.beside_pair,
                &found.behind_surface,
                &found.behind_pair,
            ]
            .map(|uniform: &Uniform| format!("{:.3} {:.4}", uniform.at_most_5, uniform.ks_p));
            println!("{:30} {a:>18} {b:>18} {c:>18} {d:>18}", found.grounds);
        }
        all.push(found);
    }
    Ok(serde_json::to_value(all)?)
}

fn pairs_power(arguments: &Arguments) -> anyhow::Result<serde_json::Value> {
    let mut all = Vec::new();
    if !arguments.json {
        println!(
            "{:30} {:>10} {:>10} {:>12}",
            "found at 0.05", "surface", "pairs", "corrected"
        );
    }
    for plant in PLANTS {
        let found = power(
            *plant,
            surfaces(arguments),
            arguments.permutations,
            arguments.seed,
        );
        if !arguments.json {
            println!(
                "{:30} {:>10.3} {:>10.3} {:>12.3}",
                found.plant, found.surface, found.pairs, found.corrected
            );
        }
        all.push(found);
    }
    Ok(serde_json::to_value(all)?)
}

fn meeting(arguments: &Arguments) -> anyhow::Result<serde_json::Value> {
    if !arguments.json {
        let null_surfaces = surfaces(arguments) as u64;
        convergence::report(&Effort {
            null_surfaces,
            planted_surfaces: null_surfaces.div_ceil(5),
            permutations: arguments.permutations,
            seed: arguments.seed,
        });
    }
    Ok(serde_json::Value::Null)
}
