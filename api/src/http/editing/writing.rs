//! What is written, by whom, and how it is answered.

use super::super::items::one_feature;
use super::super::media::{CONTENT_CRS, GEOJSON};
use super::super::{Problem, Service, Shared};
use super::body::Body;
use super::item_path;
use super::precondition::moved;
use super::reader::refused;
use crate::collection::{Collection, Selection};
use crate::feature::OutputCrs;
use crate::intake::{listed, without_rows};
use crate::store::{Change, Deed, Edit, Edited, Expected, Once, RecordId};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_TYPE, ETAG, LOCATION};
use jiff::Timestamp;
use serde_json::Value;
use spatial::model::{PlacePolicy, Site};
use std::sync::Arc;

/// Who writes what; the deed as the history will tell it.
pub(super) struct Writer {
    record: RecordId,
    base: String,
    change: Change,
}

impl Writer {
    pub(super) fn new(service: &Shared, base: String, record: RecordId, verb: &str) -> Self {
        let change = Change {
            author: service.asker().author().to_owned(),
            at: Timestamp::now(),
            deed: format!("{verb} {record} over HTTP"),
        };
        Self { record, base, change }
    }

    pub(super) fn site(&self, service: &Service) -> Result<Arc<Site>, Problem> {
        let listing = service.catalogue.listing()?;
        let slug = self.record.site();
        let found = listing.site(slug).cloned();
        found.ok_or_else(|| Problem::not_found(format!("There is no site {:?}.", slug.as_str())))
    }

    pub(super) fn add_site(
        &self,
        service: &Service,
        body: &Body,
        once: Option<&Once>,
    ) -> Result<u32, Problem> {
        let site = body.site(self.record.site(), PlacePolicy::Open)?;
        let added = service.catalogue.store().add_site_once(&site, once, &self.change);
        match added? {
            Edited::Done(revision) | Edited::Before(_, revision) => Ok(revision),
            Edited::Refused(conflicts) => Err(refused(&without_rows(listed(&conflicts)))),
        }
    }

    pub(super) fn change_site(&self, service: &Service, body: &Body, expected: u32) -> Result<u32, Problem> {
        let stands = self.site(service)?;
        let site = Site {
            // What the interface does not tell of stays as it is.
            local_grid: stands.local_grid.clone(),
            revision: expected,
            ..body.site(self.record.site(), stands.policy)?
        };
        let changed = service.catalogue.store().change_site(&site, &self.change);
        Ok(changed.map_err(moved)?.revision)
    }

    /// The record's revision after a deed.
    pub(super) fn edit(
        &self,
        service: &Service,
        deed: Deed,
        expected: Expected,
        once: Option<Once>,
    ) -> Result<u32, Problem> {
        let edit = Edit {
            id: self.record.clone(),
            deed,
            expected,
            once,
        };
        match service
            .catalogue
            .store()
            .edit(&edit, &self.change)
            .map_err(moved)?
        {
            Edited::Done(revision) | Edited::Before(_, revision) => Ok(revision),
            Edited::Refused(conflicts) => Err(refused(&without_rows(listed(&conflicts)))),
        }
    }

    /// The record as it stands after it.
    pub(super) fn written(
        &self,
        service: &Service,
        collection: Collection,
        id: &str,
        revision: u32,
        crs: OutputCrs,
    ) -> Result<Written, Problem> {
        // Somebody may have changed or removed it since: what is shown is what the ETag names, or nothing.
        let member = Selection::one(collection, &service.catalogue, id)?;
        let member = member.filter(|member| member.revision() == revision);
        let feature = member.map(|member| one_feature(&member, &crs, collection, &self.base));
        Ok(Written {
            revision,
            location: format!("{}{}", self.base, item_path(collection, id)),
            crs,
            feature: feature.transpose()?,
        })
    }
}

/// A record that has been written.
pub(super) struct Written {
    revision: u32,
    location: String,
    crs: OutputCrs,
    feature: Option<Value>,
}

impl Written {
    pub(super) fn answer(self, status: StatusCode) -> HttpResponse {
        let mut response = HttpResponse::build(status);
        response.insert_header((ETAG, format!("\"{}\"", self.revision)));
        if status == StatusCode::CREATED {
            response.insert_header((LOCATION, self.location));
        }
        let Some(feature) = self.feature else {
            return response.finish();
        };
        response
            .insert_header((CONTENT_CRS, format!("<{}>", self.crs.uri())))
            .insert_header((CONTENT_TYPE, GEOJSON))
            .body(format!("{feature}\n"))
    }
}
