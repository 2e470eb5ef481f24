//! `stridebed ledger`.

use super::table::table;
use super::{Desk, Done, for_machines, say};
use crate::problem::Problem;
use crate::store::Store;
use clap::Args;
use serde_json::json;

/// Lists who wrote over HTTP and who was refused.
#[derive(Args)]
pub(super) struct Ledger {
    /// How many lines at most, the newest first
    #[arg(long, default_value_t = 50)]
    limit: usize,
    /// Only accesses that were refused
    #[arg(long)]
    refused: bool,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl Ledger {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let store = desk.store()?;
        for_machines(self.json, self.list(&*store))
    }

    fn list(&self, store: &dyn Store) -> Result<(), Problem> {
        let mut lines = store
            .gatekeeper()
            .ledger(if self.refused { usize::MAX >> 1 } else { self.limit })?;
        if self.refused {
            lines.retain(|line| line.refused());
            lines.truncate(self.limit);
        }
        if self.json {
            say(&json!(lines).to_string());
            return Ok(());
        }
        let mut rows = table(["at", "who", "address", "site", "request", "status"]);
        for line in lines {
            rows.add_row([
                line.at.to_string(),
                line.who.unwrap_or_default(),
                line.address.unwrap_or_default(),
                line.site.unwrap_or_default(),
                format!("{} {}", line.method, line.path),
                line.status.to_string(),
            ]);
        }
        say(&rows.to_string());
        Ok(())
    }
}
