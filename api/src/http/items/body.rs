//! A page of features on its way out.

use super::super::asked::Asked;
use super::super::link::{Link, link};
use super::super::media::{GEOJSON, HTML, JSON, Media};
use super::wanted::{USUAL, Wanted};
use crate::collection::{FeatureOf, Members, Page, Run, write_run};
use crate::crs::CrsFault;
use crate::feature::OutputCrs;
use actix_web::web::Bytes;
use actix_web::{HttpResponse, HttpResponseBuilder};
use futures_util::stream;
use jiff::Timestamp;
use serde::Serialize;
use serde_json::{Value, json};

/// So many features are written at a time: enough to be quick, few enough to start soon.
const CHUNK: usize = 500;
/// About as many bytes as a feature takes.
const USUAL_BYTES: usize = 800;
/// What stands after the features.
const CLOSING: &[u8] = b"]}\n";

/// All of the answer but its features.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Head {
    r#type: &'static str,
    time_stamp: Timestamp,
    links: Vec<Link>,
    #[serde(skip_serializing_if = "Option::is_none")]
    number_matched: Option<u64>,
    number_returned: usize,
}

impl Head {
    pub(super) fn of(asked: &Asked, wanted: &Wanted, page: &Page) -> Self {
        Self {
            r#type: "FeatureCollection",
            time_stamp: Timestamp::now(),
            links: links(asked, wanted, page),
            number_matched: page.matched,
            number_returned: page.members.len(),
        }
    }

    /// What stands before the features.
    fn opening(&self) -> Vec<u8> {
        let mut opening = Vec::with_capacity(USUAL * USUAL_BYTES);
        serde_json::to_writer(&mut opening, self).expect("texts and numbers can be written into memory");
        opening.pop();
        opening.extend_from_slice(b",\"features\":[");
        opening
    }
}

/// The links of a page: to itself, to its other form, to the collection and to the next page.
fn links(asked: &Asked, wanted: &Wanted, page: &Page) -> Vec<Link> {
    let own = |extra: &[(&str, &str)]| {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.extend_pairs(&wanted.parameters).extend_pairs(extra);
        format!("{}?{}", asked.path, query.finish())
    };
    let base = &asked.base;
    let after = wanted.after.as_deref().map(|after| ("after", after));
    let with_form = |media: Media| own(&after.into_iter().chain([("f", media.name())]).collect::<Vec<_>>());
    let collection = format!("/collections/{}", wanted.selection.collection.id());
    let (of_json, of_html) = match asked.media {
        Media::Html => ("alternate", "self"),
        _ => ("self", "alternate"),
    };
    let mut links = vec![
        link(
            base,
            &with_form(Media::Json),
            of_json,
            GEOJSON,
            "This page as GeoJSON",
        ),
        link(
            base,
            &with_form(Media::Html),
            of_html,
            HTML,
            "This page for a browser",
        ),
        link(base, &collection, "collection", JSON, "The collection"),
    ];
    if let Some(last) = page.more.then(|| page.members.last()).flatten() {
        let id = last.id();
        let next = own(&[("after", &id), ("f", asked.media.name())]);
        let media = if asked.media == Media::Html { HTML } else { GEOJSON };
        links.push(link(base, &next, "next", media, "The next page"));
    }
    links
}

/// Answers with a page: a short one at once, a long one piece by piece.
///
/// # Errors
/// When PROJ cannot transform.
pub(super) fn respond(
    response: &mut HttpResponseBuilder,
    head: &Head,
    members: Members,
    crs: OutputCrs,
) -> Result<HttpResponse, CrsFault> {
    if members.len() > CHUNK {
        return Ok(response.streaming(stream::iter(chunks(head, members, crs))));
    }
    let mut body = head.opening();
    for (place, run) in members.runs().iter().enumerate() {
        write_next(place, run, &crs, &mut body)?;
    }
    body.extend_from_slice(CLOSING);
    Ok(response.body(body))
}

/// The bytes of the answer, piece by piece. A piece that cannot be written breaks the answer off.
fn chunks(
    head: &Head,
    members: Members,
    crs: OutputCrs,
) -> impl Iterator<Item = Result<Bytes, CrsFault>> + use<> {
    let opening = head.opening();
    let runs = members.parted(CHUNK).into_iter();
    let pieces = runs.enumerate().map(move |(place, run)| {
        let mut bytes = Vec::with_capacity(run.len() * USUAL_BYTES);
        write_next(place, &run, &crs, &mut bytes)?;
        Ok(Bytes::from(bytes))
    });
    std::iter::once(Ok(Bytes::from(opening)))
        .chain(pieces)
        .chain(std::iter::once(Ok(Bytes::from_static(CLOSING))))
}

/// Writes the run at a place of the answer, parted from the one before.
fn write_next(place: usize, run: &Run, crs: &OutputCrs, out: &mut Vec<u8>) -> Result<(), CrsFault> {
    if place > 0 {
        out.push(b',');
    }
    write_run(run, crs, out)
}

/// The whole answer as one value, for a page.
pub(super) fn whole(head: Head, members: &Members, crs: &OutputCrs) -> Result<Value, CrsFault> {
    let features = members
        .iter()
        .map(|member| FeatureOf::new(&member, crs).map(|feature| json!(feature)));
    let mut head = json!(head);
    head["features"] = features.collect::<Result<Vec<Value>, CrsFault>>()?.into();
    Ok(head)
}
