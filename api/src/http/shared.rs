//! The service as one request may see it.

use super::{Problem, Service, moment};
use crate::access::{Asker, Audience, Denied, Role};
use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpMessage, HttpRequest, web};
use spatial::model::Slug;
use std::future::{Ready, ready};
use std::ops::Deref;
use std::sync::Arc;

/// The service as one request may see it, and who sends that request.
#[derive(Clone)]
pub struct Shared {
    service: web::Data<Service>,
    asker: Arc<Asker>,
}

impl Shared {
    /// Who asks.
    pub fn asker(&self) -> &Asker {
        &self.asker
    }

    /// Lets only those pass who have a role at a site.
    ///
    /// # Errors
    /// Why the asker may not.
    pub fn must_be(&self, role: Role, site: &Slug) -> Result<(), Problem> {
        Ok(self.asker.must_be(role, site)?)
    }
}

impl Deref for Shared {
    type Target = Service;

    fn deref(&self) -> &Service {
        &self.service
    }
}

impl FromRequest for Shared {
    type Error = actix_web::Error;
    type Future = Ready<Result<Self, Self::Error>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let asker = request.extensions().get::<Arc<Asker>>().cloned();
        // Who has not come through the gate is nobody.
        let asker = asker.unwrap_or_else(|| Arc::new(Asker::unknown(Audience::Public, Denied::NoToken)));
        let service = web::Data::<Service>::from_request(request, payload).into_inner();
        let moment = match moment::asked_for(request) {
            Ok(moment) => moment,
            Err(problem) => return ready(Err(problem.into())),
        };
        ready(service.map(|service| {
            let shown = if service.catalogue.audience() == asker.audience() && moment.is_none() {
                service
            } else {
                let catalogue = service.catalogue.seen_by(asker.audience().clone()).as_of(moment);
                web::Data::new(Service {
                    catalogue,
                    ..Service::clone(&service)
                })
            };
            Self {
                service: shown,
                asker,
            }
        }))
    }
}
