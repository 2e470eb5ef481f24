//! `stridebed plan`.

use super::{Desk, Done, say};
use crate::problem::Problem;
use clap::Args;
use jiff::Timestamp;
use std::path::PathBuf;

#[derive(Args)]
pub(super) struct Plan {
    /// The surface, as in gannet-ledge:S2
    surface: String,
    /// The surface as it was then: a time as in 2026-05-01T16:30:00Z, or the end of a day
    #[arg(long, value_name = "TIME", value_parser = super::moment)]
    as_of: Option<Timestamp>,
    /// The file to draw into; - writes to the standard output
    #[arg(long, value_name = "FILE")]
    svg: PathBuf,
}

impl Plan {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let picture = crate::plan::of_surface(&desk.catalogue_as_of(self.as_of)?, &self.surface)?;
        if self.svg.as_os_str() == "-" {
            say(&picture);
            return Ok(());
        }
        std::fs::write(&self.svg, picture).map_err(|error| {
            Problem::bad_request(format!("{} cannot be written: {error}.", self.svg.display()))
        })?;
        say(&format!("Drew {} into {}.", self.surface, self.svg.display()));
        Ok(())
    }
}
