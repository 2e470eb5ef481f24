//! The command line: the same program, the same queries, the same bytes.
//!
//! Exit status: 0 done; 1 refused or failed (reasons on the standard error output, and as a problem
//! document on the standard output with `--json`); 2 wrong usage.

mod backup;
mod check;
mod demo;
mod door;
mod export;
mod health;
mod history;
mod import;
mod jobs;
mod ledger;
mod log;
mod north;
mod plan;
mod query;
mod schedule;
mod serve;
mod shown;
mod signals;
mod site;
mod span;
mod store;
mod surface;
mod table;
mod tie;
mod token;
mod trackways;
mod work;

use crate::access::Audience;
use crate::catalogue::{Catalogue, INDEX_MEMORY};
use crate::problem::Problem;
use crate::store::{Change, Store, StoreError, StoreLocation};
use clap::{CommandFactory, Parser, Subcommand};
use jiff::Timestamp;
use serde_json::Value;
use std::io::Write;
use std::process::ExitCode;
use std::sync::Arc;

/// Keeps fossil footprints in projected coordinates and answers what a track worker asks of a surface.
#[derive(Parser)]
#[command(name = "stridebed", version, about, propagate_version = true)]
struct Cli {
    /// Where the record is kept: a file, or postgres://USER@HOST/DATABASE with the password in $PGPASSWORD
    // The value of the environment may hold a password: help must not show it.
    #[arg(
        long,
        global = true,
        env = "STRIDEBED_STORE",
        hide_env_values = true,
        value_name = "PATH|URL"
    )]
    store: Option<String>,
    /// Who makes changes; kept beside each revision
    #[arg(long, global = true, env = "STRIDEBED_BY", value_name = "NAME")]
    by: Option<String>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Add, tie, list and show sites
    #[command(subcommand)]
    Site(site::SiteCommand),
    /// Describe and show surfaces
    #[command(subcommand)]
    Surface(surface::SurfaceCommand),
    /// Take a field sheet, whole or not at all
    Import(import::Import),
    /// Write a site's record as a field sheet or as GeoJSON
    Export(export::Export),
    /// Ask a query; without an id, list them
    Query(query::Query),
    /// List, propose, accept and reject trackways
    #[command(subcommand)]
    Trackways(trackways::TrackwaysCommand),
    /// Tell who changed a record, when and by what
    History(history::History),
    /// Draw a picture of a surface
    Plan(plan::Plan),
    /// Move the record between files and databases
    #[command(subcommand)]
    Store(store::StoreCommand),
    /// Serve the record over HTTP
    Serve(serve::Serve),
    /// Issue, list and revoke tokens
    #[command(subcommand)]
    Token(token::TokenCommand),
    /// List who wrote over HTTP, and who was refused
    Ledger(ledger::Ledger),
    /// Ask whether a running service can answer
    Health(health::Health),
    /// Copy the store's file while others write
    Backup(backup::Backup),
    /// Look whether the store is whole
    Check(check::Check),
    /// Do jobs from the queue; any number of machines may
    Work(work::Work),
    /// Put a review of each surface that has moved since its last one into the queue
    Schedule(schedule::Schedule),
    /// List, show and call off jobs
    #[command(subcommand)]
    Jobs(jobs::JobsCommand),
    /// Make a store with invented sites, group their prints, and serve it
    Demo(demo::Demo),
    /// Write the completions for a shell
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
}

/// The store, the words of the one who works with it, and whether machines read the output.
struct Desk {
    store: Option<String>,
    by: String,
}

/// What a command ends with: nothing, or a problem, told to machines as well where they asked.
type Done = Result<(), Failure>;

/// A problem, and whether its document goes to the standard output.
struct Failure {
    problem: Problem,
    json: bool,
}

impl<E: Into<Problem>> From<E> for Failure {
    fn from(problem: E) -> Self {
        Self {
            problem: problem.into(),
            json: false,
        }
    }
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    crate::crs::forget_installed_database();
    let cli = Cli::parse();
    let by = cli
        .by
        .or_else(|| std::env::var("USER").ok())
        .filter(|by| !by.is_empty());
    let desk = Desk {
        store: cli.store,
        by: by.unwrap_or_else(|| "local".to_owned()),
    };
    match cli.command.run(&desk) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            failure.tell();
            ExitCode::FAILURE
        }
    }
}

