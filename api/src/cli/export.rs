//! `stridebed export`.

use super::table::counted;
use super::{Desk, Done, say};
use crate::export::{csv, geojson};
use crate::problem::Problem;
use clap::{Args, ValueEnum};
use spatial::model::Slug;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

#[derive(Args)]
pub(super) struct Export {
    /// The site
    site: Slug,
    /// CSV has the prints; GeoJSON has the prints and the extents
    #[arg(long, value_enum)]
    format: Format,
    /// The file to write; the standard output where there is none
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    Csv,
    Geojson,
}

impl Export {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let store = desk.store()?;
        if !store.sites()?.iter().any(|site| site.slug == self.site) {
            return Err(Problem::not_found(format!("There is no site {}.", self.site)).into());
        }
        let write = |out: &mut dyn Write| match self.format {
            Format::Csv => csv(&*store, &self.site, out),
            Format::Geojson => geojson(&*store, &self.site, out),
        };
        match &self.out {
            None => {
                let mut out = BufWriter::new(std::io::stdout().lock());
                write(&mut out)?;
                out.flush()
                    .map_err(|error| unwritten(Path::new("the standard output"), &error))?;
            }
            Some(path) => {
                let exported = whole(path, |out| Ok(write(out)?))?;
                let (prints, extents) = (
                    counted(exported.prints, "print"),
                    counted(exported.extents, "extent"),
                );
                say(&format!("Wrote {prints} and {extents} into {}.", path.display()));
            }
        }
        Ok(())
    }
}

/// Writes beside the file and renames, so that a failure leaves the older file and never half of one.
fn whole<T>(path: &Path, write: impl FnOnce(&mut dyn Write) -> Result<T, Problem>) -> Result<T, Problem> {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let beside = tempfile::NamedTempFile::new_in(folder).map_err(|error| unwritten(path, &error))?;
    let mut out = BufWriter::new(beside);
    let done = write(&mut out)?;
    let beside = out.into_inner().map_err(|error| unwritten(path, error.error()))?;
    beside
        .persist(path)
        .map(|_: File| ())
        .map_err(|error| unwritten(path, &error.error))?;
    Ok(done)
}

fn unwritten(path: &Path, error: &std::io::Error) -> Problem {
    Problem::bad_request(format!("{} cannot be written: {error}.", path.display()))
}
