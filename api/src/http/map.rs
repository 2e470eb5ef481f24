//! `/map`: the map page, which asks the service for all that it shows, and the files it is made of.
//!
//! Everybody gets the same bytes: which surface a reader looks at stands behind the `#` of the address, which is not sent,
//! and his token goes with what the page asks, not with the page.

use super::Problem;
use super::media::{HTML, SVG};
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderName, REFERRER_POLICY,
};
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};

/// A style sheet.
pub(super) const CSS: &str = "text/css; charset=utf-8";
/// A script.
pub(super) const SCRIPT: &str = "text/javascript; charset=utf-8";

/// The page's files by name, each with its media type and content.
pub(super) const FILES: [(&str, &str, &str); 14] = [
    ("icon.svg", SVG, include_str!("../../web/icon.svg")),
    ("map.css", CSS, include_str!("../../web/map.css")),
    ("map.js", SCRIPT, include_str!("../../web/map.js")),
    ("answer.js", SCRIPT, include_str!("../../web/answer.js")),
    ("grid.js", SCRIPT, include_str!("../../web/grid.js")),
    ("here.js", SCRIPT, include_str!("../../web/here.js")),
    ("intake.js", SCRIPT, include_str!("../../web/intake.js")),
    ("laid.js", SCRIPT, include_str!("../../web/laid.js")),
    ("plan.js", SCRIPT, include_str!("../../web/plan.js")),
    ("question.js", SCRIPT, include_str!("../../web/question.js")),
    ("service.js", SCRIPT, include_str!("../../web/service.js")),
    ("surfaces.js", SCRIPT, include_str!("../../web/surfaces.js")),
    ("trackways.js", SCRIPT, include_str!("../../web/trackways.js")),
    ("words.js", SCRIPT, include_str!("../../web/words.js")),
];

/// The page runs its own files and nothing else, asks this service only, and stands in no page of another.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; \
                      base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// The page.
pub async fn page(request: HttpRequest) -> Result<HttpResponse, Problem> {
    nothing_asked(&request)?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, HTML))
        .insert_header((CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((REFERRER_POLICY, "no-referrer"))
        .insert_header(ASK_AGAIN)
        .body(include_str!("../../web/map.html")))
}

/// One of its files.
pub async fn file(request: HttpRequest, path: Path<String>) -> Result<HttpResponse, Problem> {
    nothing_asked(&request)?;
    let found = FILES.iter().find(|(name, ..)| *name == *path);
    let (_, media, content) =
        found.ok_or_else(|| Problem::not_found(format!("The map has no file {:?}.", *path)))?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, *media))
        .insert_header(ASK_AGAIN)
        .body(*content))
}

fn nothing_asked(request: &HttpRequest) -> Result<(), Problem> {
    if request.query_string().is_empty() {
        return Ok(());
    }
    Err(Problem::bad_request(
        "There are no parameters here: what the map shows stands behind the # of its address.",
    ))
}

/// After an upgrade no browser may go on with old files beside new ones.
const ASK_AGAIN: (HeaderName, &str) = (CACHE_CONTROL, "no-cache");
