//! `/collections` and `/collections/{collection}`: what each layer holds and in which CRSs.

use super::asked::Asked;
use super::link::link;
use super::media::{GEOJSON, HTML, JSON};
use super::page::Document;
use super::{Problem, Shared, off_thread, queryables};
use crate::catalogue::{Catalogue, Listing};
use crate::collection::Collection;
use crate::feature::OutputCrs;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use serde_json::{Value, json};

/// `/collections`.
pub async fn all(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let base = asked.base.clone();
    let body = off_thread(&service, move |service| {
        let listing = service.catalogue.listing()?;
        let list: Vec<Value> = Collection::ALL
            .into_iter()
            .map(|collection| describe(collection, &base, &listing))
            .collect();
        Ok(json!({
            "links": [
                link(&base, "/collections?f=json", "self", JSON, "This list as JSON"),
                link(&base, "/collections?f=html", "alternate", HTML, "This list for a browser"),
            ],
            "crs": uris(&listing),
            "collections": list,
        }))
    })
    .await?;
    Ok(Document::json("Collections", body).respond(&asked))
}

/// `/collections/{collection}`.
pub async fn one(request: HttpRequest, service: Shared, path: Path<String>) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let collection = find(&path)?;
    let base = asked.base.clone();
    let body = off_thread(&service, move |service| {
        Ok(describe(collection, &base, &*service.catalogue.listing()?))
    })
    .await?;
    Ok(Document::json(collection.title(), body).respond(&asked))
}

/// The collection of a path.
pub(super) fn find(id: &str) -> Result<Collection, Problem> {
    Collection::find(id).ok_or_else(|| {
        let ids: Vec<&str> = Collection::ALL.iter().map(|collection| collection.id()).collect();
        Problem::not_found(format!(
            "There is no collection {id:?}; there are {}.",
            ids.join(", ")
        ))
    })
}

/// The CRSs that coordinates can be asked in: longitude and latitude, two that many clients know, and
/// those of the sites.
pub(super) fn codes(listing: &Listing) -> Vec<u32> {
    let mut codes = vec![4326, 3857];
    codes.extend(
        listing
            .codes()
            .into_iter()
            .filter(|code| ![4326, 3857].contains(code)),
    );
    codes
}

/// The CRS that a parameter names, if it is one of those that are offered.
pub(super) fn offered(catalogue: &Catalogue, parameter: &str, text: &str) -> Result<OutputCrs, Problem> {
    let listing = catalogue.listing()?;
    let known = OutputCrs::parse(text).ok().filter(|crs| match crs {
        OutputCrs::Crs84 => true,
        OutputCrs::Epsg(crs) => codes(&listing).contains(&crs.code),
    });
    known.ok_or_else(|| {
        Problem::bad_request(format!(
            "{parameter}={text} is not offered: expected one of the CRSs in /collections, which are {}.",
            uris(&listing).join(", ")
        ))
    })
}

pub(super) fn uris(listing: &Listing) -> Vec<String> {
    let epsg = codes(listing)
        .into_iter()
        .map(|code| format!("http://www.opengis.net/def/crs/EPSG/0/{code}"));
    std::iter::once(OutputCrs::Crs84.uri()).chain(epsg).collect()
}

fn describe(collection: Collection, base: &str, listing: &Listing) -> Value {
    let id = collection.id();
    let at = format!("/collections/{id}");
    let to =
        |path: &str, rel, media, title: &'static str| link(base, &format!("{at}{path}"), rel, media, title);
    let mut links = vec![
        to("?f=json", "self", JSON, "This collection as JSON"),
        to("?f=html", "alternate", HTML, "This collection for a browser"),
        to("/items?f=json", "items", GEOJSON, "Its features as GeoJSON"),
        to("/items?f=html", "items", HTML, "Its features for a browser"),
    ];
    links.extend(queryables::links(collection, base));
    let mut described = json!({
        "id": id,
        "title": collection.title(),
        "description": collection.about(),
        "itemType": "feature",
        "crs": uris(listing),
        "links": links,
    });
    if let Some([[west, south], [east, north]]) = bounds_deg(collection, listing) {
        described["extent"] =
            json!({ "spatial": { "bbox": [[west, south, east, north]], "crs": OutputCrs::Crs84.uri() } });
    }
    // Where all sites have one CRS, everything is stored in it.
    if let [code] = listing.codes()[..] {
        described["storageCrs"] = json!(format!("http://www.opengis.net/def/crs/EPSG/0/{code}"));
    }
    described
}

/// The box around everything, in longitude and latitude; `None` for an empty store.
fn bounds_deg(collection: Collection, listing: &Listing) -> Option<[[f64; 2]; 2]> {
    let boxes = listing.surfaces().filter_map(|entry| entry.bounds_deg());
    let cells = listing.cells_deg().filter(|_| collection == Collection::Sites);
    let around = boxes
        .chain(cells)
        .reduce(|[a, b], [c, d]| [[a[0].min(c[0]), a[1].min(c[1])], [b[0].max(d[0]), b[1].max(d[1])]])?;
    // Rounded outwards, so that the box holds what it says that it holds.
    let [lower, upper] = around;
    Some([
        lower.map(|edge| (edge * 1e6).floor() / 1e6),
        upper.map(|edge| (edge * 1e6).ceil() / 1e6),
    ])
}
