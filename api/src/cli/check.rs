//! `stridebed check`.

use super::table::{counted, table};
use super::{Desk, Done, Failure, say};
use crate::problem::Problem;
use crate::store::check;
use clap::Args;
use indicatif::ProgressBar;
use serde_json::json;

#[derive(Args)]
pub(super) struct Check {
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
}

impl Check {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let store = desk.store()?;
        let bar = ProgressBar::new_spinner();
        let findings = check(&*store, &|read| {
            if read % 10_000 == 0 {
                bar.set_message(format!("{read} parts of the record"));
                bar.tick();
            }
        })?;
        bar.finish_and_clear();
        if self.json {
            say(&json!(findings).to_string());
        } else if findings.is_empty() {
            say("Nothing is wrong.");
        } else {
            let mut rows = table(["about", "wrong"]);
            for finding in &findings {
                rows.add_row([&finding.about, &finding.wrong]);
            }
            say(&rows.to_string());
        }
        if findings.is_empty() {
            return Ok(());
        }
        let found = counted(findings.len() as u64, "finding");
        Err(Failure {
            problem: Problem::bad_request(format!(
                "{found}. Keep the store as it is, and a copy of it, until it is known why."
            )),
            json: false,
        })
    }
}
