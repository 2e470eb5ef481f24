//! `stridebed trackways list|propose|accept|reject`.

use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::catalogue::Catalogue;
use crate::problem::Problem;
use crate::query::{Proposals, proposals};
use crate::store::{Change, Tally, Verdict};
use clap::{Args, Subcommand};
use indicatif::{ProgressBar, ProgressIterator};
use serde_json::{Map, Value, json};
use spatial::model::{SurfaceId, TrackwayId};

#[derive(Subcommand)]
pub(super) enum TrackwaysCommand {
    /// List the trackways of a surface, or of all surfaces of a site
    List(List),
    /// Group the prints of a surface, or of all surfaces of a site, and keep the result as proposals
    Propose(Propose),
    /// Accept trackways: they stand, and no later proposal takes their prints
    Accept(Judge),
    /// Reject trackways: they are kept with their history, and not proposed again
    Reject(Judge),
}

#[derive(Args)]
pub(super) struct List {
    /// A surface, as in gannet-ledge:S2, or a site
    place: String,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

#[derive(Args)]
pub(super) struct Propose {
    /// A surface, as in gannet-ledge:S2, or a site for all its surfaces
    place: String,
    /// The seed of the random draws behind the probabilities
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

#[derive(Args)]
pub(super) struct Judge {
    /// The trackways, as in gannet-ledge:S2:G4
    #[arg(required = true)]
    trackways: Vec<TrackwayId>,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl TrackwaysCommand {
    pub(super) fn run(self, desk: &Desk) -> Done {
        match self {
            Self::List(list) => for_machines(list.json, list.list(desk)),
            Self::Propose(propose) => for_machines(propose.json, propose.propose(desk)),
            Self::Accept(judge) => for_machines(judge.json, judge.judge(desk, Verdict::Accept)),
            Self::Reject(judge) => for_machines(judge.json, judge.judge(desk, Verdict::Reject)),
        }
    }
}

impl List {
    fn list(&self, desk: &Desk) -> Result<(), Problem> {
        let catalogue = desk.catalogue()?;
        let mut all = Vec::new();
        let mut rows = table([
            "trackway",
            "prints",
            "morphotype",
            "basis",
            "status",
            "probability",
            "judged by",
        ]);
        for surface in surfaces(&catalogue, &self.place)? {
            let index = catalogue.index(&surface)?;
            for trackway in index.trackways() {
                let id = format!("{surface}:{}", trackway.label);
                rows.add_row([
                    id.clone(),
                    trackway.prints.len().to_string(),
                    index.morphotype_of(trackway).unwrap_or("–").to_owned(),
                    trackway.basis.to_string(),
                    trackway.status.to_string(),
                    trackway
                        .probability
                        .map_or("–".to_owned(), |probability| format!("{probability:.2}")),
                    trackway.judged_by.clone().unwrap_or_else(|| "–".to_owned()),
                ]);
                let mut record = json!(trackway);
                record["id"] = json!(id);
                all.push(record);
            }
        }
        say(&if self.json {
            Value::from(all).to_string()
        } else {
            rows.to_string()
        });
        Ok(())
    }
}

impl Judge {
    /// Judges one after the other; the first that is refused ends it, and those before it stay judged.
    fn judge(&self, desk: &Desk, verdict: Verdict) -> Result<(), Problem> {
        let (word, done) = match verdict {
            Verdict::Accept => ("accept", "Accepted"),
            Verdict::Reject => ("reject", "Rejected"),
        };
        let store = desk.store()?;
        let mut judged = Vec::new();
        for id in &self.trackways {
            let change = desk.change(format!("trackways {word} {id}"));
            let trackway = store.judge(id, verdict, None, &change)?;
            if !self.json {
                say(&format!("{done} {id}, revision {}.", trackway.revision));
            }
            let mut record = json!(trackway);
            record["id"] = json!(id);
            judged.push(record);
        }
        if self.json {
            say(&Value::from(judged).to_string());
        }
        Ok(())
    }
}

impl Propose {
    fn propose(&self, desk: &Desk) -> Result<(), Problem> {
        let catalogue = desk.catalogue()?;
        let surfaces = surfaces(&catalogue, &self.place)?;
        let change = desk.change(format!("trackways propose {}", self.place));
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
    let found = proposals(&index, seed)?;
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
