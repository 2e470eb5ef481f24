//! `stridebed export`.

use super::table::counted;
use super::{Desk, Done, say};
use crate::export::ExportFormat;
use crate::problem::Problem;
use clap::Args;
use jiff::Timestamp;
use spatial::model::Slug;
use std::fs::File;
use std::path::{Path, PathBuf};

#[derive(Args)]
pub(super) struct Export {
    /// The site
    site: Slug,
    /// csv is the prints as a sheet, geojson the prints and the extents, gpkg a GeoPackage with all layers, dwca a Darwin Core
    /// archive of an open or generalised site
    #[arg(long, value_parser = clap::builder::PossibleValuesParser::new(ExportFormat::ALL.map(ExportFormat::name)))]
    format: String,
    /// The site as it was then: a time as in 2026-05-01T16:30:00Z, or the end of a day
    #[arg(long, value_name = "TIME", value_parser = super::moment)]
    as_of: Option<Timestamp>,
    /// The file to write; the standard output where there is none
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

impl Export {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let catalogue = desk.catalogue_as_of(self.as_of)?;
        let site = catalogue
            .site_seen_whole(&self.site)?
            .ok_or_else(|| Problem::not_found(format!("There is no site {}.", self.site)))?;
        let format = ExportFormat::named(&self.format)
            .ok_or_else(|| Problem::bad_request("There is no such format."))?;
        let folder = self.out.as_deref().map_or(Ok(std::env::temp_dir()), beside)?;
        let name = self.out.as_deref().unwrap_or(Path::new("the standard output"));
        // Written elsewhere and moved, so that a failure leaves the older file and never half of one.
        let folder = tempfile::Builder::new()
            .prefix(".stridebed-export-")
            .tempdir_in(folder)
            .map_err(|error| unwritten(name, &error))?;
        let written = folder.path().join("export");
        let exported = format.write(&catalogue, &site, &written)?;
        let Some(path) = &self.out else {
            let copied = File::open(&written)
                .and_then(|mut file| std::io::copy(&mut file, &mut std::io::stdout().lock()));
            copied.map_err(|error| unwritten(name, &error))?;
            return Ok(());
        };
        std::fs::rename(&written, path).map_err(|error| unwritten(path, &error))?;
        let (prints, extents) = (
            counted(exported.prints, "print"),
            counted(exported.extents, "extent"),
        );
        say(&format!("Wrote {prints} and {extents} into {}.", path.display()));
        Ok(())
    }
}

/// The folder that a file is to lie in.
fn beside(path: &Path) -> Result<PathBuf, Problem> {
    if path.is_dir() {
        return Err(Problem::bad_request(format!(
            "{} is a folder; name a file.",
            path.display()
        )));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    Ok(folder.unwrap_or(Path::new(".")).to_owned())
}

fn unwritten(path: &Path, error: &std::io::Error) -> Problem {
    Problem::bad_request(format!("{} cannot be written: {error}.", path.display()))
}
