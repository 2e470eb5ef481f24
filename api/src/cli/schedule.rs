//! `stridebed schedule`.

use super::log::Log;
use super::span::some_span;
use super::table::counted;
use super::{Desk, Done, Failure, for_machines, say, signals};
use crate::catalogue::Catalogue;
use crate::jobs::{Bell, Scheduled, schedule};
use crate::problem::Problem;
use clap::Args;
use serde_json::json;
use std::sync::Arc;
use std::time::Duration;

#[derive(Args)]
#[command(
    after_help = "A review groups a surface's prints, keeps what is new as proposals, and links its trackways across gaps; the links \
    are the result of its job. Workers do it: `stridebed serve` has one inside, `stridebed work` is one."
)]
pub(super) struct Schedule {
    /// Do it again and again, as in 1d or 12h, until told to stop; otherwise once
    #[arg(long, value_name = "SPAN", value_parser = some_span)]
    every: Option<Duration>,
    /// Do it once (the default)
    #[arg(long, conflicts_with = "every")]
    once: bool,
    /// Write JSON for machines
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    log: Log,
}

impl Schedule {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let catalogue = for_machines(self.json, desk.catalogue())?;
        match self.every {
            None => for_machines(self.json, self.schedule(&catalogue, &desk.by)),
            Some(every) => self.again_and_again(every, &catalogue, &desk.by),
        }
    }

    fn schedule(&self, catalogue: &Catalogue, by: &str) -> Result<(), Problem> {
        let scheduled = schedule(catalogue, by)?;
        if self.json {
            say(&report(&scheduled));
        } else {
            let count = |count: usize| counted(count as u64, "surface");
            say(&format!(
                "{} to be reviewed, {} waiting already, {} not moved.",
                count(scheduled.reviews.len()),
                scheduled.waiting,
                scheduled.unmoved
            ));
        }
        Ok(())
    }

    fn again_and_again(&self, every: Duration, catalogue: &Catalogue, by: &str) -> Done {
        self.log.begin();
        let bell = Arc::new(Bell::default());
        let stop = bell.clone();
        signals::on_stop(move || stop.stop());
        while !bell.stopped() {
            // A store that cannot be reached tonight can be tomorrow.
            if let Err(problem) = self.schedule(catalogue, by) {
                Failure {
                    problem,
                    json: self.json,
                }
                .tell();
            }
            bell.wait(bell.rung(), every);
        }
        Ok(())
    }
}

fn report(scheduled: &Scheduled) -> String {
    let reviews = scheduled.reviews.iter();
    let reviews: Vec<_> = reviews
        .map(|(surface, job)| json!({ "surface": surface, "job": job.as_str() }))
        .collect();
    json!({ "reviews": reviews, "waiting": scheduled.waiting, "unmoved": scheduled.unmoved }).to_string()
}
