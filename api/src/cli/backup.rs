//! `stridebed backup`.

use super::{Desk, Done, say, unopened};
use crate::problem::Problem;
use crate::store::{StoreLocation, back_up};
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use std::path::{Path, PathBuf};

#[derive(Args)]
pub(super) struct Backup {
    /// The file to copy the store into
    file: PathBuf,
    /// Replace the file where it is there already
    #[arg(long)]
    force: bool,
}

impl Backup {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let location = desk.location()?;
        let StoreLocation::File(store) = &location else {
            return Err(Problem::bad_request(format!(
                "{location} is a database; copy it with its own program: pg_dump --format=custom --schema=stridebed \
                 --file={} and the database's address, and bring it back with pg_restore.",
                self.file.display()
            ))
            .into());
        };
        if self.file.exists() && !self.force {
            return Err(Problem::bad_request(format!(
                "{} is there already; name another file, or replace it with --force.",
                self.file.display()
            ))
            .into());
        }
        self.copy(store)?;
        say(&format!("Copied {location} into {}.", self.file.display()));
        Ok(())
    }

    /// Copies beside the file and renames, so that a failure leaves the older file and never half of one.
    fn copy(&self, store: &Path) -> Result<(), Problem> {
        let unwritten = |error: &std::io::Error| {
            Problem::bad_request(format!("{} cannot be written: {error}.", self.file.display()))
        };
        let folder = self.file.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = tempfile::Builder::new()
            .prefix(".stridebed-backup-")
            .tempdir_in(folder.unwrap_or(Path::new(".")))
            .map_err(|error| unwritten(&error))?;
        let copy = folder.path().join("copy.db");
        let style = ProgressStyle::with_template("{bar:30} {percent} %, {eta} left");
        let bar = ProgressBar::new(0).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        back_up(store, &copy, &|left, all| {
            bar.set_length(all.unsigned_abs().into());
            bar.set_position((all - left).unsigned_abs().into());
        })
        .map_err(unopened)?;
        bar.finish_and_clear();
        let file = std::fs::File::open(&copy).and_then(|file| file.sync_all());
        file.and_then(|()| std::fs::rename(&copy, &self.file))
            .map_err(|error| unwritten(&error))
    }
}
