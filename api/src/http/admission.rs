//! Every request at the gate: who sends it, whether he asks too often, and what the ledger keeps of it.

use super::{Problem, Service};
use crate::access::{Asker, Audience, Knock};
use crate::store::access::LedgerEntry;
use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{
    AUTHORIZATION, CACHE_CONTROL, HOST, HeaderName, HeaderValue, LOCATION, ORIGIN,
};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, HttpRequest, ResponseError, web};
use jiff::Timestamp;
use spatial::model::Slug;
use std::net::IpAddr;
use std::sync::Arc;

/// Tells who asks, and turns away who asks too often or with a token that opens nothing.
pub async fn admitted<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<EitherBody<B>>, Error> {
    let service = request.app_data::<web::Data<Service>>().cloned();
    let service = service.ok_or_else(|| Problem::internal("the service is not there"))?;
    let address = client_address(request.request(), &service.proxies);
    let asker = match admit(&service, request.request(), address).await {
        Ok(asker) => Arc::new(asker),
        Err(problem) => {
            let noted = Noted::of(request.request(), None, address);
            note(&service, noted, problem.status(), None).await;
            return Ok(request
                .into_response(problem.error_response())
                .map_into_right_body());
        }
    };
    let noted = Noted::of(request.request(), Some(&asker), address);
    request.extensions_mut().insert(asker.clone());
    let mut response = next.call(request).await?;
    if asker.name().is_some() {
        // What one may see, a cache must not show to another.
        let private = HeaderValue::from_static("private, no-cache");
        response.headers_mut().insert(CACHE_CONTROL, private);
    }
    let made = response
        .headers()
        .get(LOCATION)
        .and_then(|at| at.to_str().ok())
        .map(str::to_owned);
    note(&service, noted, response.status(), made).await;
    Ok(response.map_into_left_body())
}

async fn admit(
    service: &web::Data<Service>,
    request: &HttpRequest,
    address: Option<IpAddr>,
) -> Result<Asker, Problem> {
    let knock = Knock {
        bearer: bearer(request),
        address,
        strange_page: is_strange(request),
    };
    let limit = |holder: Option<&str>| match &service.rates {
        Some(rates) if !address.is_some_and(|address| address.is_loopback()) || holder.is_some() => {
            rates.take(holder, address).map_err(Problem::too_many)
        }
        _ => Ok(()),
    };
    if knock.bearer.is_none() {
        limit(None)?;
    }
    if let Some(asker) = service.gate.at_once(&knock) {
        return Ok(asker);
    }
    let gate = service.gate.clone();
    let known = knock.bearer.is_some();
    let admitted = web::block(move || gate.admit(&knock))
        .await
        .map_err(Problem::internal)?;
    match &admitted {
        Ok(asker) if known => limit(asker.name())?,
        // Whoever tries tokens is counted by where he sits.
        Err(_) => limit(None)?,
        Ok(_) => {}
    }
    Ok(admitted?)
}

/// What stands after `Bearer`; a header of another kind is a token that opens nothing.
fn bearer(request: &HttpRequest) -> Option<String> {
    let header = request.headers().get(AUTHORIZATION)?.to_str().unwrap_or_default();
    let (scheme, token) = header.split_once(' ').unwrap_or((header, ""));
    let token = if scheme.eq_ignore_ascii_case("bearer") {
        token.trim()
    } else {
        ""
    };
    Some(token.to_owned())
}

/// Where a request comes from: what a known proxy says, else the other end of the connection.
pub(super) fn client_address(request: &HttpRequest, proxies: &[IpAddr]) -> Option<IpAddr> {
    let peer = request.peer_addr()?.ip().to_canonical();
    if !proxies.contains(&peer) {
        return Some(peer);
    }
    let forwarded = request
        .headers()
        .get_all("x-forwarded-for")
        .filter_map(|header| header.to_str().ok());
    let hops: Vec<IpAddr> = forwarded
        .flat_map(|header| header.split(','))
        .map_while(|hop| hop.trim().parse::<IpAddr>().ok())
        .map(|hop| hop.to_canonical())
        .collect();
    // Only what the nearest proxies have written can be believed; further to the left stands what anybody sent.
    Some(
        hops.into_iter()
            .rev()
            .find(|hop| !proxies.contains(hop))
            .unwrap_or(peer),
    )
}

/// What the ledger needs of a request.
struct Noted {
    entry: LedgerEntry,
    query: String,
    audience: Option<Audience>,
    writes: bool,
}

impl Noted {
    fn of(request: &HttpRequest, asker: Option<&Asker>, address: Option<IpAddr>) -> Self {
        let path = request.path();
        // Executions and jobs change nothing of the record.
        let aside = path.starts_with("/processes/") || path.starts_with("/jobs/");
        let reads = [Method::GET, Method::HEAD, Method::OPTIONS].contains(request.method());
        Self {
            entry: LedgerEntry {
                at: Timestamp::now(),
                who: asker.and_then(Asker::name).map(str::to_owned),
                address: address.map(|address| address.to_string()),
                method: request.method().to_string(),
                path: path.chars().take(500).collect(),
                site: None,
                status: 0,
            },
            query: request.query_string().to_owned(),
            audience: asker.map(|asker| asker.audience().clone()),
            writes: !reads && !aside,
        }
    }
}

