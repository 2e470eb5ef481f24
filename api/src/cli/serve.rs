//! `stridebed serve`.

use super::door::Door;
use super::log::Log;
use super::work::Keeping;
use super::{Desk, Done};
use crate::access::{Audience, Gate, Ledger, Terms};
use crate::catalogue::Catalogue;
use crate::http::{self, Metrics, Service, Serving};
use crate::jobs::{Bell, Workers};
use crate::problem::Problem;
use crate::store::Store;
use clap::Args;
use std::net::{SocketAddr, ToSocketAddrs};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

#[derive(Args)]
pub(super) struct Serve {
    /// The address and port to listen on; port 0 takes any free one
    #[arg(long, env = "STRIDEBED_LISTEN", default_value = "127.0.0.1:8080")]
    listen: String,
    /// The address that links start with, where others reach the service through a proxy
    #[arg(long, env = "STRIDEBED_PUBLIC_URL", value_name = "URL")]
    public_url: Option<String>,
    /// Refuse all changes; needed to listen on an address that other machines can reach where there are no tokens
    #[arg(long, env = "STRIDEBED_READ_ONLY", value_parser = clap::builder::FalseyValueParser::new())]
    read_only: bool,
    /// A streaming replica of the database, to read the record from: postgres://USER@HOST/DATABASE
    // The value of the environment may hold a password: help must not show it.
    #[arg(
        long,
        env = "STRIDEBED_READ_STORE",
        hide_env_values = true,
        value_name = "URL"
    )]
    read_store: Option<String>,
    /// How much memory the indexes may take together, MB; features as they were written take half as much again at most
    #[arg(
        long,
        env = "STRIDEBED_INDEX_MEMORY",
        default_value_t = 4096,
        value_name = "MB"
    )]
    index_memory: usize,
    /// The largest sheet that is taken, MB
    #[arg(
        long,
        env = "STRIDEBED_LARGEST_SHEET",
        default_value_t = 1024,
        value_name = "MB"
    )]
    largest_sheet: u64,
    /// How long an answer may take, seconds
    #[arg(long, env = "STRIDEBED_PATIENCE", default_value_t = 120, value_name = "S", value_parser = clap::value_parser!(u64).range(1..))]
    patience: u64,
    /// How many jobs to do at a time, apart from requests; 0 leaves them all to `stridebed work`
    #[arg(long, env = "STRIDEBED_WORKERS", default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u16).range(..=256))]
    workers: u16,
    #[command(flatten)]
    keeping: Keeping,
    #[command(flatten)]
    door: Door,
    #[command(flatten)]
    log: Log,
}

impl Serve {
    pub(super) fn run(self, desk: &Desk) -> Done {
        let replica = self.read_store.as_deref().map(super::located).transpose()?;
        let location = desk.location()?;
        let store = location
            .open_for_service(replica.as_ref())
            .map_err(|error| super::not_opened(&location, error))?;
        let scheme = if self.door.is_secret() { "https" } else { "http" };
        // Sheets wait on the disk that the store is on; beside a database there is none of its own.
        let waiting_room = location.folder().map(PathBuf::from);
        self.serve(
            store,
            waiting_room.unwrap_or_else(std::env::temp_dir),
            |address| {
                eprintln!("Serving on {}://{address}/ (stop with Ctrl-C)", scheme);
            },
        )
    }

    /// Serves a store; `started` is told the address once requests are taken.
    pub(super) fn serve(
        self,
        store: Arc<dyn Store>,
        waiting_room: PathBuf,
        started: impl FnOnce(SocketAddr),
    ) -> Done {
        let listen = address(&self.listen)?;
        let public = !listen.ip().is_loopback() || self.public_url.is_some();
        let (openid, tls) = (self.door.openid()?, self.door.tls()?);
        let guarded = openid.is_some() || store.gatekeeper().has_tokens()?;
        if !listen.ip().is_loopback() && !self.read_only && !guarded {
            return Err(Problem::bad_request(format!(
                "{listen} can be reached by other machines, and there are no tokens to tell who may change what: \
                 issue one with `stridebed token issue`, add --read-only, or listen on 127.0.0.1."
            ))
            .into());
        }
        if let Some(url) = self
            .public_url
            .as_ref()
            .filter(|url| !url.starts_with("http://") && !url.starts_with("https://"))
        {
            return Err(Problem::bad_request(format!(
                "--public-url {url}: expected an address such as https://tracks.example/"
            ))
            .into());
        }
        self.log.begin();
        let catalogue = Catalogue::new(store.clone(), Audience::Local, self.index_memory << 20);
        let terms = self.keeping.terms();
        let bell = Arc::new(Bell::default());
        let workers = Workers::start(&catalogue, &terms, usize::from(self.workers), &bell);
        let service = Service {
            catalogue,
            bell,
            keep_jobs: self.keeping.keep_jobs,
            public_url: self.public_url,
            gate: Arc::new(Gate::new(
                store.clone(),
                Terms {
                    public,
                    read_only: self.read_only,
                    openid,
                },
            )),
            ledger: Arc::new(Ledger::new(store)),
            rates: self.door.rates(),
            metrics: Arc::new(Metrics::new().map_err(Problem::internal)?),
            metrics_to: self.door.metrics_to,
            proxies: self.door.trusted_proxy,
            patience: Duration::from_secs(self.patience),
            largest_sheet: self.largest_sheet << 20,
            waiting_room,
        };
        let served = http::serve(Serving { listen, service, tls }, started);
        workers.stop();
        served.map_err(|error| Problem::bad_request(format!("{listen} cannot be served: {error}.")).into())
    }
}

fn address(text: &str) -> Result<SocketAddr, Problem> {
    let found = text.to_socket_addrs().ok().and_then(|mut found| found.next());
    found.ok_or_else(|| {
        Problem::bad_request(format!(
            "--listen {text}: expected an address and a port, as in 127.0.0.1:8080."
        ))
    })
}
