//! `/collections/{collection}/items` and its single items: the features themselves.

use super::asked::Asked;
use super::collections::{find, offered};
use super::landing::link;
use super::media::{CONTENT_CRS, GEOJSON, HTML, JSON, Media, SVG};
use super::moment::AS_OF;
use super::page::Document;
use super::{Problem, Service, Shared, off_thread, plans};
use crate::catalogue::Catalogue;
use crate::collection::{
    Bbox, Collection, FeatureOf, Filter, Interval, Language, Member, Page, Selection, write_chunk,
};
use crate::crs::CrsFault;
use crate::feature::OutputCrs;
use actix_web::http::header::{CONTENT_TYPE, ETAG, HeaderValue};
use actix_web::web::{Bytes, Path};
use actix_web::{HttpRequest, HttpResponse};
use futures_util::stream;
use jiff::Timestamp;
use serde_json::{Value, json};
use std::sync::Arc;

/// How many features a page has at most.
pub(super) const MOST: usize = 10_000;
/// How many features a page has unless it is asked otherwise.
pub(super) const USUAL: usize = 100;
/// The parameters of a list of items beside the filters by property.
pub(super) const PARAMETERS: &[&str] = &[
    "limit",
    "after",
    "bbox",
    "bbox-crs",
    "datetime",
    "crs",
    "filter",
    "filter-lang",
    "filter-crs",
];

/// So many features are written at a time: enough to be quick, few enough to start soon.
const CHUNK: usize = 500;
/// About as many bytes as a feature takes.
const USUAL_BYTES: usize = 800;
/// What stands after the features.
const CLOSING: &[u8] = b"]}\n";

/// A page of a collection as a request asks for it.
struct Wanted {
    selection: Selection,
    after: Option<String>,
    limit: usize,
    crs: OutputCrs,
    /// The parameters as they came, to carry on in the link to the next page.
    parameters: Vec<(String, String)>,
}

/// A page of features.
pub async fn items(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    let collection = find(&path)?;
    let (asked, wanted, page) = page(&service, collection, asked).await?;
    let head = head(&asked, &wanted, &page);
    if asked.media == Media::Html {
        let body = off_thread(&service, move |_| Ok(whole(head, &page.members, &wanted.crs)?)).await?;
        return Ok(Document::features(collection.title(), body).respond(&asked));
    }
    let mut response = HttpResponse::Ok();
    response
        .insert_header((CONTENT_TYPE, GEOJSON))
        .insert_header((CONTENT_CRS, format!("<{}>", wanted.crs.uri())));
    if page.members.len() <= CHUNK {
        let mut body = opening(&head);
        write_chunk(&page.members, &wanted.crs, &mut body)?;
        body.extend_from_slice(CLOSING);
        return Ok(response.body(body));
    }
    Ok(response.streaming(stream::iter(chunks(&head, page.members, wanted.crs))))
}

/// The page that is asked for: found at once where that is quick, else where nobody waits for it.
async fn page(
    service: &Shared,
    collection: Collection,
    mut asked: Asked,
) -> Result<(Asked, Wanted, Page), Problem> {
    if let Some(at_hand) = service.catalogue.at_hand() {
        let wanted = Wanted::read(collection, &mut asked, &at_hand)?;
        if wanted.selection.is_quick(&at_hand) {
            let page = wanted.page(&at_hand)?;
            return Ok((asked, wanted, page));
        }
        let find = move |service: &Service| Ok((wanted.page(&service.catalogue)?, wanted));
        let (page, wanted) = off_thread(service, find).await?;
        return Ok((asked, wanted, page));
    }
    off_thread(service, move |service| {
        let wanted = Wanted::read(collection, &mut asked, &service.catalogue)?;
        let page = wanted.page(&service.catalogue)?;
        Ok((asked, wanted, page))
    })
    .await
}

/// One feature.
pub async fn item(
    request: HttpRequest,
    service: Shared,
    path: Path<(String, String)>,
) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let (collection, id) = path.into_inner();
    let collection = find(&collection)?;
    let crs = asked.take("crs")?;
    asked.nothing_else(&["crs"])?;
    let html = asked.media == Media::Html;
    let base = asked.base.clone();
    let (feature, revision, crs, picture) = off_thread(&service, move |service| {
        let crs = crs.map_or(Ok(OutputCrs::Crs84), |text| {
            offered(&service.catalogue, "crs", &text)
        })?;
        let missing = || Problem::not_found(format!("There is no {} {id:?}.", collection.singular()));
        let member = Selection::one(collection, &service.catalogue, &id)?.ok_or_else(missing)?;
        let picture = match collection {
            Collection::Surfaces if html => Some(plans::draw(service, &id)?),
            _ => None,
        };
        Ok((
            one_feature(&member, &crs, collection, &base)?,
            member.revision(),
            crs,
            picture,
        ))
    })
    .await?;
    let title = feature["id"].as_str().unwrap_or_default().to_owned();
    let document = Document::features(&title, feature).with_picture(picture);
    let mut response = document.respond(&asked);
    let value = |text: String| HeaderValue::try_from(text).map_err(Problem::internal);
    response
        .headers_mut()
        .insert(CONTENT_CRS, value(format!("<{}>", crs.uri()))?);
    response
        .headers_mut()
        .insert(ETAG, value(format!("\"{revision}\""))?);
    Ok(response)
}

