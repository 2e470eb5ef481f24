//! `stridebed plan`.

use super::{Desk, Done, say};
use crate::collection::Bbox;
use crate::feature::OutputCrs;
use crate::plan::USUAL_WIDTH;
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
    /// The part to draw: lower and upper corner, separated by commas, in longitude and latitude or in the CRS of --bbox-crs
    #[arg(long, value_name = "BOX", allow_hyphen_values = true)]
    bbox: Option<String>,
    /// The CRS of --bbox, as in EPSG:25830
    #[arg(long, value_name = "CRS", requires = "bbox")]
    bbox_crs: Option<String>,
    /// How wide the page is, 480 to 4000 pixels; letters keep their size
    #[arg(long, value_name = "PIXELS", default_value_t = USUAL_WIDTH)]
    width: f64,
    /// The file to draw into; - writes to the standard output
    #[arg(long, value_name = "FILE")]
    svg: PathBuf,
}

impl Plan {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let catalogue = desk.catalogue_as_of(self.as_of)?;
        let bbox = self.bbox()?;
        let picture = crate::plan::of_surface(&catalogue, &self.surface, bbox.as_ref(), Some(self.width))?;
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

    fn bbox(&self) -> Result<Option<Bbox>, Problem> {
        let crs = self.bbox_crs.as_deref().map_or(Ok(OutputCrs::Crs84), |text| {
            OutputCrs::parse(text)
                .map_err(|fault| Problem::bad_request(format!("--bbox-crs {text}: {fault}.")))
        })?;
        let bbox = self.bbox.as_deref().map(|text| Bbox::parse(text, crs));
        bbox.transpose()
            .map_err(|expected| Problem::bad_request(format!("--bbox does not fit: expected {expected}.")))
    }
}
