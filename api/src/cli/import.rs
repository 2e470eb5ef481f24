//! `stridebed import`.

use super::north::{NorthArgs, as_options, tell_declination, tell_weak_compass};
use super::table::counted;
use super::{Desk, Done, for_machines, say};
use crate::intake::{North, Report, SheetFormat, SheetOptions, Turned, check_sheet, take_sheet};
use crate::problem::Problem;
use crate::store::Tally;
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;
use spatial::model::{Site, Slug};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

#[derive(Args)]
pub(super) struct Import {
    /// The site
    site: Slug,
    /// The sheet: CSV, or GeoJSON where its name ends so; - reads the standard input
    file: PathBuf,
    /// What the sheet is written in, where its name does not tell
    #[arg(long, value_parser = clap::builder::PossibleValuesParser::new(["csv", "geojson"]))]
    format: Option<String>,
    #[command(flatten)]
    north: NorthArgs,
    /// Only look for faults; store nothing
    #[arg(long)]
    check: bool,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl Import {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let north = self.north.north();
        for_machines(self.json, self.take(desk, north))
    }

    fn take(&self, desk: &Desk, north: North) -> Result<(), Problem> {
        let format = self.format()?;
        let catalogue = desk.catalogue()?;
        let listing = catalogue.listing()?;
        let missing = || {
            Problem::not_found(format!(
                "There is no site {0}. Add it first: `stridebed site add {0} --crs EPSG:…`.",
                self.site
            ))
        };
        let site = listing.site(&self.site).ok_or_else(missing)?;
        let (sheet, size) = opened(&self.file)?;
        let bar = bar(size);
        let told = |bytes| bar.set_position(bytes);
        let options = SheetOptions {
            progress: Some(&told),
            north,
        };
        if self.check {
            return self.look(site, format, sheet, &options);
        }
        let change = desk.change(format!("import {}{}", self.file.display(), as_options(north)));
        let report = take_sheet(catalogue.store(), site, format, sheet, &options, &change);
        bar.finish_and_clear();
        let report = report?;
        if self.json {
            say(&json!(report).to_string())
        } else {
            tell(&report)
        }
        Ok(())
    }

    fn look(
        &self,
        site: &Site,
        format: SheetFormat,
        sheet: Box<dyn Read + Send>,
        options: &SheetOptions,
    ) -> Result<(), Problem> {
        let checked = check_sheet(site, format, sheet, options)?;
        if self.json {
            say(&json!(checked).to_string());
        } else {
            say(&format!(
                "No faults in {} and {}.",
                counted(checked.prints, "print"),
                counted(checked.extents, "extent")
            ));
            checked.azimuths.iter().for_each(tell_azimuths);
        }
        Ok(())
    }

    fn format(&self) -> Result<SheetFormat, Problem> {
        match self.format.as_deref() {
            Some("geojson") => Ok(SheetFormat::GeoJson),
            Some(_) => Ok(SheetFormat::Csv),
            None => SheetFormat::of_file(&self.file).ok_or_else(|| {
                Problem::bad_request(format!("The name {} does not tell what the sheet is written in; give --format csv or --format geojson.", self.file.display()))
            }),
        }
    }
}

pub(super) fn opened(file: &Path) -> Result<(Box<dyn Read + Send>, Option<u64>), Problem> {
    if file == Path::new("-") {
        return Ok((Box::new(std::io::stdin()), None));
    }
    let opened = File::open(file).and_then(|opened| Ok((opened.metadata()?, opened)));
    let (about, opened) = opened
        .map_err(|error| Problem::bad_request(format!("{} cannot be read: {error}.", file.display())))?;
    if about.is_dir() {
        return Err(Problem::bad_request(format!(
            "{} is a folder, not a sheet.",
            file.display()
        )));
    }
    Ok((Box::new(opened), Some(about.len())))
}

/// A bar on a terminal; nothing where the standard error output is a file.
fn bar(size: Option<u64>) -> ProgressBar {
    let style = |template: &str| {
        ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar())
    };
    let bar = match size {
        Some(size) => {
            ProgressBar::new(size).with_style(style("{wide_bar} {bytes} of {total_bytes}, {eta} left"))
        }
        None => ProgressBar::new_spinner().with_style(style("{spinner} {bytes} read")),
    };
    bar.enable_steady_tick(Duration::from_millis(200));
    bar
}

fn tell(Report { taken, azimuths }: &Report) {
    let line = |noun: &str, tally: &Tally| {
        format!(
            "{noun}: {} added, {} changed, {} unchanged",
            tally.added, tally.changed, tally.unchanged
        )
    };
    say(&line("prints", &taken.prints));
    for (noun, tally) in [("extents", &taken.extents), ("trackways", &taken.trackways)] {
        if *tally != Tally::default() {
            say(&line(noun, tally));
        }
    }
    if taken.surfaces_added > 0 {
        say(&format!("{} made", counted(taken.surfaces_added, "surface")));
    }
    azimuths.iter().for_each(tell_azimuths);
}

fn tell_azimuths(azimuths: &Turned) {
    let Turned { turned, north, .. } = azimuths;
    let (Some(least), Some(greatest)) = (azimuths.least_turn_deg, azimuths.greatest_turn_deg) else {
        say(&format!("azimuths: none to turn from {north} to grid north"));
        return;
    };
    say(&format!(
        "azimuths: {turned} turned from {north} to grid north, by {least:+.3}° to {greatest:+.3}° (clockwise positive)"
    ));
    azimuths.declination_sd_deg.into_iter().for_each(tell_declination);
    match azimuths.weak_compass {
        0 => {}
        1 => tell_weak_compass("one of them was"),
        several => tell_weak_compass(&format!("{several} of them were")),
    }
}
