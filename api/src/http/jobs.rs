//! `/jobs`, `/jobs/{job}` and `/jobs/{job}/results`.

use super::asked::Asked;
use super::job_filter::{PARAMETERS, filter, limit};
use super::link::link;
use super::media::{GEOJSON, HTML, JSON, rel};
use super::page::Document;
use super::processes::answer;
use super::{Problem, Service, Shared, off_thread};
use crate::problem::PROBLEM;
use crate::store::jobs::{Job, JobId, JobStatus};
use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use serde_json::{Value, json};

const NO_SUCH_JOB: &str = "http://www.opengis.net/def/exceptions/ogcapi-processes-1/1.0/no-such-job";
const NOT_READY: &str = "http://www.opengis.net/def/exceptions/ogcapi-processes-1/1.0/result-not-ready";

/// `/jobs`: the jobs that came last, the newest first. Strangers are told of none: a job is theirs who know its name.
pub async fn all(request: HttpRequest, service: Shared) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request, &service)?;
    let given = request.query_string().to_owned();
    let limit = limit(&mut asked)?;
    let (filter, any) = filter(&mut asked)?;
    asked.nothing_else(&PARAMETERS)?;
    let mut jobs = off_thread(&service, move |service| {
        if !any || !service.catalogue.audience().lists_jobs() {
            return Ok(Vec::new());
        }
        Ok(service.catalogue.store().queue().jobs(&filter, limit + 1)?)
    })
    .await?;
    let base = &asked.base;
    let mut links = vec![
        link(
            base,
            &with("/jobs", &given, &[("f", "json")]),
            "self",
            JSON,
            "This list as JSON",
        ),
        link(
            base,
            &with("/jobs", &given, &[("f", "html")]),
            "alternate",
            HTML,
            "This list for a browser",
        ),
    ];
    if jobs.len() > limit {
        jobs.truncate(limit);
        let last = jobs.last().map(|job| job.number.to_string()).unwrap_or_default();
        let next = with("/jobs", &given, &[("f", "json"), ("before", &last)]);
        links.push(link(base, &next, "next", JSON, "The next page"));
    }
    let jobs: Vec<Value> = jobs.iter().map(|job| status(job, base)).collect();
    Ok(Document::json("Jobs", json!({ "jobs": jobs, "links": links })).respond(&asked))
}

/// `/jobs/{job}`: how far it has come.
pub async fn one(request: HttpRequest, service: Shared, path: Path<String>) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let job = off_thread(&service, move |service| found(service, &path)).await?;
    Ok(Document::json("Job", status(&job, &asked.base)).respond(&asked))
}

/// `/jobs/{job}` by DELETE: calls it off, or removes what has come of it.
pub async fn dismiss(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let job = off_thread(&service, move |service| {
        let job = found(service, &path)?;
        let dismissed = service
            .catalogue
            .store()
            .queue()
            .dismiss(&job.id, service.keep_jobs)?;
        dismissed.ok_or_else(|| missing(&path))
    })
    .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, JSON))
        .body(format!("{}\n", status(&job, &asked.base))))
}

/// `/jobs/{job}/results`.
pub async fn results(
    request: HttpRequest,
    service: Shared,
    path: Path<String>,
) -> Result<HttpResponse, Problem> {
    let asked = Asked::of(&request, &service)?;
    asked.nothing_else(&[])?;
    let (job, result) = off_thread(&service, move |service| {
        let job = found(service, &path)?;
        let result = service.catalogue.store().queue().job_result(&job)?;
        Ok((job, result))
    })
    .await?;
    match (job.status, result) {
        (JobStatus::Successful, Some(result)) => Ok(answer(result, job.order.document)),
        (JobStatus::Accepted | JobStatus::Running, _) => {
            let detail = format!(
                "The job is {}; ask again when /jobs/{} says successful.",
                job.status, job.id
            );
            Err(Problem::not_found(detail).of_type(NOT_READY))
        }
        (JobStatus::Failed, _) => Ok(failed(&job)),
        _ => Err(Problem::new(
            StatusCode::GONE,
            "The job was called off; there is no result.",
        )),
    }
}

/// What went wrong, as it would have been answered at once.
fn failed(job: &Job) -> HttpResponse {
    let problem = job.problem.clone().unwrap_or_default();
    let status = problem["status"]
        .as_u64()
        .and_then(|status| u16::try_from(status).ok());
    let status = status.and_then(|status| StatusCode::from_u16(status).ok());
    HttpResponse::build(status.unwrap_or(StatusCode::INTERNAL_SERVER_ERROR))
        .insert_header((CONTENT_TYPE, PROBLEM))
        .body(problem.to_string())
}

/// The job of this name, where the asker may read it.
fn found(service: &Service, name: &str) -> Result<Job, Problem> {
    let id: JobId = name.parse().map_err(|_| missing(name))?;
    let job = service.catalogue.store().queue().job(&id)?;
    job.filter(|job| service.catalogue.audience().reads_jobs_of(&job.order.asker))
        .ok_or_else(|| missing(name))
}

fn missing(name: &str) -> Problem {
    let detail = format!("There is no job {name:?}, or no longer: what has ended is removed in time.");
    Problem::not_found(detail).of_type(NO_SUCH_JOB)
}

/// The standard's statusInfo.
pub(super) fn status(job: &Job, base: &str) -> Value {
    let at = format!("/jobs/{}", job.id);
    let mut links = vec![
        link(base, &format!("{at}?f=json"), "self", JSON, "This job as JSON"),
        link(
            base,
            &format!("{at}?f=html"),
            "alternate",
            HTML,
            "This job for a browser",
        ),
    ];
    if job.status == JobStatus::Successful {
        let media = if job.order.document { JSON } else { GEOJSON };
        links.push(link(
            base,
            &format!("{at}/results"),
            rel::RESULTS,
            media,
            "Its result",
        ));
    }
    let mut status = json!({
        "jobID": job.id.as_str(),
        "type": "process",
        "processID": job.order.process,
        "status": job.status.as_str(),
        "progress": job.progress,
        "created": job.created,
        "updated": job.updated,
        "links": links,
    });
    let more = [
        ("message", job.message.clone().map(Value::from)),
        ("started", job.started.map(|moment| json!(moment))),
        ("finished", job.finished.map(|moment| json!(moment))),
    ];
    for (name, value) in more {
        if let Some(value) = value {
            status[name] = value;
        }
    }
    status
}

/// A path with the parameters that were given, some of them replaced.
fn with(path: &str, given: &str, replaced: &[(&str, &str)]) -> String {
    let kept = form_urlencoded::parse(given.as_bytes())
        .filter(|(name, _)| replaced.iter().all(|(other, _)| name != other));
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.extend_pairs(kept).extend_pairs(replaced);
    format!("{path}?{}", query.finish())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_keep_what_was_asked() {
        assert_eq!(
            with(
                "/jobs",
                "f=html&status=failed&before=9",
                &[("f", "json"), ("before", "3")]
            ),
            "/jobs?status=failed&f=json&before=3"
        );
    }
}
