//! `stridebed group`.

use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::catalogue::Catalogue;
use crate::problem::Problem;
use crate::query::{Proposals, proposals};
use crate::store::{Change, Tally};
use clap::Args;
use indicatif::{ProgressBar, ProgressIterator};
use serde_json::{Map, Value, json};
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
            let (found, tally) = keep(&catalogue, surface, self.seed, &change)?;
            kept.push((surface, found, tally));
        }
        if self.json {
            let all: Map<String, Value> = kept
                .iter()
                .map(|(id, found, tally)| (id.to_string(), report(found, tally)))
                .collect();
            say(&Value::from(all).to_string());
            return Ok(());
        }
        let mut rows = table([
            "surface",
            "trackways",
            "ungrouped",
            "new proposals",
            "changed",
            "unchanged",
        ]);
        for (surface, found, tally) in kept {
            let counts = [
                found.all.len() as u64,
                found.ungrouped as u64,
                tally.added,
                tally.changed,
                tally.unchanged,
            ];
            rows.add_row(std::iter::once(surface.to_string()).chain(counts.map(|count| count.to_string())));
        }
        say(&rows.to_string());
        Ok(())
    }
}

fn report(found: &Proposals, tally: &Tally) -> Value {
    let mut report = json!(tally);
    report["trackways"] = json!(found.all.len());
    report["ungrouped"] = json!(found.ungrouped);
    report
}

/// Groups a surface and keeps what is new as proposals.
pub(super) fn keep(
    catalogue: &Catalogue,
    surface: &SurfaceId,
    seed: u64,
    change: &Change,
) -> Result<(Proposals, Tally), Problem> {
    let index = catalogue.index(surface)?;
    let found = proposals(&index, seed);
    let tally = catalogue.store().propose(surface, &found.new, change)?;
    Ok((found, tally))
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
