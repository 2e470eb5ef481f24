//! The options that name a north.

use super::{Cli, say};
use crate::intake::{North, NorthFault};
use clap::builder::PossibleValuesParser;
use clap::error::ErrorKind;
use clap::{Args, CommandFactory};

/// The north that azimuths are counted from.
#[derive(Args)]
pub(super) struct NorthArgs {
    /// The north that azimuths are counted from; grid where it is not given
    #[arg(long, value_parser = PossibleValuesParser::new(North::NAMES))]
    north: Option<String>,
    /// With magnetic north, the day of the survey, as in 2026-05-01; what has a day of its own keeps to that
    #[arg(long, value_name = "DAY")]
    surveyed_on: Option<String>,
}

impl NorthArgs {
    /// Whether any of them is given.
    pub(super) fn is_given(&self) -> bool {
        self.north.is_some() || self.surveyed_on.is_some()
    }

    /// The north; ends the program as any wrong usage does where they contradict each other.
    pub(super) fn north(&self) -> North {
        let north = North::named(self.north.as_deref(), self.surveyed_on.as_deref());
        north.unwrap_or_else(|fault| {
            let kind = match fault {
                NorthFault::NotMagnetic => ErrorKind::ArgumentConflict,
                NorthFault::Name(_) | NorthFault::Day(..) => ErrorKind::ValueValidation,
            };
            wrong_usage(kind, &fault.to_string())
        })
    }
}

/// Ends the program with a wrong usage that only several options together show.
pub(super) fn wrong_usage(kind: ErrorKind, words: &str) -> ! {
    Cli::command().error(kind, words).exit()
}

/// The options that say this north, as in ` --north magnetic --surveyed-on 2026-05-01`; nothing for grid north.
pub(super) fn as_options(north: North) -> String {
    let option = |(name, value): (&str, String)| format!(" --{} {value}", name.replace('_', "-"));
    north.options().into_iter().map(option).collect()
}

/// Tells how far declinations can be off.
pub(super) fn tell_declination(sd_deg: f64) {
    say(&format!(
        "declination: standard error up to {sd_deg:.2}° by the World Magnetic Model's own account; iron, cables and magnetic rock near by come on top"
    ));
}

/// Tells what was read with a sluggish compass, as in `the strike was`.
pub(super) fn tell_weak_compass(what: &str) {
    say(&format!(
        "note: {what} read where the horizontal magnetic field is weak (2000 to 6000 nT): a compass is sluggish there, and the model less exact"
    ));
}
