//! `stridebed store`.

use super::table::counted;
use super::{Desk, Done, for_machines, located, opened, say, unopened};
use crate::problem::Problem;
use crate::store::{Copied, copy};
use clap::{Args, Subcommand};
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;
use std::time::Duration;

/// Each store is a file, or postgres://USER@HOST/DATABASE with the password in $PGPASSWORD.
#[derive(Subcommand)]
pub(super) enum StoreCommand {
    /// Copy the whole record, with all revisions and who made them, into an empty store
    Copy(Copy),
}

#[derive(Args)]
#[command(
    after_help = "A store is a file, or postgres://USER@HOST/DATABASE with the password in $PGPASSWORD. \
    The one to copy into is made where it is not there yet; it is filled whole or not at all."
)]
pub(super) struct Copy {
    /// The store to copy
    #[arg(value_name = "FROM")]
    from: String,
    /// The store to copy into
    #[arg(value_name = "TO")]
    to: String,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl StoreCommand {
    pub(super) fn run(self, _: &Desk) -> Done {
        match self {
            Self::Copy(command) => for_machines(command.json, command.run()),
        }
    }
}

impl Copy {
    fn run(&self) -> Result<(), Problem> {
        // Both are read before either is opened: a slip in the second makes nothing.
        let (from, to) = (located(&self.from)?, located(&self.to)?);
        let source = opened(&from)?;
        let target = to.open().map_err(unopened)?;
        let bar = ProgressBar::new_spinner().with_style(
            ProgressStyle::with_template("{spinner} {human_pos} records and revisions copied, {elapsed}")
                .unwrap_or_else(|_| ProgressStyle::default_bar()),
        );
        bar.enable_steady_tick(Duration::from_millis(200));
        let copied = copy(&*source, &*target, &|copied| bar.set_position(copied.total()));
        bar.finish_and_clear();
        let copied = copied?;
        if self.json {
            say(&json!(copied).to_string());
        } else {
            tell(&copied);
            say(&format!("Copied from {from} to {to}."));
        }
        Ok(())
    }
}

fn tell(copied: &Copied) {
    let lines = [
        (copied.sites, "site"),
        (copied.surfaces, "surface"),
        (copied.extents, "extent"),
        (copied.prints, "print"),
        (copied.trackways, "trackway"),
        (copied.past, "past revision"),
        (copied.changes, "change"),
    ];
    for (count, noun) in lines {
        say(&counted(count, noun));
    }
}
