//! Trackways proposed, accepted and rejected.

use super::asked::Asked;
use super::editing::{IfMatch, moved};
use super::media::JSON;
use super::{Problem, Shared, off_thread};
use crate::access::Role;
use crate::query::proposals;
use crate::store::{Change, Verdict};
use actix_web::http::header::{CONTENT_TYPE, ETAG};
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use jiff::Timestamp;
use serde_json::json;
use spatial::model::{IdFault, SurfaceId, TrackwayId};

/// `/surfaces/{surface}/proposals`: groups a surface and keeps what is new as proposals.
pub async fn propose(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let seed = asked.take("seed")?.map_or(Ok(1), |seed| seed.parse::<u64>());
    let seed = seed.map_err(|_| Problem::bad_request("seed: expected a whole number of 0 or more."))?;
    asked.nothing_else(&["seed"])?;
    let surface: SurfaceId = path.parse().map_err(no_id)?;
    service.must_be(Role::Contributor, &surface.site)?;
    let change = change(&service, format!("propose trackways of {surface} over HTTP"));
    let report = off_thread(&service, move |service| {
        let index = service.catalogue.index(&surface)?;
        let found = proposals(&index, seed)?;
        let tally = service.catalogue.store().propose(&surface, &found.new, &change)?;
        let mut report = json!(tally);
        report["trackways"] = json!(found.all.len());
        report["ungrouped"] = json!(found.ungrouped);
        Ok(report)
    })
    .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, JSON))
        .body(format!("{report}\n")))
}

/// `/trackways/{trackway}/accept`.
pub async fn accept(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    judge(&request, &service, &path, Verdict::Accept).await
}

/// `/trackways/{trackway}/reject`.
pub async fn reject(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    judge(&request, &service, &path, Verdict::Reject).await
}

async fn judge(
    request: &HttpRequest,
    service: &Shared,
    path: &str,
    verdict: Verdict,
) -> Result<HttpResponse, Problem> {
    Asked::of(request, service)?.nothing_else(&[])?;
    let id: TrackwayId = path.parse().map_err(no_id)?;
    service.must_be(Role::Contributor, &id.surface.site)?;
    let change = change(service, format!("judge {id} over HTTP"));
    let if_match = IfMatch::of(request)?;
    if if_match == IfMatch::Nothing {
        return Err(IfMatch::needed(&format!("/collections/trackways/items/{id}")));
    }
    let (record, revision) = off_thread(service, move |service| {
        // For those who may not see it, it is not there.
        let index = service.catalogue.index(&id.surface)?;
        let mut trackways = index.trackways().iter();
        let stands = trackways.find(|trackway| trackway.label == id.label);
        let seen = seen_revision(&if_match, stands.map(|trackway| trackway.revision));
        let trackway = service.catalogue.store().judge(&id, verdict, seen, &change);
        let trackway = trackway.map_err(moved)?;
        let mut record = json!(trackway);
        record["id"] = json!(id);
        Ok((record, trackway.revision))
    })
    .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, JSON))
        .insert_header((ETAG, format!("\"{revision}\"")))
        .body(format!("{record}\n")))
}

/// The revision that the asker has seen: nobody may judge what somebody else has changed meanwhile unseen. Of several it is the one
/// that stands here, else the last: whether that stands the store knows.
fn seen_revision(if_match: &IfMatch, stands: Option<u32>) -> Option<u32> {
    match if_match {
        IfMatch::Revisions(seen) => {
            let stands = stands.filter(|stands| seen.contains(stands));
            stands.or(seen.iter().copied().max())
        }
        IfMatch::Any | IfMatch::Nothing => None,
    }
}

fn change(service: &Shared, deed: String) -> Change {
    Change {
        author: service.asker().author().to_owned(),
        at: Timestamp::now(),
        deed,
    }
}

fn no_id(fault: IdFault) -> Problem {
    Problem::not_found(format!("{fault}."))
}
