//! Executions and jobs of OGC API Processes, as a client sees them.

use super::{Answer, Client, Schema};
use serde_json::{Value, json};

/// Where the standard's exceptions have their names.
pub const EXCEPTIONS: &str = "http://www.opengis.net/def/exceptions/ogcapi-processes-1/1.0";
/// The header of a body of JSON.
pub const JSON: (&str, &str) = ("content-type", "application/json");
/// The header of who wants a job.
pub const ASYNC: (&str, &str) = ("prefer", "respond-async");

/// A schema of the standard.
#[must_use]
pub fn processes_schema(name: &str) -> Schema {
    Schema::of(&format!("processes-1-1.0/{name}.json"))
}

/// Executes a process with a body that fits the standard.
pub fn execute(client: &Client, process: &str, body: &Value, headers: &[(&str, &str)]) -> Answer {
    processes_schema("execute").fits(body);
    let headers = [&[JSON], headers].concat();
    let at = format!("/processes/{process}/execution");
    client.ask("POST", &at, &headers, body.to_string().as_bytes())
}

/// Where the job is that an execution has led to.
///
/// # Panics
/// When it has led to none.
#[must_use]
pub fn accepted(answer: &Answer) -> String {
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(answer.header("preference-applied"), Some("respond-async"));
    let status = answer.json();
    processes_schema("statusInfo").fits(&status);
    assert_eq!(
        (&status["status"], &status["type"]),
        (&json!("accepted"), &json!("process"))
    );
    let at = answer.header("location").expect("a job has a place").to_owned();
    let id = status["jobID"].as_str().expect("a job has a name");
    assert!(at.ends_with(&format!("/jobs/{id}")), "{at}");
    at
}

/// How far a job is.
///
/// # Panics
/// When it is not there.
#[must_use]
pub fn job_status(client: &Client, job: &str) -> Value {
    let answer = client.get(job);
    assert_eq!(answer.status, 200, "{}", answer.text());
    let status = answer.json();
    processes_schema("statusInfo").fits(&status);
    status
}