/// Enters a write or a refusal into the ledger. A write is answered when its line is on disk.
async fn note(service: &web::Data<Service>, noted: Noted, status: StatusCode, made: Option<String>) {
    let denied = [StatusCode::UNAUTHORIZED, StatusCode::FORBIDDEN].contains(&status);
    let nothing = status == StatusCode::NOT_FOUND && noted.audience != Some(Audience::Local);
    let done = noted.writes && status.is_success();
    let failed = noted.writes && status.is_client_error();
    if !(done || denied || nothing || failed) {
        return;
    }
    let service = service.clone();
    let entered = web::block(move || {
        let Noted {
            mut entry,
            query,
            audience,
            ..
        } = noted;
        entry.at = Timestamp::now();
        entry.status = status.as_u16();
        let found = site(&service, made.as_deref().unwrap_or(&entry.path), &query);
        // What is hidden from the asker is a refusal; what nobody has is none.
        let hidden = nothing && found.as_ref().is_some_and(|(_, sees)| !sees(audience.as_ref()));
        entry.site = found.map(|(slug, _)| slug.to_string());
        if done {
            return service.ledger.wrote(entry);
        }
        if !nothing || hidden {
            service.ledger.refused(entry);
        }
        Ok(())
    });
    match entered.await {
        Ok(Ok(())) => {}
        // The record itself names who made each revision: nothing is lost but the address.
        Ok(Err(error)) => tracing::error!(%error, "a write is not in the ledger"),
        Err(error) => tracing::error!(%error, "a write is not in the ledger"),
    }
}

/// The site that a path or what is asked of it names, and whether an audience sees all of it.
fn site(service: &Service, path: &str, query: &str) -> Option<(Slug, impl Fn(Option<&Audience>) -> bool)> {
    let listing = service.catalogue.listing().ok()?;
    let values = form_urlencoded::parse(query.as_bytes()).map(|(_, value)| value.into_owned());
    let texts = path.split('/').map(str::to_owned).chain(values);
    let slugs = texts.filter_map(|text| text.split(':').next().and_then(|text| text.parse::<Slug>().ok()));
    let found = slugs.filter_map(|slug| listing.site(&slug).cloned()).next()?;
    let slug = found.slug.clone();
    Some((slug, move |audience: Option<&Audience>| {
        audience.is_some_and(|audience| audience.sees(&found))
    }))
}

/// Whether a request comes through a page of somebody else.
///
/// While there are no tokens, a service on a loopback address shows its own people every site. Their browsers, however, also
/// run pages of strangers, which may ask the same address: such a request gives itself away by its `Origin`, or by a `Host`
/// that is no name of this machine, and sees what strangers see.
pub(super) fn is_strange(request: &HttpRequest) -> bool {
    let header = |name: HeaderName| {
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

/// Whether a host, with or without a port, is a name of this machine.
fn is_this_machine(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|b| b.is_ascii_digit()) => name,
        _ => host,
    };
    let name = name.trim_start_matches('[').trim_end_matches(']');
    name.eq_ignore_ascii_case("localhost") || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;
    use actix_web::test::TestRequest;

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
            TestRequest::get().insert_header((name, value)).to_http_request()
        };
        assert!(is_strange(&request("origin", "https://tracks.example")));
        assert!(is_strange(&request("origin", "null")));
        assert!(is_strange(&request("host", "tracks.example:8080")));
        assert!(!is_strange(&request("origin", "http://localhost:3000")));
        assert!(!is_strange(&request("host", "127.0.0.1:8080")));
    }

    #[test]
    fn only_known_proxies_are_believed() {
        let proxy: IpAddr = "10.0.0.1".parse().unwrap();
        let from = |peer: &str, forwarded: &str| {
            let request = TestRequest::get()
                .peer_addr(format!("{peer}:5000").parse().unwrap())
                .insert_header(("x-forwarded-for", forwarded.to_owned()))
                .to_http_request();
            client_address(&request, &[proxy]).unwrap().to_string()
        };
        assert_eq!(
            from("192.0.2.9", "127.0.0.1"),
            "192.0.2.9",
            "a stranger's own words"
        );
        assert_eq!(from("10.0.0.1", "127.0.0.1, 192.0.2.7"), "192.0.2.7");
        assert_eq!(from("10.0.0.1", "192.0.2.7, 10.0.0.1"), "192.0.2.7");
        assert_eq!(from("10.0.0.1", "nonsense"), "10.0.0.1");
    }

    #[test]
    fn other_schemes_are_tokens_that_open_nothing() {
        let sent = |value: &'static str| {
            bearer(
                &TestRequest::get()
                    .insert_header(("authorization", value))
                    .to_http_request(),
            )
        };
        assert_eq!(sent("Bearer abc").as_deref(), Some("abc"));
        assert_eq!(sent("bearer  abc ").as_deref(), Some("abc"));
        assert_eq!(sent("Basic abc").as_deref(), Some(""));
        assert_eq!(bearer(&TestRequest::get().to_http_request()), None);
    }
}
