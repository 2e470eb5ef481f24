//! Records made, replaced, changed and removed: OGC API Features Part 4 (draft 20-002r1).

mod body;
mod precondition;
mod reader;
mod writing;

use super::asked::Asked;
use super::collections::find;
use super::media::{CONTENT_CRS, GEOJSON, JSON};
use super::{Problem, Service, Shared, off_thread};
use crate::access::Role;
use crate::collection::{Collection, FeatureOf, Member, Selection};
use crate::crs::CrsFault;
use crate::feature::OutputCrs;
use crate::store::{Deed, Expected, RecordId};
use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, CONTENT_TYPE};
use actix_web::web::{Bytes, Path};
use actix_web::{HttpRequest, HttpResponse};
use body::Body;
use precondition::once;
pub(super) use precondition::{IfMatch, moved};
use serde_json::{Value, json};
use spatial::model::{PrintId, Slug, SurfaceId};
use writing::Writer;

const MERGE_PATCH: &str = "application/merge-patch+json";
/// What may be done with a record that is never removed.
const KEPT: &str = "GET, HEAD, PUT, PATCH, OPTIONS";

/// What may be done with a collection, or with one record of it.
pub async fn options(path: Path<Vec<String>>) -> Result<HttpResponse, Problem> {
    let collection = find(path.first().map_or("", String::as_str))?;
    let allowed = match (path.len(), collection) {
        (1, _) => "GET, HEAD, POST, OPTIONS",
        (_, Collection::Sites | Collection::Surfaces) => KEPT,
        _ => "GET, HEAD, PUT, PATCH, DELETE, OPTIONS",
    };
    Ok(HttpResponse::NoContent().insert_header((ALLOW, allowed)).finish())
}

/// Makes a record.
pub async fn create(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
    bytes: Bytes,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let collection = find(&path)?;
    service.asker().must_write()?;
    let body = checked(&request, &[GEOJSON, JSON]).and_then(|()| Body::read(&bytes))?;
    let id = body.id(collection)?;
    let record = record_id(collection, &id).ok_or_else(|| missing(collection, &id))?;
    permit(&service, &record, true)?;
    let (crs, once) = (content_crs(&request)?, once(&request, &bytes)?);
    let writer = Writer::new(&service, asked.base, record, "create");
    let made = off_thread(&service, move |service| {
        let revision = match collection {
            Collection::Sites => writer.add_site(service, &body, once.as_ref())?,
            _ => {
                let site = writer.site(service)?;
                let deed = body.deed(collection, &id, &site, &crs, None)?;
                writer.edit(service, deed, Expected::Absent, once)?
            }
        };
        writer.written(service, collection, &id, revision, crs)
    });
    Ok(made.await?.answer(StatusCode::CREATED))
}

/// Replaces a record.
pub async fn replace(
    request: HttpRequest,
    service: Shared,
    path: Path<(String, String)>,
    bytes: Bytes,
) -> Result<HttpResponse, Problem> {
    let body = checked(&request, &[GEOJSON, JSON]).and_then(|()| Body::read(&bytes));
    change(request, service, path.into_inner(), "replace", move |_| body).await
}

/// Changes some properties of a record: JSON Merge Patch (RFC 7396).
pub async fn update(
    request: HttpRequest,
    service: Shared,
    path: Path<(String, String)>,
    bytes: Bytes,
) -> Result<HttpResponse, Problem> {
    let patch = checked(&request, &[MERGE_PATCH, JSON, GEOJSON]).and_then(|()| {
        serde_json::from_slice::<Value>(&bytes)
            .map_err(|error| Problem::bad_request(format!("The body is no JSON: {error}.")))
    });
    change(request, service, path.into_inner(), "update", move |stands| {
        let mut merged =
            json!({ "type": "Feature", "geometry": stands["geometry"], "properties": stands["properties"] });
        let patch = patch?;
        if !patch.is_object() {
            return Err(Problem::bad_request(
                "Expected an object with what is other: properties, a geometry.",
            ));
        }
        if let Some(properties) = patch.get("properties") {
            merge(&mut merged["properties"], properties);
        }
        if let Some(geometry) = patch.get("geometry") {
            merge(&mut merged["geometry"], geometry);
        }
        Body::of(merged)
    })
    .await
}

