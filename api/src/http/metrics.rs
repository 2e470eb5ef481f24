//! `/metrics`: figures of the service for Prometheus (text format 0.0.4). They name no site and no path, only patterns of paths.

use super::admission::{client_address, is_strange};
use super::{Problem, Shared, off_thread};
use crate::catalogue::{Catalogue, IndexFigures};
use crate::store::jobs::Load;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::http::{Method, StatusCode};
use actix_web::{HttpRequest, HttpResponse};
use prometheus::core::Collector;
use prometheus::{
    Histogram, HistogramOpts, HistogramVec, IntCounterVec, IntGauge, IntGaugeVec, Opts, Registry, TextEncoder,
};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// The media type of the text format.
const TEXT: &str = "text/plain; version=0.0.4; charset=utf-8";
/// The store is asked for its queue no more often than this.
const BETWEEN_LOOKS: Duration = Duration::from_secs(5);
/// Upper edges of the times of answers, seconds.
const EDGES_S: [f64; 12] = [
    0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 1.0, 5.0, 20.0, 120.0,
];

/// What is counted.
pub struct Metrics {
    registry: Registry,
    requests: IntCounterVec,
    times: HistogramVec,
    under_way: IntGauge,
    indexes: IntGaugeVec,
    jobs: IntGaugeVec,
    oldest_job: IntGauge,
    reachable: IntGauge,
    looked: Mutex<Option<Instant>>,
}

/// A request that is being answered.
pub struct UnderWay(IntGauge);

impl Drop for UnderWay {
    fn drop(&mut self) {
        self.0.dec();
    }
}

impl Metrics {
    /// Nothing counted yet.
    ///
    /// # Errors
    /// When two figures have one name.
    pub fn new() -> prometheus::Result<Self> {
        let registry = Registry::new();
        let metrics = Self {
            requests: IntCounterVec::new(
                Opts::new("stridebed_http_requests_total", "Requests answered"),
                &["method", "route", "status"],
            )?,
            times: HistogramVec::new(
                HistogramOpts::new(
                    "stridebed_http_request_duration_seconds",
                    "Time until an answer began",
                )
                .buckets(EDGES_S.to_vec()),
                &["route"],
            )?,
            under_way: IntGauge::new("stridebed_http_requests_in_flight", "Requests being answered")?,
            indexes: IntGaugeVec::new(
                Opts::new(
                    "stridebed_indexes",
                    "Indexes in memory: held, bytes, loaded and given_up since the start",
                ),
                &["what"],
            )?,
            jobs: IntGaugeVec::new(
                Opts::new("stridebed_jobs", "Jobs in the queue by status"),
                &["status"],
            )?,
            oldest_job: IntGauge::new(
                "stridebed_jobs_oldest_waiting_seconds",
                "How long the oldest job waits",
            )?,
            reachable: IntGauge::new(
                "stridebed_store_reachable",
                "1 where the store can be read, 0 while it is away",
            )?,
            looked: Mutex::new(None),
            registry,
        };
        let build = IntGaugeVec::new(
            Opts::new("stridebed_build_info", "The program's version"),
            &["version"],
        )?;
        build.with_label_values(&[env!("CARGO_PKG_VERSION")]).set(1);
        let all: [Box<dyn Collector>; 8] = [
            Box::new(metrics.requests.clone()),
            Box::new(metrics.times.clone()),
            Box::new(metrics.under_way.clone()),
            Box::new(metrics.indexes.clone()),
            Box::new(metrics.jobs.clone()),
            Box::new(metrics.oldest_job.clone()),
            Box::new(metrics.reachable.clone()),
            Box::new(build),
        ];
        for one in all {
            metrics.registry.register(one)?;
        }
        let process = prometheus::process_collector::ProcessCollector::for_self();
        metrics.registry.register(Box::new(process))?;
        Ok(metrics)
    }

    /// A request has come.
    #[must_use]
    pub fn begin(&self) -> UnderWay {
        self.under_way.inc();
        UnderWay(self.under_way.clone())
    }

    /// A request has been answered. What fits no route is counted together: anybody can ask for anything.
    pub fn answered(&self, method: &Method, route: Option<&str>, status: StatusCode, took: Duration) {
        let route = route.unwrap_or("none");
        let known = [
            Method::GET,
            Method::HEAD,
            Method::POST,
            Method::PUT,
            Method::PATCH,
            Method::DELETE,
            Method::OPTIONS,
        ];
        let method = if known.contains(method) {
            method.as_str()
        } else {
            "other"
        };
        self.requests
            .with_label_values(&[method, route, status.as_str()])
            .inc();
        let times: Histogram = self.times.with_label_values(&[route]);
        times.observe(took.as_secs_f64());
    }

    /// All figures as of now.
    fn text(&self, catalogue: &Catalogue) -> Result<String, Problem> {
        let IndexFigures {
            held,
            bytes,
            loaded,
            given_up,
        } = catalogue.index_figures();
        for (what, figure) in [
            ("held", held),
            ("bytes", bytes),
            ("loaded", loaded),
            ("given_up", given_up),
        ] {
            self.indexes
                .with_label_values(&[what])
                .set(i64::try_from(figure).unwrap_or(i64::MAX));
        }
        let reachable = catalogue.listing().is_ok() && catalogue.away_since().is_none();
        self.reachable.set(i64::from(reachable));
        if reachable {
            self.look_at_queue(catalogue);
        }
        let mut text = String::new();
        TextEncoder::new()
            .encode_utf8(&self.registry.gather(), &mut text)
            .map_err(Problem::internal)?;
        Ok(text)
    }

    fn look_at_queue(&self, catalogue: &Catalogue) {
        let mut looked = self.looked.lock().unwrap_or_else(PoisonError::into_inner);
        if looked.is_some_and(|looked| looked.elapsed() < BETWEEN_LOOKS) {
            return;
        }
        *looked = Some(Instant::now());
        match catalogue.store().queue().load() {
            Ok(Load {
                counts,
                oldest_waiting_s,
            }) => {
                for (status, count) in counts {
                    let count = i64::try_from(count).unwrap_or(i64::MAX);
                    self.jobs.with_label_values(&[status.as_str()]).set(count);
                }
                self.oldest_job
                    .set(i64::try_from(oldest_waiting_s).unwrap_or(i64::MAX));
            }
            Err(error) => tracing::warn!(%error, "the queue cannot be counted"),
        }
    }
}

/// The figures, for this machine and for the addresses that are named.
pub async fn metrics(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let address = client_address(&request, &service.proxies);
    let here = address.is_some_and(|address| address.is_loopback()) && !is_strange(&request);
    let named = address.is_some_and(|address| service.metrics_to.contains(&address));
    if !here && !named {
        return Err(Problem::new(
            StatusCode::FORBIDDEN,
            "Figures are for this machine, and for addresses that `--metrics-to` names.",
        ));
    }
    let text = off_thread(&service, |service| service.metrics.text(&service.catalogue)).await?;
    Ok(HttpResponse::Ok().insert_header((CONTENT_TYPE, TEXT)).body(text))
}
