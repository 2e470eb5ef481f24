//! The paths of OGC API Processes.

use super::super::job_filter::{LIMIT, USUAL};
use super::super::media::{GEOJSON, JSON};
use super::parameters::{path, query, reference};
use super::paths::{ANYONE, ROLE, get, responses};
use super::{document, readable};
use crate::query::{self, Registered};
use crate::store::jobs::JobStatus;
use serde_json::{Map, Value, json};

const TAG: &str = "processes";

/// Every path of processes and jobs.
pub(super) fn all() -> Map<String, Value> {
    let mut paths = Map::new();
    let mut add = |path: String, operations: Value| paths.insert(path, operations);
    let after = query(
        "after",
        "The process after which the page starts",
        json!({ "type": "string" }),
    );
    add(
        "/processes".into(),
        get(
            "processes",
            TAG,
            "The processes",
            vec![limit(), after, reference("f")],
            document("Each query as a process"),
        ),
    );
    for query in query::ALL {
        let id = query.id();
        let description = document("The process with its inputs and its output");
        add(
            format!("/processes/{id}"),
            get(
                &format!("process-{id}"),
                TAG,
                query.title(),
                vec![reference("f")],
                description,
            ),
        );
        add(
            format!("/processes/{id}/execution"),
            json!({ "post": execute(*query) }),
        );
    }
    add(
        "/jobs".into(),
        get(
            "jobs",
            TAG,
            "The jobs, the newest first",
            list_parameters(),
            document("The jobs"),
        ),
    );
    add("/jobs/{job}".into(), job());
    add("/jobs/{job}/results".into(), results());
    paths
}

fn limit() -> Value {
    query(
        "limit",
        "How many entries the page has at most; a larger number is taken as the greatest",
        json!({ "type": "integer", "minimum": 1, "maximum": LIMIT, "default": USUAL }),
    )
}

fn execute(asked: &dyn Registered) -> Value {
    let schema = asked.schema();
    let mut accepted = status("The job that will answer");
    accepted["headers"] = json!({ "Location": { "description": "The job", "schema": { "type": "string" } } });
    let mut answers = responses(
        answer(asked.about()),
        &["400", "404", "405", "413", "415", "500", "503"],
    );
    answers["201"] = accepted;
    let mut inputs = json!({ "type": "object", "properties": schema["properties"] });
    // An empty list is none in OpenAPI 3.0.
    if schema["required"]
        .as_array()
        .is_some_and(|required| !required.is_empty())
    {
        inputs["required"] = schema["required"].clone();
    }
    json!({
        "operationId": format!("execute-{}", asked.id()),
        ROLE: ANYONE,
        "tags": [TAG],
        "summary": asked.title(),
        "parameters": [{
            "name": "Prefer",
            "in": "header",
            "description": "`respond-async` for a job; otherwise the answer comes at once",
            "schema": { "type": "string" },
        }],
        "requestBody": { "required": true, "content": { JSON: { "schema": {
            "type": "object",
            "properties": {
                "inputs": inputs,
                "outputs": { "type": "object", "properties": { "answer": { "type": "object" } } },
                "response": { "type": "string", "enum": ["raw", "document"], "default": "raw" },
            },
        } } } },
        "responses": answers,
    })
}

fn answer(about: &str) -> Value {
    json!({
        "description": about,
        "headers": { "Content-Crs": { "description": "The CRS of the coordinates", "schema": { "type": "string" } } },
        "content": {
            GEOJSON: { "schema": { "type": "object" } },
            JSON: { "schema": { "type": "object" } },
        },
    })
}

fn status(about: &str) -> Value {
    readable(about, JSON, json!({ "$ref": "#/components/schemas/StatusInfo" }))
}

fn list_parameters() -> Vec<Value> {
    let list = |values: Value| json!({ "type": "array", "items": values });
    let seconds = json!({ "type": "number", "minimum": 0 });
    let statuses = JobStatus::ALL.map(JobStatus::as_str);
    vec![
        limit(),
        query(
            "type",
            "Only jobs of these types",
            list(json!({ "type": "string", "enum": ["process"] })),
        ),
        query(
            "processID",
            "Only jobs of these processes",
            list(json!({ "type": "string" })),
        ),
        query(
            "status",
            "Only jobs with these statuses",
            list(json!({ "type": "string", "enum": statuses })),
        ),
        query(
            "datetime",
            "Only jobs that came at this time, an instant, a day or an interval",
            json!({ "type": "string" }),
        ),
        query(
            "minDuration",
            "Only jobs that have run for at least so many seconds",
            seconds.clone(),
        ),
        query(
            "maxDuration",
            "Only jobs that have run for at most so many seconds",
            seconds,
        ),
        query(
            "before",
            "Where the page starts; links to the next page carry it",
            json!({ "type": "integer" }),
        ),
        reference("f"),
    ]
}

fn job() -> Value {
    let parameters = vec![path("job", "The job"), reference("f")];
    let mut job = get(
        "job",
        TAG,
        "How far a job has come",
        parameters,
        status("The job"),
    );
    job["delete"] = json!({
        "operationId": "dismiss",
        ROLE: ANYONE,
        "tags": [TAG],
        "summary": "Calls a job off, or removes what has come of it",
        "parameters": [path("job", "The job")],
        "responses": responses(status("The job, dismissed"), &["400", "404", "405", "500", "503"]),
    });
    job
}

fn results() -> Value {
    let about =
        "The result as it was asked for; of a job that failed, the problem that the answer would have been";
    let mut results = get(
        "results",
        TAG,
        "The result of a job",
        vec![path("job", "The job")],
        answer(about),
    );
    results["get"]["responses"]["410"] = json!({ "$ref": "#/components/responses/Problem" });
    results
}

/// The standard's statusInfo.
pub(super) fn status_info() -> Value {
    let moment = json!({ "type": "string", "format": "date-time" });
    json!({
        "type": "object",
        "required": ["jobID", "status", "type"],
        "properties": {
            "jobID": { "type": "string" },
            "type": { "type": "string", "enum": ["process"] },
            "processID": { "type": "string" },
            "status": { "type": "string", "enum": JobStatus::ALL.map(JobStatus::as_str) },
            "message": { "type": "string" },
            "progress": { "type": "integer", "minimum": 0, "maximum": 100 },
            "created": moment,
            "started": moment,
            "finished": moment,
            "updated": moment,
            "links": { "type": "array", "items": { "$ref": "#/components/schemas/Link" } },
        },
    })
}
