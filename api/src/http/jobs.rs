//! `/jobs`, `/jobs/{job}` and `/jobs/{job}/results`.

use super::asked::Asked;
use super::landing::link;
use super::media::{GEOJSON, HTML, JSON, rel};
use super::page::Document;
use super::processes::answer;
use super::{Problem, Service, Shared, off_thread};
use crate::problem::PROBLEM;
use crate::store::jobs::{Job, JobFilter, JobId, JobStatus};
use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use jiff::civil::Date;
use jiff::tz::Offset;
use jiff::{Timestamp, ToSpan};
use serde_json::{Value, json};

const NO_SUCH_JOB: &str = "http://www.opengis.net/def/exceptions/ogcapi-processes-1/1.0/no-such-job";
const NOT_READY: &str = "http://www.opengis.net/def/exceptions/ogcapi-processes-1/1.0/result-not-ready";

/// How many entries a page of a list has where nobody says.
pub(super) const USUAL: usize = 100;
/// How many it has at most; a larger number is taken as this.
pub(super) const LIMIT: usize = 1000;

/// The parameters of `/jobs` beside `f`.
const PARAMETERS: [&str; 8] = [
    "limit",
    "type",
    "processID",
    "status",
    "datetime",
    "minDuration",
    "maxDuration",
    "before",
];

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
    job.filter(|job| service.catalogue.audience().reads_jobs_of(job.order.asker))
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

/// How many entries a page shall have.
pub(super) fn limit(asked: &mut Asked) -> Result<usize, Problem> {
    let Some(text) = asked.take("limit")? else {
        return Ok(USUAL);
    };
    let limit = text
        .parse()
        .ok()
        .filter(|limit| *limit > 0)
        .map(|limit: usize| limit.min(LIMIT));
    limit.ok_or_else(|| {
        Problem::bad_request(format!(
            "limit is {text:?}: expected a whole number of 1 or more."
        ))
    })
}

/// Which jobs are asked for, and whether there can be any.
fn filter(asked: &mut Asked) -> Result<(JobFilter, bool), Problem> {
    let list = |text: String| {
        text.split(',')
            .map(|part| part.trim().to_owned())
            .collect::<Vec<_>>()
    };
    let kinds = asked
        .take("type")?
        .map(list)
        .unwrap_or_else(|| vec!["process".to_owned()]);
    let statuses = asked.take("status")?.map(|text| {
        let words = list(text);
        words
            .iter()
            .map(|word| word.parse())
            .collect::<Result<Vec<JobStatus>, _>>()
    });
    let statuses = statuses
        .transpose()
        .map_err(|fault| Problem::bad_request(format!("status: {fault}.")))?;
    let (from, to) = match asked.take("datetime")? {
        Some(text) => interval(&text).ok_or_else(|| {
            Problem::bad_request(format!(
                "datetime is {text:?}: expected an instant such as 2026-03-21T09:00:00Z, a day, or two of them with a slash \
                 between, where .. leaves an end open."
            ))
        })?,
        None => (None, None),
    };
    let filter = JobFilter {
        processes: asked.take("processID")?.map(list),
        statuses,
        from,
        to,
        least_s: seconds(asked, "minDuration")?,
        most_s: seconds(asked, "maxDuration")?,
        before: number(asked, "before")?,
    };
    Ok((filter, kinds.iter().any(|kind| kind == "process")))
}

fn number<T: std::str::FromStr>(asked: &mut Asked, name: &str) -> Result<Option<T>, Problem> {
    let parse = |text: String| {
        text.parse()
            .map_err(|_| Problem::bad_request(format!("{name} is {text:?}: expected a number.")))
    };
    asked.take(name)?.map(parse).transpose()
}

fn seconds(asked: &mut Asked, name: &str) -> Result<Option<f64>, Problem> {
    let seconds: Option<f64> = number(asked, name)?;
    match seconds {
        Some(seconds) if !seconds.is_finite() || seconds < 0.0 => Err(Problem::bad_request(format!(
            "{name} is {seconds}: expected seconds, 0 or more."
        ))),
        seconds => Ok(seconds),
    }
}

type Ends = (Option<Timestamp>, Option<Timestamp>);

/// An instant, a day, or an interval of them; both ends included.
fn interval(text: &str) -> Option<Ends> {
    let (from, to) = text.split_once('/').unwrap_or((text, text));
    let open = |text: &str| matches!(text, "" | "..");
    let first = if open(from) { None } else { Some(span(from)?.0) };
    let last = if open(to) { None } else { Some(span(to)?.1) };
    let turned = first.zip(last).is_some_and(|(first, last)| first > last);
    (!turned && (first.is_some() || last.is_some() || text.contains('/'))).then_some((first, last))
}

/// The first and the last millisecond of an instant or a day.
fn span(text: &str) -> Option<(Timestamp, Timestamp)> {
    if let Ok(instant) = text.parse::<Timestamp>() {
        return Some((instant, instant));
    }
    let day: Date = text.parse().ok().filter(|_| text.len() == 10)?;
    let start = |day: Date| Offset::UTC.to_timestamp(day.at(0, 0, 0, 0)).ok();
    Some((start(day)?, start(day.tomorrow().ok()?)? - 1.millisecond()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn intervals_of_days_and_instants() {
        let at = |text: &str| Some(text.parse::<Timestamp>().unwrap());
        assert_eq!(
            interval("2026-03-21"),
            Some((at("2026-03-21T00:00:00Z"), at("2026-03-21T23:59:59.999Z")))
        );
        let nine = at("2026-03-21T09:00:00Z");
        assert_eq!(interval("2026-03-21T09:00:00Z"), Some((nine, nine)));
        assert_eq!(interval("2026-03-21T09:00:00Z/.."), Some((nine, None)));
        assert_eq!(
            interval("/2026-03-21"),
            Some((None, at("2026-03-21T23:59:59.999Z")))
        );
        for text in [
            "",
            "..",
            "march",
            "2026-03-22/2026-03-21",
            "2026-03-21/march",
            "2026-03",
        ] {
            assert_eq!(interval(text), None, "{text}");
        }
    }

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
