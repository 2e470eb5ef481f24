//! Measures how well encounters are told from chance, on simulated surfaces.

use clap::Parser;
use serde_json::json;
use tests::encounters::convergence::{Effort, meetings_by_chance, planted_foci};
use tests::encounters::grounds::Grounds;
use tests::encounters::{Family, PLANTS, PairsByChance, Uniform, pairs_by_chance, power};

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
    /// One JSON document instead of tables.
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
            let told = |uniform: &Uniform| format!("{:.3} {:.4}", uniform.at_most_5, uniform.ks_p);
            let [a, b, c, d] = found.all().map(told);
            println!("{:30} {a:>18} {b:>18} {c:>18} {d:>18}", found.grounds);
        }
        all.push(found);
    }
    let family = Family::of(all.iter().flat_map(PairsByChance::all));
    if !arguments.json {
        println!("{family}\n");
    }
    Ok(json!({ "kinds": all, "together": family }))
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
    let null_surfaces = surfaces(arguments) as u64;
    let effort = Effort {
        null_surfaces,
        planted_surfaces: null_surfaces.div_ceil(5),
        permutations: arguments.permutations,
        seed: arguments.seed,
    };
    Ok(json!({ "by_chance": meeting_by_chance(arguments, effort), "planted": planted(arguments, effort) }))
}

fn meeting_by_chance(arguments: &Arguments, effort: Effort) -> serde_json::Value {
    let mut all = Vec::new();
    if !arguments.json {
        println!(
            "{:34} {:>8} {:>6} {:>7}",
            "where no ways meet but by chance", "way", "KS p", "<=0.05"
        );
    }
    for found in meetings_by_chance(effort) {
        if !arguments.json {
            println!(
                "{:34} {:>8} {:>6.4} {:>7.3}",
                found.animals, found.way, found.p.ks_p, found.p.at_most_5
            );
        }
        all.push(found);
    }
    let family = Family::of(all.iter().map(|found| &found.p));
    if !arguments.json {
        println!("{family}\n");
    }
    json!({ "kinds": all, "together": family })
}

fn planted(arguments: &Arguments, effort: Effort) -> serde_json::Value {
    let mut all = Vec::new();
    if !arguments.json {
        println!(
            "planted foci among 15 others: found is the surface's p <= 0.05, named a focus of q <= 0.05 within 2 m"
        );
        println!(
            "{:>7} {:>8} {:>10} {:>8} {:>6} {:>6} {:>8} {:>8} {:>7}",
            "animals", "aim deg", "turn rad", "error m", "found", "named", "ellipse", "off m", "others"
        );
    }
    for found in planted_foci(effort) {
        let (planted, tally) = (found.planted, found.tally);
        if !arguments.json {
            println!(
                "{:>7} {:>8.1} {:>10.3} {:>8.2} {:>6.3} {:>6.3} {:>8.3} {:>8.2} {:>7.2}",
                planted.animals,
                planted.aim_sd_rad.to_degrees(),
                planted.heading_sd_rad,
                planted.position_sd_m,
                tally.found,
                tally.named,
                tally.in_ellipse,
                tally.off_m,
                tally.others,
            );
        }
        all.push(found);
    }
    json!(all)
}