impl Wanted {
    fn page(&self, catalogue: &Catalogue) -> Result<Page, Problem> {
        Ok(self
            .selection
            .page(catalogue, self.after.as_deref(), self.limit)?)
    }

    fn read(collection: Collection, asked: &mut Asked, catalogue: &Catalogue) -> Result<Self, Problem> {
        let mut carried = asked.parameters().to_vec();
        carried.extend(asked.as_of.clone().map(|moment| (AS_OF.to_owned(), moment)));
        let crs = |parameter: &str, text: Option<String>| {
            text.map_or(Ok(OutputCrs::Crs84), |text| offered(catalogue, parameter, &text))
        };
        let limit = limit(asked.take("limit")?)?;
        let after = asked.take("after")?;
        if let Some(text) = after.as_deref().filter(|text| !collection.may_have(text)) {
            return Err(expected(
                "after",
                text,
                &format!("the id of a {}", collection.singular()),
            ));
        }
        let output = crs("crs", asked.take("crs")?)?;
        let bbox_crs = crs("bbox-crs", asked.take("bbox-crs")?)?;
        let bbox = asked
            .take("bbox")?
            .map(|text| Bbox::parse(&text, bbox_crs).map_err(|e| expected("bbox", &text, &e)));
        let interval = asked
            .take("datetime")?
            .map(|text| Interval::parse(&text).map_err(|e| expected("datetime", &text, &e)));
        let filter_crs = crs("filter-crs", asked.take("filter-crs")?)?;
        let language = language(asked.take("filter-lang")?)?;
        let filter = asked
            .take("filter")?
            .map(|text| Filter::parse(&text, language, collection, filter_crs));
        let mut selection = Selection::all(collection);
        selection.filter = filter
            .transpose()
            .map_err(|fault| Problem::bad_request(format!("The filter does not fit {fault}.")))?;
        selection.bbox = bbox.transpose()?;
        selection.interval = interval.transpose()?;
        for (column, described) in collection.columns().into_iter().enumerate() {
            let queryable = collection
                .queryables()
                .any(|queryable| queryable.name == described.name);
            let Some(value) = queryable
                .then(|| asked.take(described.name))
                .transpose()?
                .flatten()
            else {
                continue;
            };
            match described.name {
                "site" => selection.site = Some(value.parse().map_err(|e| expected("site", &value, &e))?),
                "surface" => {
                    selection.surface = Some(value.parse().map_err(|e| expected("surface", &value, &e))?)
                }
                _ => selection.values.push((column, value)),
            }
        }
        let filters = collection.queryables().map(|column| column.name);
        let known: Vec<&str> = PARAMETERS.iter().copied().chain(filters).collect();
        asked.nothing_else(&known)?;
        let parameters = carried.into_iter().filter(|(name, _)| name != "after").collect();
        Ok(Self {
            selection,
            after,
            limit,
            crs: output,
            parameters,
        })
    }
}

/// A limit above the maximum is clamped, as the standard has it.
fn limit(text: Option<String>) -> Result<usize, Problem> {
    let Some(text) = text else { return Ok(USUAL) };
    match text.parse::<u64>() {
        Ok(limit) if limit >= 1 => Ok(usize::try_from(limit).map_or(MOST, |limit| limit.min(MOST))),
        _ if text.bytes().all(|b| b.is_ascii_digit()) && text.len() > 19 => Ok(MOST),
        _ => Err(expected("limit", &text, &"a whole number of 1 or more")),
    }
}

fn language(text: Option<String>) -> Result<Language, Problem> {
    let Some(text) = text else {
        return Ok(Language::Text);
    };
    let found = Language::ALL.into_iter().find(|language| language.name() == text);
    found.ok_or_else(|| {
        let names = Language::ALL.map(Language::name).join(" or ");
        expected("filter-lang", &text, &names)
    })
}

fn expected(name: &str, value: &str, expected: &dyn std::fmt::Display) -> Problem {
    let short: String = value.chars().take(80).collect();
    Problem::bad_request(format!("{name}={short} does not fit: expected {expected}."))
}