/// Removes a record; its history stays.
pub async fn remove(
    request: HttpRequest,
    service: Shared,
    path: Path<(String, String)>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let (collection, id) = path.into_inner();
    let collection = find(&collection)?;
    let record = record_id(collection, &id).ok_or_else(|| missing(collection, &id))?;
    permit(&service, &record, false)?;
    if matches!(collection, Collection::Sites | Collection::Surfaces) {
        let why = format!(
            "A {} is not removed: what is on it would lose its place.",
            collection.singular()
        );
        return Err(Problem::method(why, KEPT));
    }
    let if_match = IfMatch::of(&request)?;
    let writer = Writer::new(&service, asked.base, record, "remove");
    off_thread(&service, move |service| {
        let member = standing(service, collection, &id, &if_match)?;
        let revision = if_match.check(member.revision(), &item_path(collection, &id))?;
        writer
            .edit(service, Deed::Remove, Expected::Revision(revision), None)
            .map(drop)
    })
    .await?;
    Ok(HttpResponse::NoContent().finish())
}

/// Puts what `told` makes of the record as it stands in its place.
async fn change(
    request: HttpRequest,
    service: Shared,
    (collection, id): (String, String),
    verb: &'static str,
    told: impl FnOnce(&Value) -> Result<Body, Problem> + Send + 'static,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let collection = find(&collection)?;
    let record = record_id(collection, &id).ok_or_else(|| missing(collection, &id))?;
    permit(&service, &record, false)?;
    let (crs, if_match) = (content_crs(&request)?, IfMatch::of(&request)?);
    let writer = Writer::new(&service, asked.base, record, verb);
    let changed = off_thread(&service, move |service| {
        let member = standing(service, collection, &id, &if_match)?;
        let expected = if_match.check(member.revision(), &item_path(collection, &id))?;
        let stands = json!(FeatureOf::new(&member, &crs)?);
        let mut body = told(&stands)?;
        let revision = if collection == Collection::Sites {
            writer.change_site(service, &body, expected)?
        } else {
            let exact = keep_places(collection, &member, &stands, &mut body);
            let deed = body.deed(collection, &id, &*writer.site(service)?, &crs, exact)?;
            writer.edit(service, deed, Expected::Revision(expected), None)?
        };
        writer.written(service, collection, &id, revision, crs)
    });
    Ok(changed.await?.answer(StatusCode::OK))
}

/// Whoever reads a place and sends it back must not move it by a rounding. A geometry that is as it was stands as it is
/// stored; of a print with another geometry, the easting and northing of before say nothing any more. Gives an
/// extent's outline in its site's coordinates, where it stands.
fn keep_places(collection: Collection, member: &Member, stands: &Value, body: &mut Body) -> Option<Value> {
    let same = body.geometry == stands["geometry"];
    match collection {
        Collection::Extents if same => {
            let polygon = geo::Polygon::try_from(member.geometry()?).ok()?;
            let written = geojson::Geometry::from(&polygon);
            Some(json!(written)["coordinates"].clone())
        }
        Collection::Prints if !same && !body.geometry.is_null() => {
            let before = |name: &str| body.properties.get(name) == stands["properties"].get(name);
            if before("easting_m") && before("northing_m") {
                body.properties.remove("easting_m");
                body.properties.remove("northing_m");
            }
            None
        }
        _ => None,
    }
}

/// The record that is to be changed.
fn standing(
    service: &Service,
    collection: Collection,
    id: &str,
    if_match: &IfMatch,
) -> Result<Member, Problem> {
    let found = Selection::one(collection, &service.catalogue, id)?;
    found.ok_or_else(|| match if_match {
        // What has gone since is a precondition that failed.
        IfMatch::Revisions(_) | IfMatch::Any => Problem::new(
            StatusCode::PRECONDITION_FAILED,
            format!("There is no {} {id:?}, or no longer.", collection.singular()),
        ),
        IfMatch::Nothing => missing(collection, id),
    })
}

fn missing(collection: Collection, id: &str) -> Problem {
    Problem::not_found(format!("There is no {} {id:?}.", collection.singular()))
}

pub(super) fn item_path(collection: Collection, id: &str) -> String {
    format!("/collections/{}/items/{id}", collection.id())
}

