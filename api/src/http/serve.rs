//! The service as a running server.

use super::{Service, admission, guard, routes};
use crate::crs;
use actix_cors::Cors;
use actix_web::middleware::{Compress, from_fn};
use actix_web::{App, HttpServer, web};
use std::net::SocketAddr;
use std::time::Duration;

/// How the server runs.
pub struct Serving {
    /// Where it listens.
    pub listen: SocketAddr,
    /// What it serves.
    pub service: Service,
    /// How it proves itself, where it speaks TLS.
    pub tls: Option<rustls::ServerConfig>,
}

const HEADERS_WITHIN: Duration = Duration::from_secs(15);
const FINISH_WITHIN_S: u64 = 20;
/// Bodies other than sheets are small.
const LARGEST_BODY: usize = 2 << 20;

/// Serves until the process is told to stop; then finishes what is under way. `started` is called
/// with the address once requests are taken.
///
/// # Errors
/// When the address cannot be listened on.
pub fn serve(serving: Serving, started: impl FnOnce(SocketAddr)) -> std::io::Result<()> {
    let service = web::Data::new(serving.service);
    actix_web::rt::System::new().block_on(async move {
        let server = HttpServer::new(move || {
            // Called on each thread that answers.
            crs::stay();
            App::new()
                .app_data(service.clone())
                .app_data(web::PayloadConfig::new(LARGEST_BODY))
                .wrap(from_fn(admission::admitted))
                .wrap(Compress::default())
                .wrap(cors())
                .wrap(from_fn(guard::logged))
                .configure(routes)
        })
        // An answer in several pieces would wait for the acknowledgement of each: 40 ms and more.
        .tcp_nodelay(true)
        .client_request_timeout(HEADERS_WITHIN)
        .shutdown_timeout(FINISH_WITHIN_S);
        let server = match serving.tls {
            Some(tls) => server.bind_rustls_0_23(serving.listen, tls)?,
            None => server.bind(serving.listen)?,
        };
        if let Some(address) = server.addrs().first() {
            started(*address);
        }
        server.run().await
    })
}

/// Pages of any site may read what the service gives to everybody; none may change anything.
fn cors() -> Cors {
    Cors::default()
        .allow_any_origin()
        .allowed_methods(["GET", "HEAD", "OPTIONS"])
        .allow_any_header()
        .expose_headers([
            "Content-Crs",
            "Link",
            "Location",
            "ETag",
            "Preference-Applied",
            "Retry-After",
            "Stale-Since",
            "Memento-Datetime",
            "WWW-Authenticate",
        ])
        .max_age(3600)
}
