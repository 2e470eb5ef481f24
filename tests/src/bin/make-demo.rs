//! Writes the demonstration data, or checks that the files on disk are what it would write.

use anyhow::{Context, bail};
use clap::Parser;
use std::path::PathBuf;
use tests::demo;

/// Writes the demonstration data: three invented sites with field sheets, extents and records.
#[derive(Debug, Parser)]
struct Args {
    /// The folder of the files
    #[arg(long, value_name = "FOLDER", default_value = "fixtures/demo")]
    out: PathBuf,
    /// Write nothing; fail where a file is missing or differs from what would be written
    #[arg(long)]
    check: bool,
}

fn main() -> anyhow::Result<()> {
    let Args { out, check } = Args::parse();
    if !check {
        demo::write(&out).with_context(|| format!("{} cannot be written", out.display()))?;
        println!("{} files in {}", demo::files().len(), out.display());
        return Ok(());
    }
    let differing = demo::differing(&out).with_context(|| format!("{} cannot be read", out.display()))?;
    if !differing.is_empty() {
        bail!(
            "not as make-demo writes them, in {}: {}",
            out.display(),
            differing.join(", ")
        );
    }
    println!("the files in {} are as make-demo writes them", out.display());
    Ok(())
}
