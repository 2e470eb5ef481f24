//! `/sites/{site}/imports`: field sheets in.

use super::asked::Asked;
use super::media::{CSV, GEOJSON, JSON};
use super::{Problem, Service, Shared, off_thread};
use crate::access::Role;
use crate::intake::{North, SheetFormat, SheetOptions, take_sheet};
use crate::store::Change;
use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::web::{Path, Payload};
use actix_web::{HttpRequest, HttpResponse};
use futures_util::StreamExt;
use jiff::Timestamp;
use serde_json::json;
use spatial::model::Slug;
use std::io::{Seek, Write};

/// Takes a sheet, whole or not at all.
pub async fn take(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
    payload: Payload,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let north = north(&mut asked)?;
    asked.nothing_else(&["north", "surveyed_on"])?;
    let slug = path.parse::<Slug>().map_err(|_| no_site(&path))?;
    service.must_be(Role::Contributor, &slug)?;
    let author = service.asker().author().to_owned();
    let format = format(&request)?;
    let sheet = received(&service, payload).await?;
    let taken = off_thread(&service, move |service| {
        let listing = service.catalogue.listing()?;
        let site = listing
            .site(&slug)
            .cloned()
            .ok_or_else(|| no_site(slug.as_str()))?;
        let change = Change {
            author,
            at: Timestamp::now(),
            deed: deed(north),
        };
        let options = SheetOptions {
            north,
            ..SheetOptions::default()
        };
        Ok(take_sheet(
            service.catalogue.store(),
            &site,
            format,
            sheet,
            &options,
            &change,
        )?)
    })
    .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, JSON))
        .body(format!("{}\n", json!(taken))))
}

fn no_site(text: &str) -> Problem {
    Problem::not_found(format!("There is no site {text:?}."))
}

/// The north that the sheet's azimuths are counted from.
fn north(asked: &mut Asked) -> Result<North, Problem> {
    let (name, surveyed_on) = (asked.take("north")?, asked.take("surveyed_on")?);
    North::named(name.as_deref(), surveyed_on.as_deref())
        .map_err(|fault| Problem::bad_request(format!("{fault}.")))
}

/// What the history tells, as in `import over HTTP with north=magnetic&surveyed_on=2026-05-01`.
fn deed(north: North) -> String {
    let options: Vec<String> = north
        .options()
        .into_iter()
        .map(|(name, value)| format!("{name}={value}"))
        .collect();
    let with = if options.is_empty() { "" } else { " with " };
    format!("import over HTTP{with}{}", options.join("&"))
}

fn format(request: &HttpRequest) -> Result<SheetFormat, Problem> {
    let media = request
        .headers()
        .get(CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default();
    SheetFormat::of_media_type(media).ok_or_else(|| {
        let detail = format!("A sheet comes as {CSV} or {GEOJSON}; name one of them in Content-Type.");
        Problem::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, detail)
    })
}

/// The whole sheet on disk: the store is not held while a slow line brings the rest.
async fn received(service: &Service, mut payload: Payload) -> Result<std::fs::File, Problem> {
    let mut file = tempfile::tempfile_in(&service.waiting_room).map_err(|error| no_room(&error))?;
    let mut size = 0u64;
    while let Some(piece) = payload.next().await {
        let piece = piece.map_err(|error| Problem::bad_request(format!("The sheet broke off: {error}.")))?;
        size += piece.len() as u64;
        if size > service.largest_sheet {
            let detail = format!(
                "The sheet is larger than {} MB; take it in parts.",
                service.largest_sheet >> 20
            );
            return Err(Problem::new(StatusCode::PAYLOAD_TOO_LARGE, detail));
        }
        file.write_all(&piece).map_err(|error| no_room(&error))?;
    }
    file.rewind().map_err(Problem::internal)?;
    Ok(file)
}

/// Where a sheet cannot wait on the disk.
fn no_room(error: &std::io::Error) -> Problem {
    tracing::error!(%error, "a sheet cannot be kept while it comes in");
    let detail =
        "The disk of the service is full or fails; nothing of this was stored. Tell whoever runs it.";
    Problem::new(StatusCode::INSUFFICIENT_STORAGE, detail)
}
