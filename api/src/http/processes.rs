//! `/processes`, `/processes/{process}` and `/processes/{process}/execution`: the registry's door by OGC API Processes.

use super::asked::Asked;
use super::execution::{ANSWER, Execution};
use super::job_filter::limit;
use super::jobs;
use super::link::link;
use super::media::{CONTENT_CRS, GEOJSON, HTML, JSON, rel};
use super::page::Document;
use super::{Problem, Shared, off_thread};
use crate::query::{self, Registered};
use crate::store::jobs::{JobResult, Order};
use actix_web::http::header::{CONTENT_TYPE, HeaderName, LOCATION};
use actix_web::web::{Bytes, Path};
use actix_web::{HttpRequest, HttpResponse};
use serde_json::{Map, Value, json};

const PREFER: HeaderName = HeaderName::from_static("prefer");
const PREFERENCE_APPLIED: HeaderName = HeaderName::from_static("preference-applied");
const NO_SUCH_PROCESS: &str = "http://www.opengis.net/def/exceptions/ogcapi-processes-1/1.0/no-such-process";

/// `/processes`: each query as a process.
pub async fn all(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let limit = limit(&mut asked)?;
    let after = asked.take("after")?;
    asked.nothing_else(&["limit", "after"])?;
    let first = match &after {
        None => 0,
        Some(id) => query::ALL
            .iter()
            .position(|query| query.id() == id)
            .map_or(query::ALL.len(), |at| at + 1),
    };
    let page = &query::ALL[first..query::ALL.len().min(first + limit)];
    let base = &asked.base;
    let mut links = vec![
        link(base, "/processes?f=json", "self", JSON, "This list as JSON"),
        link(
            base,
            "/processes?f=html",
            "alternate",
            HTML,
            "This list for a browser",
        ),
    ];
    if let Some(last) = page.last().filter(|_| first + page.len() < query::ALL.len()) {
        let next = format!("/processes?f=json&limit={limit}&after={}", last.id());
        links.push(link(base, &next, "next", JSON, "The next page"));
    }
    let processes: Vec<Value> = page.iter().map(|query| summary(base, *query)).collect();
    let body = json!({ "processes": processes, "links": links });
    Ok(Document::json("Processes", body).respond(&asked))
}

/// `/processes/{process}`: one with its inputs.
pub async fn one(request: HttpRequest, service: Shared, path: Path<String>) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let query = found(&path)?;
    let mut body = summary(&asked.base, query);
    body["inputs"] = inputs(query);
    body["outputs"] = json!({ ANSWER: {
        "title": query.title(),
        "description": "A GeoJSON FeatureCollection; each feature says in `part` what it is.",
        "schema": { "type": "object", "format": "geojson-feature-collection", "contentMediaType": GEOJSON },
    } });
    Ok(Document::json(query.title(), body).respond(&asked))
}

/// `/processes/{process}/execution`: asks it, at once or as a job.
pub async fn execute(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
    body: Result<Bytes, actix_web::Error>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let query = found(&path)?;
    let execution = Execution::read(&request, body)?;
    if prefers_async(&request) {
        return enqueue(query, execution, &service, &asked.base).await;
    }
    let inputs = execution.inputs.into_iter().collect();
    let result = off_thread(&service, move |service| {
        let reply = query.ask(inputs, &service.catalogue)?;
        Ok(JobResult {
            crs: reply.crs.uri(),
            body: reply.body,
        })
    });
    Ok(answer(result.await?, execution.document))
}

async fn enqueue(
    query: &'static dyn Registered,
    execution: Execution,
    service: &Shared,
    base: &str,
) -> Result<HttpResponse, Problem> {
    // Who asks for what cannot be is told at once, not by a job that fails.
    query.check(execution.inputs.clone().into_iter().collect())?;
    let job = off_thread(service, move |service| {
        let asker = service.catalogue.audience().clone();
        let most = asker.most_jobs();
        let order = Order {
            process: query.id().to_owned(),
            inputs: execution.inputs,
            document: execution.document,
            asker,
            as_of: service.catalogue.moment(),
        };
        let job = service.catalogue.store().queue().enqueue(&order, most)?;
        service.bell.ring();
        Ok(job)
    })
    .await?;
    Ok(HttpResponse::Created()
        .insert_header((CONTENT_TYPE, JSON))
        .insert_header((LOCATION, format!("{base}/jobs/{}", job.id)))
        .insert_header((PREFERENCE_APPLIED, "respond-async"))
        .body(format!("{}\n", jobs::status(&job, base))))
}

/// A result as its asker wants it: raw, the bytes of `/queries/{query}`; or as a document.
pub(super) fn answer(result: JobResult, document: bool) -> HttpResponse {
    let mut response = HttpResponse::Ok();
    response.insert_header((CONTENT_CRS, format!("<{}>", result.crs)));
    if !document {
        return response.insert_header((CONTENT_TYPE, GEOJSON)).body(result.body);
    }
    let head = format!("{{\"{ANSWER}\":{{\"mediaType\":\"{GEOJSON}\",\"value\":");
    let body = [head.as_bytes(), result.body.trim_ascii_end(), b"}}\n"].concat();
    response.insert_header((CONTENT_TYPE, JSON)).body(body)
}

fn found(id: &str) -> Result<&'static dyn Registered, Problem> {
    query::find(id).ok_or_else(|| {
        let detail = format!("There is no process {id:?}; /processes lists those that there are.");
        Problem::not_found(detail).of_type(NO_SUCH_PROCESS)
    })
}

/// Whether `Prefer` asks for a job; what else it asks for is left aside, as the standard has it.
fn prefers_async(request: &HttpRequest) -> bool {
    let headers = request
        .headers()
        .get_all(PREFER)
        .filter_map(|header| header.to_str().ok());
    headers
        .flat_map(|header| header.split([',', ';']))
        .any(|part| part.trim().eq_ignore_ascii_case("respond-async"))
}

fn summary(base: &str, query: &dyn Registered) -> Value {
    let at = format!("/processes/{}", query.id());
    let execution = format!("{at}/execution");
    json!({
        "id": query.id(),
        "title": query.title(),
        "description": query.about(),
        "version": env!("CARGO_PKG_VERSION"),
        "jobControlOptions": ["sync-execute", "async-execute", "dismiss"],
        "outputTransmission": ["value"],
        "links": [
            link(base, &format!("{at}?f=json"), "self", JSON, query.title()),
            link(base, &format!("{at}?f=html"), "alternate", HTML, query.title()),
            link(base, &execution, rel::EXECUTE, JSON, "Where to execute it, by POST"),
        ],
    })
}

fn inputs(query: &dyn Registered) -> Value {
    let schema = query.schema();
    let required = schema["required"].as_array().cloned().unwrap_or_default();
    let properties = schema["properties"].as_object().into_iter().flatten();
    let described: Map<String, Value> = properties
        .map(|(name, input)| {
            let described = json!({
                "title": name,
                "description": input["description"],
                "minOccurs": usize::from(required.contains(&json!(name))),
                "maxOccurs": 1,
                "schema": input,
            });
            (name.clone(), described)
        })
        .collect();
    described.into()
}
