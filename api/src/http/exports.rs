//! `/sites/{site}/export`: a site as one file.

use super::asked::Asked;
use super::{Problem, Shared, off_thread};
use crate::export::ExportFormat;
use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::web::{self, Bytes, Path};
use actix_web::{HttpRequest, HttpResponse};
use futures_util::stream;
use std::fs::File;
use std::io::Read;

/// So much of the file is sent at a time, bytes.
const PIECE: usize = 256 * 1024;

/// Writes the file beside the store, then sends it: a slow line does not hold the store.
pub async fn export(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let given = asked
        .take("format")?
        .unwrap_or_else(|| ExportFormat::GeoPackage.name().to_owned());
    asked.nothing_else(&["format"])?;
    let format = ExportFormat::named(&given).ok_or_else(|| {
        let names = ExportFormat::ALL.map(ExportFormat::name).join(", ");
        Problem::bad_request(format!("format={given} does not fit: expected one of {names}."))
    })?;
    let (file, name) = off_thread(&service, move |service| {
        let found = match path.parse() {
            Ok(slug) => service.catalogue.site_seen_whole(&slug)?,
            Err(_) => None,
        };
        let site =
            found.ok_or_else(|| Problem::not_found(format!("There is no site {:?}.", path.as_str())))?;
        let folder = tempfile::tempdir_in(&service.waiting_room).map_err(Problem::internal)?;
        let at = folder.path().join("export");
        format.write(&service.catalogue, &site, &at)?;
        // Gone from the folder by then, and from the disk when it has been sent.
        Ok((
            File::open(&at).map_err(Problem::internal)?,
            format.file_name(&site),
        ))
    })
    .await?;
    let pieces = stream::try_unfold(file, |mut file| async move {
        let read = web::block(move || {
            let mut piece = vec![0; PIECE];
            let count = file.read(&mut piece)?;
            piece.truncate(count);
            Ok::<_, std::io::Error>((piece, file))
        });
        let (piece, file) = read.await.map_err(std::io::Error::other)??;
        Ok::<_, std::io::Error>((!piece.is_empty()).then(|| (Bytes::from(piece), file)))
    });
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, format.media_type()))
        .insert_header((CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")))
        .streaming(Box::pin(pieces)))
}
