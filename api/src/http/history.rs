//! `/collections/{collection}/items/{id}/history`: every revision of a record.

use super::asked::Asked;
use super::collections::find;
use super::editing::{item_path, record_id};
use super::link::link;
use super::media::{HTML, JSON};
use super::moment::AS_OF;
use super::page::Document;
use super::{Problem, Shared, off_thread};
use crate::access::Role;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use serde_json::{Value, json};

/// How many revisions a page has at most, and unless it is asked otherwise.
const MOST: usize = 1_000;
const USUAL: usize = 100;

/// The revisions of a record, oldest first; of a removed one too. They are for those who see all of its site; who made
/// each is for those who have a role there.
pub async fn history(
    request: HttpRequest,
    service: Shared,
    path: Path<(String, String)>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let limit =
        whole("limit", asked.take("limit")?)?.map_or(USUAL, |limit| limit.clamp(1, MOST as u64) as usize);
    let after = whole("after", asked.take("after")?)?.unwrap_or(0);
    asked.nothing_else(&["limit", "after"])?;
    let (collection, id) = path.into_inner();
    let collection = find(&collection)?;
    let missing = {
        let detail = format!("There is no {} {id:?}.", collection.singular());
        move || Problem::not_found(detail.clone())
    };
    let record = record_id(collection, &id).ok_or_else(&missing)?;
    let knows = service.must_be(Role::Reader, record.site()).is_ok();
    let found = off_thread(&service, move |service| {
        let seen = service.catalogue.site_seen_whole(record.site())?;
        seen.ok_or_else(&missing)?;
        let mut revisions = service.catalogue.store().history(&record)?;
        if let Some(moment) = service.catalogue.moment() {
            // As `as_of` reads everything: up to the last one that was made by then.
            let last = revisions.iter().rposition(|revision| revision.at <= moment);
            revisions.truncate(last.map_or(0, |last| last + 1));
        }
        if revisions.is_empty() {
            return Err(missing());
        }
        Ok(revisions)
    });
    let revisions = found.await?;
    let matched = revisions.len();
    let mut page: Vec<Value> = revisions
        .into_iter()
        .filter(|revision| u64::from(revision.revision) > after)
        .take(limit + 1)
        .map(|revision| {
            let mut told = json!(revision);
            if !knows {
                told["author"] = Value::Null;
            }
            told
        })
        .collect();
    let at = format!("{}/history", item_path(collection, &id));
    let base = &asked.base;
    let then = asked.as_of.iter().fold(String::new(), |then, moment| {
        let mut written = form_urlencoded::Serializer::new(then);
        format!("&{}", written.append_pair(AS_OF, moment).finish())
    });
    let mut links = vec![
        link(
            base,
            &format!("{at}?f=json{then}"),
            "self",
            JSON,
            "This history as JSON",
        ),
        link(
            base,
            &format!("{at}?f=html{then}"),
            "alternate",
            HTML,
            "This history for a browser",
        ),
    ];
    if page.len() > limit {
        page.truncate(limit);
        let last = page
            .last()
            .map(|last| last["revision"].to_string())
            .unwrap_or_default();
        let next = format!("{at}?f=json&limit={limit}&after={last}{then}");
        links.push(link(base, &next, "next", JSON, "The next page"));
    }
    let body = json!({ "id": id, "numberMatched": matched, "revisions": page, "links": links });
    Ok(Document::json(&format!("History of {id}"), body).respond(&asked))
}

fn whole(name: &str, text: Option<String>) -> Result<Option<u64>, Problem> {
    let read = |text: String| {
        text.parse().map_err(|_| {
            Problem::bad_request(format!("{name}={text} does not fit: expected a whole number."))
        })
    };
    text.map(read).transpose()
}
