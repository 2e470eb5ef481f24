//! `stridebed group`.

use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::catalogue::Catalogue;
use crate::problem::Problem;
use crate::query::proposals;
use crate::store::{Change, Tally};
use clap::Args;
use indicatif::{ProgressBar, ProgressIterator};
use serde_json::json;
use spatial::model::SurfaceId;

#[derive(Args)]
pub(super) struct Group {
    /// A surface, as in gannet-ledge:S2, or a site for all its surfaces
    place: String,
    /// The seed of the random draws behind the probabilities
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl Group {
    pub(super) fn run(self, desk: &Desk) -> Done {
        for_machines(self.json, self.group(desk))
    }

    fn group(&self, desk: &Desk) -> Result<(), Problem> {
        let catalogue = desk.catalogue()?;
        let surfaces = surfaces(&catalogue, &self.place)?;
        let change = desk.change(format!("group {}", self.place));
        let mut kept = Vec::new();
        for surface in surfaces
            .iter()
            .progress_with(ProgressBar::new(surfaces.len() as u64))
        {
            kept.push((surface, keep(&catalogue, surface, self.seed, &change)?));
        }
        if self.json {
            let all: serde_json::Map<_, _> = kept
                .iter()
                .map(|(id, tally)| (id.to_string(), json!(tally)))
                .collect();
            say(&json!(all).to_string());
            return Ok(());
        }
        let mut rows = table(["surface", "proposed", "changed", "unchanged"]);
        for (surface, tally) in kept {
            rows.add_row([
                surface.to_string(),
                tally.added.to_string(),
                tally.changed.to_string(),
                tally.unchanged.to_string(),
            ]);
        }
        say(&rows.to_string());
        Ok(())
    }
}

/// Groups a surface and keeps the result as proposals.
pub(super) fn keep(
    catalogue: &Catalogue,
    surface: &SurfaceId,
    seed: u64,
    change: &Change,
) -> Result<Tally, Problem> {
    let index = catalogue.index(surface)?;
    Ok(catalogue
        .store()
        .propose(surface, &proposals(&index, seed), change)?)
}

fn surfaces(catalogue: &Catalogue, place: &str) -> Result<Vec<SurfaceId>, Problem> {
    let listing = catalogue.listing()?;
    if let Ok(id) = place.parse::<SurfaceId>() {
        let entry = listing
            .surface(&id)
            .ok_or_else(|| Problem::not_found(format!("There is no surface {id}.")))?;
        return Ok(vec![entry.summary.id.clone()]);
    }
    let slug = place
        .parse()
        .map_err(|fault| Problem::bad_request(format!("{fault}.")))?;
    listing
        .site(&slug)
        .ok_or_else(|| Problem::not_found(format!("There is no site {slug}.")))?;
    Ok(listing
        .surfaces_of(&slug)
        .map(|entry| entry.summary.id.clone())
        .collect())
}
