//! The HTTP door: OGC API Features, queries, OGC API Processes, sheets in, plans out.
//!
//! Each resource is one thin file: it reads the request into a type, makes one call, and writes the
//! answer. [`routes`] is the list of all that the service can do; `openapi` describes the same list.

mod admission;
mod asked;
mod collections;
mod editing;
mod execution;
mod exports;
mod guard;
mod health;
mod history;
mod imports;
mod items;
mod job_filter;
mod jobs;
mod landing;
mod link;
mod map;
mod media;
mod metrics;
mod moment;
mod openapi;
mod page;
mod page_value;
mod plans;
mod processes;
mod queries;
mod queryables;
mod serve;
mod shared;
mod trackways;

use crate::problem::Problem;
use media::Media;
pub use metrics::Metrics;
pub(crate) use moment::read as read_moment;
pub use serve::{Serving, serve};
use shared::Shared;

use crate::access::{Gate, Ledger, Rates};
use crate::catalogue::Catalogue;
use crate::jobs::Bell;
use actix_web::http::Method;
use actix_web::web::{self, ServiceConfig};
use actix_web::{HttpRequest, HttpResponse, Resource};
use std::net::IpAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

/// What every handler needs.
#[derive(Clone)]
pub struct Service {
    /// What there is to serve.
    pub catalogue: Catalogue,
    /// Wakes the workers of this process.
    pub bell: Arc<Bell>,
    /// How long jobs that were called off stay in the list.
    pub keep_jobs: Duration,
    /// The address that links start with; the request's own where there is none.
    pub public_url: Option<String>,
    /// Tells who asks.
    pub gate: Arc<Gate>,
    /// Who asked for what.
    pub ledger: Arc<Ledger>,
    /// How often somebody may ask; as often as he likes where there are none.
    pub rates: Option<Arc<Rates>>,
    /// What is counted.
    pub metrics: Arc<Metrics>,
    /// Who besides this machine may read what is counted.
    pub metrics_to: Vec<IpAddr>,
    /// The proxies that may say for whom they ask.
    pub proxies: Vec<IpAddr>,
    /// How long an answer may take before the asker is told to narrow the question.
    pub patience: Duration,
    /// The largest sheet that is taken, bytes.
    pub largest_sheet: u64,
    /// Where sheets wait on disk while they come in.
    pub waiting_room: PathBuf,
}

/// Every route of the service.
pub fn routes(config: &mut ServiceConfig) {
    config
        // Looked for first, because most that is asked is asked of these.
        .service(
            resource("/collections/{collection}/items", "GET, HEAD, POST, OPTIONS")
                .route(web::get().to(items::items))
                .route(web::head().to(items::items))
                .route(web::post().to(editing::create))
                .route(web::method(Method::OPTIONS).to(editing::options)),
        )
        .service(read("/queries/{query}", queries::ask))
        .service(read("/", landing::landing))
        .service(read("/map", map::page))
        .service(read("/map/{file}", map::file))
        .service(read("/conformance", landing::conformance))
        .service(read("/api", openapi::api))
        .service(read("/collections", collections::all))
        .service(read("/collections/{collection}", collections::one))
        .service(read(
            "/collections/{collection}/queryables",
            queryables::queryables,
        ))
        .service(
            resource(
                "/collections/{collection}/items/{id}",
                "GET, HEAD, PUT, PATCH, DELETE, OPTIONS",
            )
            .route(web::get().to(items::item))
            .route(web::head().to(items::item))
            .route(web::put().to(editing::replace))
            .route(web::patch().to(editing::update))
            .route(web::delete().to(editing::remove))
            .route(web::method(Method::OPTIONS).to(editing::options)),
        )
        .service(read(
            "/collections/{collection}/items/{id}/history",
            history::history,
        ))
        .service(read("/queries", queries::all))
        .service(read("/processes", processes::all))
        .service(read("/processes/{process}", processes::one))
        .service(change("/processes/{process}/execution", processes::execute))
        .service(read("/jobs", jobs::all))
        .service(
            resource("/jobs/{job}", "GET, HEAD, DELETE")
                .route(web::get().to(jobs::one))
                .route(web::head().to(jobs::one))
                .route(web::delete().to(jobs::dismiss)),
        )
        .service(read("/jobs/{job}/results", jobs::results))
        .service(read("/surfaces/{surface}/plan.svg", plans::plan))
        .service(change("/sites/{site}/imports", imports::take))
        .service(read("/sites/{site}/export", exports::export))
        .service(change("/surfaces/{surface}/proposals", trackways::propose))
        .service(change("/trackways/{trackway}/accept", trackways::accept))
        .service(change("/trackways/{trackway}/reject", trackways::reject))
        .service(read("/metrics", metrics::metrics))
        .service(read("/health/live", health::live))
        .service(read("/health/ready", health::ready))
        .default_service(web::to(nothing_here));
}

fn read<F, Args>(path: &str, handler: F) -> Resource
where
    F: actix_web::Handler<Args> + Clone,
    Args: actix_web::FromRequest + 'static,
    F::Output: actix_web::Responder + 'static,
{
    resource(path, "GET, HEAD")
        .route(web::get().to(handler.clone()))
        .route(web::head().to(handler))
}

fn change<F, Args>(path: &str, handler: F) -> Resource
where
    F: actix_web::Handler<Args>,
    Args: actix_web::FromRequest + 'static,
    F::Output: actix_web::Responder + 'static,
{
    resource(path, "POST").route(web::post().to(handler))
}

/// A path that answers other methods than those it has with the list of those.
fn resource(path: &str, allowed: &'static str) -> Resource {
    let refuse = move |request: HttpRequest| async move {
        let detail = format!("{} cannot be asked with {}.", request.path(), request.method());
        Err::<HttpResponse, _>(Problem::method(detail, allowed))
    };
    web::resource(path).default_service(web::to(refuse))
}

async fn nothing_here(request: HttpRequest) -> Result<HttpResponse, Problem> {
    Err(Problem::not_found(format!(
        "There is nothing at {}. The landing page / lists what there is.",
        request.path()
    )))
}

/// Runs what reads the store or computes on a thread where waiting hurts nobody, for as long as the
/// service has patience.
async fn off_thread<T: Send + 'static>(
    service: &Shared,
    work: impl FnOnce(&Service) -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    let shared = service.clone();
    // What the work logs is of this request, too.
    let span = tracing::Span::current();
    let working = web::block(move || span.in_scope(|| work(&shared)));
    match actix_web::rt::time::timeout(service.patience, working).await {
        Ok(Ok(done)) => done,
        Ok(Err(_)) => Err(Problem::internal("the work was given up")),
        Err(_) => Err(Problem::too_slow(service.patience)),
    }
}