impl Command {
    fn run(self, desk: &Desk) -> Done {
        match self {
            Self::Site(command) => command.run(desk),
            Self::Surface(command) => command.run(desk),
            Self::Import(command) => command.run(desk),
            Self::Export(command) => command.run(desk),
            Self::Query(command) => command.run(desk),
            Self::Trackways(command) => command.run(desk),
            Self::History(command) => command.run(desk),
            Self::Plan(command) => command.run(desk),
            Self::Store(command) => command.run(desk),
            Self::Serve(command) => command.run(desk),
            Self::Token(command) => command.run(desk),
            Self::Ledger(command) => command.run(desk),
            Self::Health(command) => command.run(),
            Self::Backup(command) => command.run(desk),
            Self::Check(command) => command.run(desk),
            Self::Work(command) => command.run(desk),
            Self::Schedule(command) => command.run(desk),
            Self::Jobs(command) => command.run(desk),
            Self::Demo(command) => command.run(desk),
            Self::Completions { shell } => {
                clap_complete::generate(shell, &mut Cli::command(), "stridebed", &mut std::io::stdout());
                Ok(())
            }
        }
    }
}

impl Desk {
    const USUAL: &str = "./stridebed.db";

    fn location(&self) -> Result<StoreLocation, Problem> {
        located(self.store.as_deref().unwrap_or(Self::USUAL))
    }

    /// The store that is there.
    fn store(&self) -> Result<Arc<dyn Store>, Problem> {
        opened(&self.location()?)
    }

    /// The store, made where it is not there yet.
    fn store_or_new(&self, location: &StoreLocation) -> Result<Arc<dyn Store>, Problem> {
        location.open().map_err(unopened)
    }

    fn catalogue(&self) -> Result<Catalogue, Problem> {
        Ok(Catalogue::new(self.store()?, Audience::Local, INDEX_MEMORY))
    }

    fn catalogue_as_of(&self, moment: Option<Timestamp>) -> Result<Catalogue, Problem> {
        Ok(self.catalogue()?.as_of(moment))
    }

    fn change(&self, deed: impl Into<String>) -> Change {
        Change {
            author: self.by.clone(),
            at: Timestamp::now(),
            deed: deed.into(),
        }
    }
}

/// A moment as the user wrote it.
fn moment(text: &str) -> Result<Timestamp, String> {
    crate::http::read_moment(text).map_err(|problem| problem.to_string())
}

/// A location as the user wrote it.
fn located(text: &str) -> Result<StoreLocation, Problem> {
    StoreLocation::parse(text).map_err(unopened)
}

/// The store that is there.
fn opened(location: &StoreLocation) -> Result<Arc<dyn Store>, Problem> {
    location
        .open_existing()
        .map_err(|error| not_opened(location, error))
}

/// Why a store that should be there does not open.
fn not_opened(location: &StoreLocation, error: StoreError) -> Problem {
    match error {
        StoreError::Missing(_) => Problem::not_found(format!(
            "There is no store at {location}. Make one with `stridebed site add`, or name another with --store."
        )),
        other => unopened(other),
    }
}

/// Why a store does not open: the user can do something about it, and no stranger reads this.
fn unopened(error: StoreError) -> Problem {
    match error {
        StoreError::Unfit(why) => Problem::bad_request(format!("{why}.")),
        StoreError::Unreachable(_) => Problem::bad_request(format!("{error}.")),
        other => other.into(),
    }
}

impl Failure {
    fn tell(&self) {
        let document = self.problem.document();
        // Nobody but the one who works with the store reads this: he is told all.
        match self.problem.reason() {
            Some(reason) => eprintln!("stridebed: {reason}"),
            None => eprintln!("stridebed: {}", self.problem),
        }
        for fault in document["faults"].as_array().into_iter().flatten() {
            eprintln!("  {}", fault_line(fault));
        }
        if self.json {
            say(&document.to_string());
        }
    }
}

/// One fault of a sheet or of a query's inputs as a line.
fn fault_line(fault: &Value) -> String {
    let text = |name: &str| match &fault[name] {
        Value::Null => None,
        Value::String(text) => Some(text.clone()),
        other => Some(other.to_string()),
    };
    let mut line = String::new();
    if let Some(row) = text("row") {
        line.push_str(&format!("row {row}, "));
    }
    if let Some(column) = ["column", "input", "point"].into_iter().find_map(text) {
        line.push_str(&format!("{column}: "));
    }
    if let Some(value) = text("value") {
        line.push_str(&format!("{value:?}; "));
    }
    line + "expected " + &text("expected").unwrap_or_default()
}

/// Marks the failure of a command that machines may read.
fn for_machines<T>(json: bool, done: Result<T, Problem>) -> Result<T, Failure> {
    done.map_err(|problem| Failure { problem, json })
}

/// Writes a line to the standard output. That its reader has gone away is no failure of ours.
fn say(line: &str) {
    let _ = writeln!(std::io::stdout(), "{line}");
}