/// The record of a collection that an id names.
pub(super) fn record_id(collection: Collection, id: &str) -> Option<RecordId> {
    if collection == Collection::Sites {
        return id.parse::<Slug>().ok().map(RecordId::Site);
    }
    if collection == Collection::Surfaces {
        return id.parse::<SurfaceId>().ok().map(RecordId::Surface);
    }
    let PrintId { surface, label } = id.parse().ok()?;
    Some(match collection {
        Collection::Extents => RecordId::Extent(surface, label),
        Collection::Trackways => RecordId::Trackway(surface, label),
        _ => RecordId::Print(surface, label),
    })
}

/// A contributor changes what is on a site, a steward the site itself; only an admin makes one.
fn permit(service: &Shared, record: &RecordId, makes: bool) -> Result<(), Problem> {
    match record {
        RecordId::Site(_) if makes => Ok(service.asker().must_be_everywhere(Role::Admin)?),
        RecordId::Site(slug) => service.must_be(Role::Steward, slug),
        other => service.must_be(Role::Contributor, other.site()),
    }
}

/// Whether the body is of one of these media types. A client that names none means what is taken here: some never name it.
fn checked(request: &HttpRequest, media: &[&str]) -> Result<(), Problem> {
    let Some(given) = request.headers().get(CONTENT_TYPE) else {
        return Ok(());
    };
    let essence = given
        .to_str()
        .unwrap_or_default()
        .split(';')
        .next()
        .unwrap_or_default();
    if media.iter().any(|one| one.eq_ignore_ascii_case(essence.trim())) {
        return Ok(());
    }
    let detail = format!(
        "The body comes as {}; name it in Content-Type.",
        media.join(" or ")
    );
    Err(Problem::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, detail))
}

/// The CRS of the body's coordinates, as `Content-Crs: <URI>` names it.
fn content_crs(request: &HttpRequest) -> Result<OutputCrs, Problem> {
    let Some(header) = request.headers().get(CONTENT_CRS) else {
        return Ok(OutputCrs::Crs84);
    };
    let text = header.to_str().unwrap_or_default().trim();
    let uri = text
        .strip_prefix('<')
        .and_then(|text| text.strip_suffix('>'))
        .unwrap_or(text);
    OutputCrs::parse(uri).map_err(|fault: CrsFault| Problem::bad_request(format!("Content-Crs: {fault}.")))
}

/// Merges a patch into a value: null takes a member out, objects are merged, all else is replaced (RFC 7396, section 2).
fn merge(target: &mut Value, patch: &Value) {
    let Value::Object(members) = patch else {
        if !patch.is_null() || target.is_object() {
            *target = patch.clone();
        }
        return;
    };
    if !target.is_object() {
        *target = json!({});
    }
    for (name, value) in members {
        if value.is_null() {
            if let Some(target) = target.as_object_mut() {
                target.remove(name);
            }
        } else {
            merge(&mut target[name.as_str()], value);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Examples of RFC 7396, appendix A.
    #[test]
    fn patches_merge_as_the_standard_has_it() {
        for (original, patch, result) in [
            (json!({"a": "b"}), json!({"a": "c"}), json!({"a": "c"})),
            (json!({"a": "b"}), json!({"b": "c"}), json!({"a": "b", "b": "c"})),
            (json!({"a": "b"}), json!({"a": null}), json!({})),
            (json!({"a": "b", "b": "c"}), json!({"a": null}), json!({"b": "c"})),
            (json!({"a": ["b"]}), json!({"a": "c"}), json!({"a": "c"})),
            (json!({"a": "c"}), json!({"a": ["b"]}), json!({"a": ["b"]})),
            (
                json!({"a": {"b": "c"}}),
                json!({"a": {"b": "d", "c": null}}),
                json!({"a": {"b": "d"}}),
            ),
            (json!({"a": [{"b": "c"}]}), json!({"a": [1]}), json!({"a": [1]})),
            (json!({"e": null}), json!({"a": 1}), json!({"e": null, "a": 1})),
            (
                json!({}),
                json!({"a": {"bb": {"ccc": null}}}),
                json!({"a": {"bb": {}}}),
            ),
        ] {
            let mut merged = original.clone();
            merge(&mut merged, &patch);
            assert_eq!(merged, result, "{original} {patch}");
        }
    }
}