/// All of the answer but its features.
fn head(asked: &Asked, wanted: &Wanted, page: &Page) -> Value {
    let own = |extra: &[(&str, &str)]| {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.extend_pairs(&wanted.parameters).extend_pairs(extra);
        format!("{}?{}", asked.path, query.finish())
    };
    let base = &asked.base;
    let after = wanted.after.as_deref().map(|after| ("after", after));
    let with_form = |media: Media| own(&after.into_iter().chain([("f", media.name())]).collect::<Vec<_>>());
    let collection = format!("/collections/{}", wanted.selection.collection.id());
    let mut links = vec![
        link(
            base,
            &with_form(Media::Json),
            "self",
            GEOJSON,
            "This page as GeoJSON",
        ),
        link(
            base,
            &with_form(Media::Html),
            "alternate",
            HTML,
            "This page for a browser",
        ),
        link(base, &collection, "collection", JSON, "The collection"),
    ];
    if asked.media == Media::Html {
        links[0]["rel"] = json!("alternate");
        links[1]["rel"] = json!("self");
    }
    if let Some(last) = page.members.last().filter(|_| page.more) {
        let id = last.id();
        let next = own(&[("after", &id), ("f", asked.media.name())]);
        let media = if asked.media == Media::Html { HTML } else { GEOJSON };
        links.push(link(base, &next, "next", media, "The next page"));
    }
    let mut head = json!({
        "type": "FeatureCollection",
        "timeStamp": Timestamp::now().to_string(),
        "links": links,
    });
    if let Some(matched) = page.matched {
        head["numberMatched"] = json!(matched);
    }
    head["numberReturned"] = json!(page.members.len());
    head
}

/// What stands before the features.
fn opening(head: &Value) -> Vec<u8> {
    let mut text = head.to_string();
    text.pop();
    let mut opening = Vec::with_capacity(USUAL * USUAL_BYTES);
    opening.extend_from_slice(text.as_bytes());
    opening.extend_from_slice(b",\"features\":[");
    opening
}

/// The bytes of the answer, piece by piece. A piece that cannot be written breaks the answer off.
fn chunks(
    head: &Value,
    members: Vec<Member>,
    crs: OutputCrs,
) -> impl Iterator<Item = Result<Bytes, CrsFault>> + use<> {
    let opening = opening(head);
    let members = Arc::new(members);
    let count = members.len();
    let pieces = (0..count).step_by(CHUNK).map(move |first| {
        let mut bytes = Vec::with_capacity(CHUNK * USUAL_BYTES);
        if first > 0 {
            bytes.push(b',');
        }
        write_chunk(&members[first..count.min(first + CHUNK)], &crs, &mut bytes)?;
        Ok(Bytes::from(bytes))
    });
    std::iter::once(Ok(Bytes::from(opening)))
        .chain(pieces)
        .chain(std::iter::once(Ok(Bytes::from_static(CLOSING))))
}

/// The whole answer as one value, for a page.
fn whole(mut head: Value, members: &[Member], crs: &OutputCrs) -> Result<Value, CrsFault> {
    let features = members
        .iter()
        .map(|member| FeatureOf::new(member, crs).map(|feature| json!(feature)));
    head["features"] = features.collect::<Result<Vec<Value>, CrsFault>>()?.into();
    Ok(head)
}

pub(super) fn one_feature(
    member: &Member,
    crs: &OutputCrs,
    collection: Collection,
    base: &str,
) -> Result<Value, Problem> {
    let mut feature = json!(FeatureOf::new(member, crs)?);
    let at = format!("/collections/{}", collection.id());
    let own = format!("{at}/items/{}", member.id());
    let mut links = vec![
        link(
            base,
            &format!("{own}?f=json"),
            "self",
            GEOJSON,
            "This feature as GeoJSON",
        ),
        link(
            base,
            &format!("{own}?f=html"),
            "alternate",
            HTML,
            "This feature for a browser",
        ),
        link(base, &at, "collection", JSON, "The collection"),
    ];
    if collection == Collection::Surfaces {
        let id = member.id();
        let related = |path: &str, media: &str, title: &str| link(base, path, "related", media, title);
        links.push(related(
            &format!("/surfaces/{id}/plan.svg"),
            SVG,
            "The surface's plan",
        ));
        for other in [Collection::Prints, Collection::Trackways, Collection::Extents] {
            let items = format!("/collections/{}/items?surface={id}", other.id());
            links.push(related(&items, GEOJSON, &format!("The surface's {}", other.id())));
        }
        let grouping = format!("/queries/grouping?surface={id}");
        links.push(related(
            &grouping,
            GEOJSON,
            "Its prints grouped into probable trackways",
        ));
    }
    feature["links"] = links.into();
    Ok(feature)
}
