//! The service as one request may see it.

use super::{Problem, Service};
use actix_web::dev::Payload;
use actix_web::http::StatusCode;
use actix_web::http::header::{HOST, ORIGIN};
use actix_web::{FromRequest, HttpRequest, web};
use std::future::{Ready, ready};
use std::ops::Deref;

/// The service as one request may see it.
///
/// A service on a loopback address shows its own people every site. Their browsers, however, also run pages
/// of strangers, which may ask the same address: such a request gives itself away by its `Origin`, or by a
/// `Host` that is no name of this machine, and sees what strangers see.
#[derive(Clone)]
pub struct Shared(web::Data<Service>);

impl Deref for Shared {
    type Target = Service;

    fn deref(&self) -> &Service {
        &self.0
    }
}

impl FromRequest for Shared {
    type Error = actix_web::Error;
    type Future = Ready<Result<Self, Self::Error>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let service = web::Data::<Service>::from_request(request, payload).into_inner();
        ready(service.map(|service| {
            if is_strange(request) {
                let catalogue = service.catalogue.for_strangers();
                Self(web::Data::new(Service {
                    catalogue,
                    ..Service::clone(&service)
                }))
            } else {
                Self(service)
            }
        }))
    }
}

/// Whether a request comes through a page of somebody else.
pub(super) fn is_strange(request: &HttpRequest) -> bool {
    let header = |name| {
        request
            .headers()
            .get(name)
            .map(|value| value.to_str().unwrap_or("?"))
    };
    let origin = header(ORIGIN).map(|origin| origin.split_once("://").map_or(origin, |(_, host)| host));
    [origin, header(HOST)]
        .into_iter()
        .flatten()
        .any(|host| !is_this_machine(host))
}

/// While there are no tokens, changes come from this machine alone, and not through a page that some
/// other site has put into its browser.
pub(super) fn may_write(request: &HttpRequest, service: &Service) -> Result<(), Problem> {
    let refused = |detail: &str| Err(Problem::new(StatusCode::FORBIDDEN, detail));
    if service.read_only {
        return refused("This service is read-only.");
    }
    if !request.peer_addr().is_some_and(|peer| peer.ip().is_loopback()) {
        return refused("Changes are taken from this machine only.");
    }
    if is_strange(request) {
        return refused("Changes are not taken through pages of other sites.");
    }
    Ok(())
}

/// Whether a host, with or without a port, is a name of this machine.
fn is_this_machine(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) => name,
        _ => host,
    };
    let name = name.trim_start_matches('[').trim_end_matches(']');
    name.eq_ignore_ascii_case("localhost")
        || name.parse::<std::net::IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_this_machine_and_others() {
        for host in [
            "localhost",
            "LOCALHOST:8080",
            "127.0.0.1",
            "127.0.0.1:80",
            "[::1]:8080",
            "[::1]",
        ] {
            assert!(is_this_machine(host), "{host}");
        }
        for host in [
            "",
            "null",
            "tracks.example",
            "127.0.0.1.tracks.example:80",
            "localhost.example",
            "10.0.0.1:80",
        ] {
            assert!(!is_this_machine(host), "{host}");
        }
    }

    #[test]
    fn pages_of_strangers_are_told_by_origin_or_host() {
        let request = |name: &'static str, value: &'static str| {
            actix_web::test::TestRequest::get()
                .insert_header((name, value))
                .to_http_request()
        };
        assert!(is_strange(&request("origin", "https://tracks.example")));
        assert!(is_strange(&request("origin", "null")));
        assert!(is_strange(&request("host", "tracks.example:8080")));
        assert!(!is_strange(&request("origin", "http://localhost:3000")));
        assert!(!is_strange(&request("host", "127.0.0.1:8080")));
    }
}
