//! `/collections/{collection}/items` and its single items: the features themselves.

mod body;
mod wanted;

pub(super) use wanted::{MOST, USUAL, read_box};

use super::asked::Asked;
use super::collections::{find, offered};
use super::link::link;
use super::media::{CONTENT_CRS, GEOJSON, HTML, JSON, Media, SVG};
use super::page::Document;
use super::{Problem, Service, Shared, off_thread, plans};
use crate::collection::{Collection, FeatureOf, Member, Page, Selection};
use crate::feature::OutputCrs;
use actix_web::http::header::{CONTENT_TYPE, ETAG, HeaderValue};
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use body::Head;
use serde_json::{Value, json};
use wanted::Wanted;

/// A page of features.
pub async fn items(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    let collection = find(&path)?;
    let (asked, wanted, page) = page(&service, collection, asked).await?;
    let head = Head::of(&asked, &wanted, &page);
    if asked.media == Media::Html {
        let body = off_thread(&service, move |_| {
            Ok(body::whole(head, &page.members, &wanted.crs)?)
        })
        .await?;
        return Ok(Document::features(collection.title(), body).respond(&asked));
    }
    let mut response = HttpResponse::Ok();
    response
        .insert_header((CONTENT_TYPE, GEOJSON))
        .insert_header((CONTENT_CRS, format!("<{}>", wanted.crs.uri())));
    Ok(body::respond(&mut response, &head, page.members, wanted.crs)?)
}

/// The page that is asked for: found at once where that is quick, else where nobody waits for it.
async fn page(
    service: &Shared,
    collection: Collection,
    mut asked: Asked,
) -> Result<(Asked, Wanted, Page), Problem> {
    if let Some(at_hand) = service.catalogue.at_hand() {
        let wanted = Wanted::read(collection, &mut asked, &at_hand)?;
        let after = wanted.after.as_deref();
        if let Some(page) = wanted.selection.page_at_once(&at_hand, after, wanted.limit)? {
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
            Collection::Surfaces if html => Some(plans::whole(service, &id)?),
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
        let plan = format!("/surfaces/{id}/plan.svg");
        links.push(link(base, &plan, "related", SVG, "The surface's plan"));
        let map = format!("/map#surface={id}");
        links.push(link(base, &map, "related", HTML, "The surface on the map"));
        for other in [Collection::Prints, Collection::Trackways, Collection::Extents] {
            let items = format!("/collections/{}/items?surface={id}", other.id());
            let title = format!("The surface's {}", other.id());
            links.push(link(base, &items, "related", GEOJSON, title));
        }
        let grouping = format!("/queries/grouping?surface={id}");
        let title = "Its prints grouped into probable trackways";
        links.push(link(base, &grouping, "related", GEOJSON, title));
    }
    feature["links"] = json!(links);
    Ok(feature)
}
