//! `stridebed history`.

use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::problem::Problem;
use crate::store::{RecordId, Revision, Store};
use clap::Args;
use serde_json::json;
use spatial::model::{PrintId, SurfaceId};

#[derive(Args)]
pub(super) struct History {
    /// The record: a site, a surface (site:surface), or a print, trackway or extent (site:surface:label)
    id: String,
    /// Write JSON for machines, each revision with its whole record
    #[arg(long)]
    json: bool,
}

impl History {
    pub(super) fn run(self, desk: &Desk) -> Done {
        for_machines(self.json, self.tell(desk))
    }

    fn tell(&self, desk: &Desk) -> Result<(), Problem> {
        let store = desk.store()?;
        let revisions = found(&*store, &self.id)?;
        if revisions.is_empty() {
            return Err(Problem::not_found(format!("There is no record {:?}.", self.id)));
        }
        if self.json {
            say(&json!(revisions).to_string());
            return Ok(());
        }
        let mut rows = table(["revision", "when", "who", "by"]);
        for revision in revisions {
            rows.add_row([
                revision.revision.to_string(),
                revision.at.to_string(),
                revision.author,
                revision.deed,
            ]);
        }
        say(&rows.to_string());
        Ok(())
    }
}

/// The history of the record with this id; labels of prints, trackways and extents are tried in this order.
fn found(store: &dyn Store, id: &str) -> Result<Vec<Revision>, Problem> {
    if let Ok(PrintId { surface, label }) = id.parse() {
        let kinds = [RecordId::Print, RecordId::Trackway, RecordId::Extent];
        for kind in kinds {
            let revisions = store.history(&kind(surface.clone(), label.clone()))?;
            if !revisions.is_empty() {
                return Ok(revisions);
            }
        }
        return Ok(Vec::new());
    }
    let record = match id.parse::<SurfaceId>() {
        Ok(surface) => RecordId::Surface(surface),
        Err(_) => RecordId::Site(
            id.parse()
                .map_err(|fault| Problem::bad_request(format!("{fault}.")))?,
        ),
    };
    Ok(store.history(&record)?)
}
